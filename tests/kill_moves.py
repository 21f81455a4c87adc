"""Run by test_outputs_moves.py in a process of its own: kill a writing run before each of its calls to the system.

Prints one line of JSON: for each kill what lay in the folder right after it, and after the next run began.
"""

import json
import os
import signal
import sys
from pathlib import Path

from geoagro.outputs import staging

NAMES = [*(f"{k}.txt" for k in range(4)), "inner/4.txt", "inner/5.txt"]
GONE = "left/gone.txt"
CALLS = ("replace", "link", "fsync", "open", "unlink", "mkdir", "rmdir", "rename")


def killed_before_call(folder: Path, at: int) -> bool:
    """Write all names anew in a child that dies before its `at`-th call; False where it lived to the end."""
    child = os.fork()
    if child == 0:
        count = 0

        def counted(call):
            def wrapper(*args, **kwargs):
                nonlocal count
                count += 1
                if count == at:
                    os.kill(os.getpid(), signal.SIGKILL)
                return call(*args, **kwargs)

            return wrapper

        for name in CALLS:
            setattr(os, name, counted(getattr(os, name)))
        with staging.staged(folder, NAMES, gone=[GONE]) as new:
            for name in NAMES:
                (new / name).write_text("new")
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == -signal.SIGKILL


def state(folder: Path) -> str:
    texts = {(folder / n).read_text() if (folder / n).exists() else "none" for n in NAMES}
    texts.add("old" if (folder / GONE).exists() else "new")
    return texts.pop() if len(texts) == 1 else "mixed"


def main(root: Path) -> None:
    seen = []
    for at in range(1, 1000):
        folder = root / str(at)
        folder.mkdir()
        for name in (*NAMES, GONE):
            (folder / name).parent.mkdir(exist_ok=True)
            (folder / name).write_text("old")
        if not killed_before_call(folder, at):
            break
        after = state(folder)
        with staging.claimed(folder):
            seen.append((after, state(folder), sorted(p.name for p in (folder / staging.WORK).iterdir())))
    print(json.dumps(seen))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
