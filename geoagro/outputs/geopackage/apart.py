"""Write large layers by a process of its own, while this one goes on with other work.

The process gets the layers without their rows, then the rows, batch by batch, each as soon as it is there.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import IO, Any

import pyarrow as pa
from pyproj import CRS

from geoagro.errors import OutputError
from geoagro.outputs.apart import Apart
from geoagro.outputs.geopackage.blocks import PointsInBatches
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_layers_alone
from geoagro.values.results.stored_plants import InBatches

_LENGTH = struct.Struct("<q")
_NO_MORE = 0


def begin_layers(path: Path, layers: Sequence[OutputLayer], crs: CRS | None, apart: Apart) -> int:
    """Have layers that are spoken written into a new GeoPackage of their own; gives the number of the task.

    The task gives the names of the layers that it wrote: all in batches that turned out to have any.
    """
    frames: list[InBatches] = [
        layer.frame if isinstance(layer.frame, InBatches) else PointsInBatches(layer) for layer in layers
    ]

    def send(pipe: IO[bytes]) -> None:
        for frame in frames:
            for batch in frame.batches():
                _send(batch, pipe)
            pipe.write(_LENGTH.pack(_NO_MORE))

    bare = [replace(layer, frame=None) for layer in layers]
    return apart.hand(_write_what_comes, path, bare, crs, sending=send)


class _Received:
    """Rows that come from another process; they can be read once."""

    def __init__(self, pipe: IO[bytes]) -> None:
        """Read the first batch; raises OutputError where not even that comes, or the end of all."""
        self._pipe = pipe
        self.first = self._next()

    def batches(self) -> Iterator[Any]:
        """Read batch by batch; raises OutputError where the other process ended before the last."""
        batch = self.first
        while batch is not None:
            yield batch
            batch = self._next()

    def _next(self) -> Any | None:
        length = self._pipe.read(_LENGTH.size)
        if len(length) < _LENGTH.size:
            raise OutputError("rows didn't arrive: the program ended meanwhile.")
        (size,) = _LENGTH.unpack(length)
        if size == _NO_MORE:
            return None
        with pa.ipc.open_stream(self._pipe.read(size)) as reader:
            return reader.read_next_batch()


def _send(batch: Any, pipe: IO[bytes]) -> None:
    """Send a batch as a stream of its own: each batch has its own list of texts."""
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, batch.schema) as writer:
        writer.write_batch(batch)
    content = sink.getvalue()
    pipe.write(_LENGTH.pack(content.size))
    pipe.write(content)


def _write_what_comes(pipe: IO[bytes], path: Path, layers: Sequence[OutputLayer], crs: CRS | None) -> frozenset[str]:
    written = set()
    for layer in layers:
        received = _Received(pipe)
        if received.first is not None:
            write_layers_alone(path, [replace(layer, frame=received)], crs)
            written.add(layer.table)
    return frozenset(written)
