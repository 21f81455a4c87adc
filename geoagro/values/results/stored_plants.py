"""Plants of a field too large to hold at once: blocks in a temporary file, and what is counted of them."""

from __future__ import annotations

import tempfile
import weakref
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from threading import Condition, Lock
from typing import IO, Any, Protocol, runtime_checkable

import numpy as np
from pyproj import CRS

from geoagro.arrays import Floats
from geoagro.errors import OutputError
from geoagro.frames import gpd, pd
from geoagro.values.base.value import Value, crs_name
from geoagro.values.plants import PLANTS, Plants
from geoagro.values.recipe import Crop
from geoagro.values.season import SeasonRule
from geoagro.values.site import Finding
from geoagro.values.timeline import KEYS, Timeline
from geoagro.values.words import Sentence

AT_ONCE = 1_000_000
"""Up to so many plants a field is one block: about 1 GB with all that is worked out from them (our choice)."""

COUNTED = ("row", "bed", *KEYS)
"""What plants are counted by; all plants of one line of the counts are alike but for their places."""

_NEAREST_KEPT = 4096
"""Distances to neighbours kept of a block, evenly spread, for the size of marks."""


@runtime_checkable
class InBatches(Protocol):
    """Plants of one crop that come as record batches with the columns of PLANTS, texts as dictionaries."""

    def batches(self) -> Iterator[Any]:
        """Read the batches, one after another."""
        ...


BYTES_EACH = 130
"""Bytes of a plant in a block (127 measured)."""
IN_MEMORY = 4_000_000
"""So many plants' blocks stay in memory, those after them go to a file: half a gigabyte saves most fields from a slow disk (our
choice)."""


class BlockFile:
    """Blocks of plants (Arrow record batches with the columns of PLANTS): the first in memory, others in a file that goes with the process.

    Texts are kept once per block. The file lies where the system keeps temporary files (`TMPDIR`); BYTES_EACH a plant. A thread may
    read blocks while others are still put behind them (`arriving`), until `end` is called.
    """

    def __init__(self, *, in_memory: int = IN_MEMORY) -> None:
        self._room = in_memory
        self._held: list[Any] = []
        self._reading = Lock()  # a thread may read blocks while the program reads or writes others
        self._grown, self._is_whole = Condition(), False
        self._file: IO[bytes] | None = None
        self._places: list[tuple[int, int]] = []

    def append(self, batch: Any) -> None:
        """Put a block behind the others; raises OutputError where there is no room."""
        if self._file is None and batch.num_rows <= self._room:
            self._room -= batch.num_rows
            self._held.append(batch)
        else:
            self._write(batch)
        with self._grown:
            self._grown.notify_all()

    def end(self) -> None:
        """Tell whoever waits for blocks that no more will come."""
        with self._grown:
            self._is_whole = True
            self._grown.notify_all()

    def arriving(self) -> Iterator[Any]:
        """Read all blocks, waiting for those still to come."""
        number = 0
        while self._comes(number):
            yield self.batch(number)
            number += 1

    def _comes(self, number: int) -> bool:
        """Wait for a block; tells whether there is one."""
        with self._grown:
            self._grown.wait_for(lambda: self._is_whole or len(self) > number)
            return len(self) > number

    def _write(self, batch: Any) -> None:
        import pyarrow as pa  # noqa: PLC0415  # only large fields need it here

        sink = pa.BufferOutputStream()
        with pa.ipc.new_stream(sink, batch.schema) as writer:
            writer.write_batch(batch)
        content = sink.getvalue()
        try:
            with self._reading:
                file = self._opened()
                start = file.seek(0, 2)
                file.write(content)
        except OSError as error:
            raise OutputError(
                f"{tempfile.gettempdir()}: no room for the blocks of a large field's plants ({error.strerror}). Make room there, "
                "or name a folder on another disk by the environment variable TMPDIR."
            ) from error
        self._places.append((start, content.size))

    def _opened(self) -> IO[bytes]:
        if self._file is None:
            self._file = tempfile.TemporaryFile(prefix="geoagro_plants_")  # noqa: SIM115  # closed with the value
            weakref.finalize(self, self._file.close)
        return self._file

    def __len__(self) -> int:
        return len(self._held) + len(self._places)

    def batch(self, number: int) -> Any:
        """Read a block, counted from 0."""
        import pyarrow as pa  # noqa: PLC0415

        if number < len(self._held):
            return self._held[number]
        start, size = self._places[number - len(self._held)]
        with self._reading:
            file = self._opened()
            file.seek(start)
            content = file.read(size)
        with pa.ipc.open_stream(pa.py_buffer(content)) as reader:
            return reader.read_next_batch()

    def batches(self) -> Iterator[Any]:
        """Read all blocks, one after another."""
        return (self.batch(number) for number in range(len(self)))


@dataclass(frozen=True, eq=False, repr=False)
class StoredPlants(Value):
    """Layer PLANTS in blocks, with the same questions answered as by `Plants`.

    Attributes
    ----------
    crs
        Working CRS.
    file
        The blocks; each holds whole beds, in order of plant number where the field was laid out in this run.
    counts
        Columns COUNTED and `plants`: how many are alike.
    nearest
        By crop, distances to the nearest neighbour of plants spread evenly over the field, metres.
    bounds
        By crop: west, south, east, north.
    about
        By crop: whether any plant faces a direction, and the stratum of the first.
    findings
        As of `Plants`.
    """

    crs: CRS | None
    file: BlockFile
    counts: pd.DataFrame
    nearest: Mapping[str, Floats]
    bounds: Mapping[str, Floats]
    about: Mapping[str, tuple[bool, str]]
    findings: tuple[Finding, ...] = ()

    @property
    def count(self) -> int:
        """How many plants there are."""
        return int(self.counts["plants"].sum())

    @property
    def crop_count(self) -> int:
        """How many crops there are."""
        return int(self.counts["crop"].nunique())

    @property
    def frame(self) -> gpd.GeoDataFrame:
        """All plants in one frame, for those who have the memory (700 bytes a plant); nothing in a layout asks for it."""
        return self._frame_of(self.file.batches())

    def blocks(self) -> Iterator[gpd.GeoDataFrame]:
        """Frames of layer PLANTS, a block of beds after another."""
        return (self._frame_of([batch]) for batch in self.file.batches())

    def tables(self, columns: Iterable[str]) -> Iterator[pd.DataFrame]:
        """Give some columns, a block after another; texts as categories."""
        names = list(columns)
        return (batch.select(names).to_pandas() for batch in self.file.batches())

    def whole(self) -> Plants:
        """Give all plants as `Plants`, for those who have the memory (see `frame`)."""
        return Plants(self.frame, self.findings)

    def spread(self, most: int) -> tuple[Plants, str]:
        """Give whole blocks spread evenly over the field, with at most about so many plants, and tell in words which they are."""
        every = max(1, -(-self.count // max(most, 1)))
        numbers = range(every // 2, len(self.file), every) if every <= len(self.file) else range(1)
        frame = self._frame_of(self.file.batch(number) for number in numbers)
        rows = frame["row"].nunique()
        told = Sentence(
            "{n} of {all} plants, on {rows} rows in {runs} runs over the field",
            n=len(frame), all=self.count, rows=rows, runs=len(numbers),
        )  # fmt: skip
        return Plants(frame, self.findings), told

    def of_beds(self, beds: Iterable[str]) -> pd.DataFrame:
        """Table of the plants in some beds, texts as categories in order; no points, which take longer than all else."""
        import pyarrow as pa  # noqa: PLC0415

        wanted = set(beds)

        def mine(batch: Any) -> Any:
            names = batch["bed"]  # a dictionary: few names are compared, not every plant's
            return batch.filter(pa.array([name in wanted for name in names.dictionary.to_pylist()]).take(names.indices))

        tables = [mine(batch).to_pandas() for batch in self.file.batches()]
        if not tables:
            return pd.DataFrame(columns=PLANTS.columns)
        return pd.DataFrame({name: _one_behind_the_other([t[name] for t in tables]) for name in PLANTS.columns})

    def per_crop(self) -> pd.Series:
        """Count plants by crop, in order of code."""
        return _sums(self.counts, ["crop"])

    def per_row_and_crop(self) -> pd.DataFrame:
        """Columns row, crop, plants; in that order."""
        return _sums(self.counts, ["row", "crop"]).reset_index(name="plants")

    def timeline(
        self,
        crops: Mapping[str, Crop] | None = None,
        season: SeasonRule | None = None,
        *,
        start: date | None = None,
    ) -> Timeline:
        """Tell what stands when; `kind` goes by lines of `counts`."""
        return Timeline.of(self.counts, crops, season, start=start, weights="plants")

    def nearest_by_crop(self) -> Mapping[str, Floats]:
        """Distances to the nearest neighbour by crop, metres, of plants spread over the field."""
        return self.nearest

    def facing_and_stratum(self, crop: str) -> tuple[bool, str]:
        """Tell whether any plant of a crop faces a direction, and the stratum of its first."""
        return self.about[crop]

    def by_crop(self) -> dict[str, StoredCrop]:
        """Plants of each crop, in order of crop code."""
        return {str(code): StoredCrop(self, str(code), int(count)) for code, count in self.per_crop().items()}

    def _frame_of(self, batches: Iterable[Any]) -> gpd.GeoDataFrame:
        tables = [batch.to_pandas() for batch in batches if batch.num_rows]
        if not tables:
            return PLANTS.empty(self.crs)
        columns = {
            f.name: pd.concat([pd.Series(table[f.name].astype("str") if f.kind == "text" else table[f.name]) for table in tables],
            ignore_index=True).array
            for f in PLANTS.fields
        }  # fmt: skip
        x, y = (np.asarray(columns[name], dtype=float) for name in ("x", "y"))
        return PLANTS.frame(columns, geometry=gpd.points_from_xy(x, y), crs=self.crs)

    def in_short(self) -> dict[str, str]:
        """Give the number of plants by crop."""
        return {
            "plants": f"{self.count:,} in {len(self.file)} blocks",
            "crops": ", ".join(f"{code} {n:,}" for code, n in self.per_crop().items()),
            "crs": crs_name(self.crs),
            "findings": f"{len(self.findings):,}",
        }


def _one_behind_the_other(columns: list[pd.Series]) -> Any:
    """Join the parts of a column; texts are categories, which are joined and put in order."""
    if isinstance(columns[0].dtype, pd.CategoricalDtype):
        return pd.api.types.union_categoricals(columns, sort_categories=True)
    return np.concatenate(columns)


@dataclass(frozen=True, eq=False)
class StoredCrop:
    """Plants of one crop in the blocks of a field."""

    plants: StoredPlants = field(repr=False)
    crop: str
    count: int

    def __len__(self) -> int:
        return self.count

    @property
    def total_bounds(self) -> Floats:
        """West, south, east, north."""
        return self.plants.bounds[self.crop]

    def batches(self) -> Iterator[Any]:
        """Record batches with the columns of PLANTS, texts as dictionaries, in order of the blocks."""
        return _of_crop(self.plants.file.batches(), self.crop)


@dataclass(frozen=True, eq=False)
class PlantsToCome:
    """Plants of a large field from when the first are placed.

    Attributes
    ----------
    crs
        Working CRS.
    file
        The blocks, put one behind another until all plants are placed.
    crops
        Codes of the crops, those of which most plants are expected first; of one there may be none in the end.
    """

    crs: CRS | None
    file: BlockFile
    crops: tuple[str, ...]

    def by_crop(self) -> dict[str, CropToCome]:
        """Plants of each crop."""
        return {code: CropToCome(self.file, code) for code in self.crops}


@dataclass(frozen=True, eq=False)
class CropToCome:
    """Plants of one crop in blocks of which some may still be to come."""

    file: BlockFile
    crop: str

    def batches(self) -> Iterator[Any]:
        """Record batches with the columns of PLANTS, texts as dictionaries, each as soon as it is there."""
        return _of_crop(self.file.arriving(), self.crop)


def _of_crop(batches: Iterable[Any], crop: str) -> Iterator[Any]:
    """Plants of one crop in some blocks."""
    import pyarrow.compute as pc  # noqa: PLC0415

    for batch in batches:
        crops = batch["crop"]
        codes = crops.dictionary.to_pylist()
        if crop in codes:
            found = batch.filter(pc.equal(crops.indices, codes.index(crop)))
            if found.num_rows:
                yield found


def _sums(counts: pd.DataFrame, by: list[str]) -> pd.Series:
    sums: pd.Series = counts.groupby(by, sort=True, observed=True)["plants"].sum()
    return sums


class Counting:
    """Adds up blocks of plants while they are stored."""

    def __init__(self, crs: CRS | None) -> None:
        self.crs, self.file = crs, BlockFile()
        self._counts: list[pd.DataFrame] = []
        self._nearest: dict[str, list[Floats]] = {}
        self._bounds: dict[str, Floats] = {}
        self._about: dict[str, tuple[bool, str]] = {}

    def add(self, table: pd.DataFrame) -> None:
        """Store a block: a table with the columns of PLANTS, texts as categories."""
        import pyarrow as pa  # noqa: PLC0415

        if not len(table):
            return
        self.file.append(pa.RecordBatch.from_pandas(table[PLANTS.columns], preserve_index=False))
        by = table.groupby(list(COUNTED), sort=False, observed=True).size()
        self._counts.append(by.reset_index(name="plants").astype({n: "str" for n in COUNTED if _is_text(n)}))
        for code, place in table.groupby("crop", observed=True, sort=True).indices.items():
            self._crop(str(code), table, place)

    def _crop(self, code: str, table: pd.DataFrame, place: Any) -> None:
        x, y = (table[name].to_numpy()[place] for name in ("x", "y"))
        low, high = np.array([x.min(), y.min()]), np.array([x.max(), y.max()])
        if code in self._bounds:
            low, high = np.minimum(low, self._bounds[code][:2]), np.maximum(high, self._bounds[code][2:])
        self._bounds[code] = np.concatenate([low, high])
        every = -(-len(place) // _NEAREST_KEPT)
        self._nearest.setdefault(code, []).append(table["nearest_m"].to_numpy()[place[::every]])
        faces = bool(np.isfinite(table["bearing_deg"].to_numpy()[place]).any())
        before, stratum = self._about.get(code, (False, str(table["stratum"].iloc[place[0]])))
        self._about[code] = (before or faces, stratum)

    def plants(self, findings: tuple[Finding, ...] = ()) -> StoredPlants:
        """Give all that was stored."""
        counts = pd.concat(self._counts, ignore_index=True)
        counts = counts.groupby(list(COUNTED), sort=False, observed=True)["plants"].sum().reset_index()
        nearest = {code: np.concatenate(parts) for code, parts in self._nearest.items()}
        return StoredPlants(self.crs, self.file, counts, nearest, self._bounds, self._about, findings)


def _is_text(name: str) -> bool:
    return next(f.kind for f in PLANTS.fields if f.name == name) == "text"
