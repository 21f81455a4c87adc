"""Write one large layer by a process of its own, while this one goes on with other work.

A thread would not do: the library that writes holds the interpreter while it writes. The process gets what it needs through
its standard input: the layer without its rows, then the rows, batch by batch.
"""

from __future__ import annotations

import os
import pickle
import struct
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any

import pyarrow as pa
from pyproj import CRS

from geoagro.errors import OutputError
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_layer_alone
from geoagro.outputs.staging import unwritten
from geoagro.values.results.stored_plants import InBatches

_LENGTH = struct.Struct("<q")
_PACKAGE = Path(__file__).parents[3]


class WrittenApart:
    """A layer that another process is writing into a new GeoPackage of its own.

    Attributes
    ----------
    path
        The GeoPackage.
    table
        The layer's name in it.
    """

    def __init__(self, path: Path, layer: OutputLayer, crs: CRS | None) -> None:
        """Begin; `layer.frame` comes in batches, and `layer` is spoken."""
        self.path, self.table = path, layer.table
        self._told: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115  # closed by `stop`
        places = [str(_PACKAGE), *filter(None, [os.environ.get("PYTHONPATH")])]
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", __name__],
            stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=self._told,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(places)},
        )  # fmt: skip
        self._failure: Exception | None = None
        work = (path, replace(layer, frame=None), crs, len(layer.frame))
        self._feeder = threading.Thread(target=self._feed, args=(work, layer.frame), daemon=True)
        self._feeder.start()

    def _feed(self, work: tuple[Any, ...], rows: InBatches) -> None:
        pipe = self._process.stdin
        assert pipe is not None  # asked for above
        try:
            with pipe:
                pickle.dump(work, pipe)
                for batch in rows.batches():
                    _send(batch, pipe)
        except BrokenPipeError:
            pass  # the process ended before its time and says why
        except Exception as error:  # told to whoever waits
            self._failure = error
            self._process.kill()

    def finish(self) -> None:
        """Wait until the layer is written; raises OutputError where it can't be."""
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
    path, layer, crs, count = pickle.load(pipe)  # from the process that started this one
    write_layer_alone(path, replace(layer, frame=_Received(pipe, count)), crs)


if __name__ == "__main__":
    _write_what_comes(sys.stdin.buffer)
