"""How much memory the program may still take."""

from __future__ import annotations

import os
from pathlib import Path

from geoagro.errors import MemoryShortError

LEAST_LIMIT = 1_500_000_000
"""Address space within which the libraries load and a small field can be laid out. With less, some of them neither load nor
say why, and one waits for ever. Measured: 1.3 GB on Linux (x86-64), one thread for linear algebra."""

ONE_THREAD = "OPENBLAS_NUM_THREADS"

_CGROUPS = (
    ("/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory.current"),
    ("/sys/fs/cgroup/memory/memory.limit_in_bytes", "/sys/fs/cgroup/memory/memory.usage_in_bytes"),
)


def free_bytes() -> float:
    """Memory that is free for this process: of the machine, of its container, of its own limit; endless if unknown."""
    found = [_of_machine(), _of_limit(), *(_of_container(most, used) for most, used in _CGROUPS)]
    return min((value for value in found if value is not None), default=float("inf"))


def refuse_little_memory() -> None:
    """Raise MemoryShortError where the limit for this process doesn't even hold the libraries; to be asked before they load.

    Under any limit linear algebra gets one thread, since each one takes address space for itself.
    """
    most = _limit()
    if most is None:
        return
    os.environ.setdefault(ONE_THREAD, "1")
    if most < LEAST_LIMIT:
        raise MemoryShortError(
            f"the limit for this program's memory is {most / 1e9:.2f} GB (ulimit -v), and its libraries alone need "
            f"{LEAST_LIMIT / 1e9:.1f} GB of address space. Raise the limit, or take it away."
        )


def _limit() -> float | None:
    try:
        import resource  # noqa: PLC0415  # not there on every system
    except ImportError:
        return None
    most, _ = resource.getrlimit(resource.RLIMIT_AS)
    return None if most == resource.RLIM_INFINITY else float(most)


def _of_machine() -> float | None:
    try:
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
        known = {line.split(":")[0]: float(line.split()[1]) * 1024 for line in lines if line.endswith("kB")}
        return known["MemAvailable"] + known.get("SwapFree", 0.0)
    except (OSError, KeyError, ValueError, IndexError):
        return None


def _of_limit() -> float | None:
    """Address space that a limit set for the process leaves."""
    most = _limit()
    try:
        taken = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError, IndexError):
        return most
    return None if most is None else max(most - taken, 0.0)


def _of_container(most: str, used: str) -> float | None:
    try:
        limit = Path(most).read_text(encoding="ascii").strip()
        return None if limit == "max" else max(float(limit) - float(Path(used).read_text(encoding="ascii")), 0.0)
    except (OSError, ValueError):
        return None
