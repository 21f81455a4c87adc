"""How much memory the program may still take."""

from __future__ import annotations

import os
from pathlib import Path

_CGROUPS = (
    ("/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory.current"),
    ("/sys/fs/cgroup/memory/memory.limit_in_bytes", "/sys/fs/cgroup/memory/memory.usage_in_bytes"),
)


def free_bytes() -> float:
    """Memory that is free for this process: of the machine, of its container, of its own limit; endless if unknown."""
    found = [_of_machine(), _of_limit(), *(_of_container(most, used) for most, used in _CGROUPS)]
    return min((value for value in found if value is not None), default=float("inf"))


def _of_machine() -> float | None:
    try:
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
        known = {line.split(":")[0]: float(line.split()[1]) * 1024 for line in lines if line.endswith("kB")}
        return known["MemAvailable"] + known.get("SwapFree", 0.0)
    except (OSError, KeyError, ValueError, IndexError):
        return None


def _of_limit() -> float | None:
    """Address space that a limit set for the process leaves."""
    try:
        import resource  # noqa: PLC0415  # not there on every system

        most, _ = resource.getrlimit(resource.RLIMIT_AS)
        if most == resource.RLIM_INFINITY:
            return None
        taken = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * os.sysconf("SC_PAGE_SIZE")
        return max(most - taken, 0.0)
    except (ImportError, OSError, ValueError, IndexError):
        return None


def _of_container(most: str, used: str) -> float | None:
    try:
        limit = Path(most).read_text(encoding="ascii").strip()
        return None if limit == "max" else max(float(limit) - float(Path(used).read_text(encoding="ascii")), 0.0)
    except (OSError, ValueError):
        return None
