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
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import IO, Any

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
            [sys.executable, "-P", "-c", f"from {__name__} import work_off; work_off()"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._told,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(places)},
        )  # fmt: skip
        self._failure: Exception | None = None
        self._handed = 0
        self._answers: list[Any] = []
        self._tasks: SimpleQueue[tuple[Any, Sending | None] | None] = SimpleQueue()
        self._feeder = threading.Thread(target=self._feed, daemon=True)
        self._feeder.start()

    @staticmethod
    def can_start() -> bool:
        """Tell whether this program knows how to start another like it; one that is built into others may not."""
        return bool(sys.executable)

    def hand(self, task: Callable[..., Any], *args: Any, sending: Sending | None = None) -> int:
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

    def wait(self, number: int, path: Path) -> Any:
        """Wait until a task, which makes or reads the file `path`, is done, and give what it gives; raises OutputError where it can't be."""
        answers = self.process.stdout
        assert answers is not None  # asked for above
        while len(self._answers) < number:
            try:
                self._answers.append(pickle.load(answers))  # from the process that this one started
            except (EOFError, pickle.UnpicklingError):
                raise self._end(path) from None
        answer = self._answers[number - 1]
        if isinstance(answer, _Failed):
            raise _undone(path, answer.why)
        return answer

    def _end(self, path: Path) -> Exception:
        """Tell why the process ended before its time."""
        code = self.process.wait()
        self._tasks.put(None)
        self._feeder.join()
        if self._failure is not None:
            return self._failure
        self._told.seek(0)
        told = self._told.read().decode(errors="replace").strip().splitlines()
        return _undone(path, told[-1] if told else f"the process that wrote it ended with {code}")

    def stop(self) -> None:
        """End the process, whether it is done or not."""
        self.process.kill()
        self.process.wait()
        self._tasks.put(None)
        self._feeder.join()
        for stream in (self._told, self.process.stdout):
            if stream is not None:
                stream.close()


def _undone(path: Path, why: str) -> OutputError:
    return OutputError(unwritten(Path(path.name), RuntimeError(why), room=path.parent))


@dataclass(frozen=True)
class _Failed:
    """Why a task couldn't be done."""

    why: str


def work_off() -> None:
    """Do task after task that comes through standard input, until no more can come, and answer with what each gives.

    A task that fails is answered with why. One that is sent more ends the process then: what it didn't read is in the pipe.
    """
    pipe: Any = sys.stdin.buffer
    with os.fdopen(os.dup(1), "wb", buffering=0) as answers:
        os.dup2(2, 1)  # what libraries say isn't taken for an answer
        while pipe.peek(1):
            task, args, is_sent_more = pickle.load(pipe)  # from the process that started this one
            try:
                answer = task(*([pipe] if is_sent_more else []), *args)
            except Exception as error:
                if is_sent_more:
                    raise
                answer = _Failed(traceback.format_exception_only(error)[-1].strip())
            answers.write(pickle.dumps(answer))
