"""Work for a process of its own, one task after another, while this one goes on.

A thread would not do: the libraries that write and draw hold the interpreter. Tasks and what they need go through the process's
standard input, so it starts anew wherever this one runs, whatever its main program is.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable
from pathlib import Path
from queue import SimpleQueue
from typing import IO, Any, NoReturn

from geoagro.errors import OutputError
from geoagro.outputs.staging import unwritten

_PACKAGE = Path(__file__).parents[2]

Sending = Callable[[IO[bytes]], None]
"""Sends what a task reads beside its arguments."""


class Apart:
    """A process that works through what it is handed; to be ended by `stop`."""

    def __init__(self) -> None:
        self._told: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115  # closed by `stop`
        places = [str(_PACKAGE), *filter(None, [os.environ.get("PYTHONPATH")])]
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-m", __name__],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._told,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(places)},
        )  # fmt: skip
        self._failure: Exception | None = None
        self._handed = self._done = 0
        self._tasks: SimpleQueue[tuple[Any, Sending | None] | None] = SimpleQueue()
        self._feeder = threading.Thread(target=self._feed, daemon=True)
        self._feeder.start()

    @staticmethod
    def can_start() -> bool:
        """Tell whether this program knows how to start another like it; one that is built into others may not."""
        return bool(sys.executable)

    def hand(self, task: Callable[..., None], *args: Any, sending: Sending | None = None) -> int:
        """Hand over a task, a function of a module that is called with `args`; gives its number, to be waited for.

        With `sending`, its first argument is the pipe through which that sends the rest.
        """
        self._tasks.put(((task, args, sending is not None), sending))
        self._handed += 1
        return self._handed

    def _feed(self) -> None:
        pipe = self.process.stdin
        assert pipe is not None  # asked for above
        try:
            with pipe:
                while (handed := self._tasks.get()) is not None:
                    work, sending = handed
                    pickle.dump(work, pipe)
                    if sending is not None:
                        sending(pipe)
                    pipe.flush()
        except BrokenPipeError:
            pass  # the process ended before its time and says why
        except Exception as error:  # told to whoever waits
            self._failure = error
            self.process.kill()

    def wait(self, number: int, path: Path) -> None:
        """Wait until a task, which makes the file `path`, is done; raises OutputError where it can't be."""
        answers = self.process.stdout
        assert answers is not None  # asked for above
        while self._done < number:
            if not answers.read(1):
                self._raise(path)
            self._done += 1

    def _raise(self, path: Path) -> NoReturn:
        code = self.process.wait()
        self._tasks.put(None)
        self._feeder.join()
        if self._failure is not None:
            raise self._failure
        self._told.seek(0)
        told = self._told.read().decode(errors="replace").strip().splitlines()
        why = told[-1] if told else f"the process that wrote it ended with {code}"
        raise OutputError(unwritten(Path(path.name), RuntimeError(why), room=path.parent))

    def stop(self) -> None:
        """End the process, whether it is done or not."""
        self.process.kill()
        self.process.wait()
        self._tasks.put(None)
        self._feeder.join()
        for stream in (self._told, self.process.stdout):
            if stream is not None:
                stream.close()


def _work_off(pipe: Any, answers: IO[bytes]) -> None:
    """Do task after task until no more can come, and answer with a byte each."""
    while pipe.peek(1):
        task, args, is_sent_more = pickle.load(pipe)  # from the process that started this one
        task(*([pipe] if is_sent_more else []), *args)
        answers.write(b".")


if __name__ == "__main__":
    with os.fdopen(os.dup(1), "wb", buffering=0) as own:
        os.dup2(2, 1)  # what libraries say isn't taken for an answer
        _work_off(sys.stdin.buffer, own)
