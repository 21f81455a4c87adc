"""Write large layers by a process of its own, while this one goes on with other work.

The process gets the layers without their rows, then the rows, batch by batch.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
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


def begin_layers(path: Path, layers: Sequence[OutputLayer], crs: CRS | None, apart: Apart) -> int:
    """Have layers that are spoken written into a new GeoPackage of their own; gives the number of the task."""
    frames: list[InBatches] = [
        layer.frame if isinstance(layer.frame, InBatches) else PointsInBatches(layer) for layer in layers
    ]

    def send(pipe: IO[bytes]) -> None:
        for frame in frames:
            for batch in frame.batches():
                _send(batch, pipe)

    bare = [(replace(layer, frame=None), len(layer.frame)) for layer in layers]
    return apart.hand(_write_what_comes, path, bare, crs, sending=send)


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


def _write_what_comes(pipe: IO[bytes], path: Path, layers: Sequence[tuple[OutputLayer, int]], crs: CRS | None) -> None:
    write_layers_alone(path, [replace(layer, frame=_Received(pipe, count)) for layer, count in layers], crs)
