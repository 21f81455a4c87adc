"""Run by whole_run.py: a small process that moves results into place in children killed before one of their calls.

A large process (libraries, field and layout in memory) takes longer to fork than the moves take. Each line read is a
JSON list: work folder, result folder, names, names that go, number of the call before which the child dies. Each line
printed says whether it died, or lived to the end.
"""

import itertools
import json
import os
import signal
import sys
from pathlib import Path

from geoagro.outputs import moving

CALLS = ("replace", "link", "fsync", "open", "unlink", "mkdir", "rmdir", "rename")


def died(work: Path, folder: Path, names: list[str], gone: list[str], at: int) -> bool:
    """Move in a child that is killed before its `at`-th call; False where it made fewer."""
    child = os.fork()
    if child == 0:
        calls = itertools.count(1)
        for name in CALLS:
            setattr(os, name, counted(getattr(os, name), calls, at))
        moving.move_all(work, folder, names, gone)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == -signal.SIGKILL


def counted(call, calls, at):
    def wrapper(*args, **kwargs):
        if next(calls) == at:
            os.kill(os.getpid(), signal.SIGKILL)
        return call(*args, **kwargs)

    return wrapper


def main() -> None:
    for line in sys.stdin:
        work, folder, names, gone, at = json.loads(line)
        print(json.dumps(died(Path(work), Path(folder), names, gone, at)), flush=True)


if __name__ == "__main__":
    main()
