"""Write large layers by a process of its own, while this one goes on with other work.

A thread would not do: the library that writes holds the interpreter while it writes. The process gets what it needs through
its standard input: the layers without their rows, then the rows, batch by batch.
"""

from __future__ import annotations

import os
import pickle
import struct
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

import pyarrow as pa
from pyproj import CRS

from geoagro.errors import OutputError
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_layers_alone
from geoagro.outputs.staging import unwritten
from geoagro.values.results.stored_plants import InBatches

_LENGTH = struct.Struct("<q")
_PACKAGE = Path(__file__).parents[3]


class WrittenApart:
    """Layers that another process is writing into a new GeoPackage of its own.

    Attributes
    ----------
    path
        The GeoPackage.
    tables
        The layers' names in it.
    """

    def __init__(self, path: Path, layers: Sequence[OutputLayer], crs: CRS | None) -> None:
        """Begin; the layers' frames come in batches, and the layers are spoken."""
        self.path, self.tables = path, frozenset(layer.table for layer in layers)
        self._told: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115  # closed by `stop`
        places = [str(_PACKAGE), *filter(None, [os.environ.get("PYTHONPATH")])]
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", __name__],
            stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=self._told,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(places)},
        )  # fmt: skip
        self._failure: Exception | None = None
        frames: list[InBatches] = [layer.frame for layer in layers]
        work = (path, [(replace(layer, frame=None), len(layer.frame)) for layer in layers], crs)
        self._feeder = threading.Thread(target=self._feed, args=(work, frames), daemon=True)
        self._feeder.start()

    def _feed(self, work: tuple[Any, ...], frames: Sequence[InBatches]) -> None:
        pipe = self._process.stdin
        assert pipe is not None  # asked for above
        try:
            with pipe:
                pickle.dump(work, pipe)
                for frame in frames:
                    for batch in frame.batches():
                        _send(batch, pipe)
        except BrokenPipeError:
            pass  # the process ended before its time and says why
        except Exception as error:  # told to whoever waits
            self._failure = error
            self._process.kill()

    def finish(self) -> None:
        """Wait until the layers are written; raises OutputError where they can't be."""
        code = self._process.wait()
        self._feeder.join()
        if self._failure is not None:
            raise self._failure
        if code:
            self._told.seek(0)
            told = self._told.read().decode(errors="replace").strip().splitlines()
            why = told[-1] if told else f"the process that wrote it ended with {code}"
            raise OutputError(unwritten(Path(self.path.name), RuntimeError(why), room=self.path.parent))

    def stop(self) -> None:
        """End the process, whether it is done or not."""
        self._process.kill()
        self._process.wait()
        self._feeder.join()
        self._told.close()


@dataclass(frozen=True, eq=False)
class _Received:
    """Rows that come from another process; they can be read once."""

    pipe: IO[bytes]
    count: int

    def __len__(self) -> int:
        return self.count

    def batches(self) -> Iterator[Any]:
        """Read batch by batch; raises OutputError where the other process ended before the last."""
        missing = self.count
        while missing > 0:
            length = self.pipe.read(_LENGTH.size)
            if len(length) < _LENGTH.size:
                raise OutputError(f"{missing} rows didn't arrive: the program ended meanwhile.")
            with pa.ipc.open_stream(self.pipe.read(*_LENGTH.unpack(length))) as reader:
                batch = reader.read_next_batch()
            missing -= batch.num_rows
            yield batch


def _send(batch: Any, pipe: IO[bytes]) -> None:
    """Send a batch as a stream of its own: each batch has its own list of texts."""
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, batch.schema) as writer:
        writer.write_batch(batch)
    content = sink.getvalue()
    pipe.write(_LENGTH.pack(content.size))
    pipe.write(content)


def _write_what_comes(pipe: IO[bytes]) -> None:
    path, layers, crs = pickle.load(pipe)  # from the process that started this one
    write_layers_alone(path, [replace(layer, frame=_Received(pipe, count)) for layer, count in layers], crs)


if __name__ == "__main__":
    _write_what_comes(sys.stdin.buffer)
