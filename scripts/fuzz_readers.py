"""Feed the readers damaged files under a coverage-guided fuzzer, and keep every input that isn't told in words.

usage: python scripts/fuzz_readers.py {design,vector,raster,survey,layout} FOLDER [--seconds 3600]

Needs the package `atheris` (extra `fuzz`). FOLDER takes the corpus (kept between runs) and what was found: `find-*`, one
per place in the program, with its traceback beside it; `timeout-*` took over 30 s. Seeds are small sound files that the
script writes itself. GeoPackages are also damaged value by value, since damaged bytes seldom get past the database. A
find is any exception but the package's own and shortage of memory. Layouts are read as a forger would have them read: seals
are taken as whole, so that what lies behind them is reached.
"""

from __future__ import annotations

import argparse
import atexit
import contextlib
import hashlib
import shutil
import sqlite3
import sys
import tempfile
import traceback
import warnings
from collections.abc import Callable
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["geoagro", "ruamel.yaml"]):
    import geopandas as gpd
    import numpy as np
    import rasterio
    from affine import Affine
    from shapely import Point, box

    from geoagro import pipeline
    from geoagro.errors import GeoagroError
    from geoagro.inputs.design.file import read_design
    from geoagro.inputs.laid import sealed
    from geoagro.inputs.laid.laid_out import read_laid_out, read_survey_counts
    from geoagro.inputs.laid.layout_file import read_layout_file
    from geoagro.inputs.raster.ground_source import read_ground_source
    from geoagro.inputs.site import read_site
    from geoagro.inputs.survey.file import read_survey
    from geoagro.outputs.layout.files import write_layout
    from geoagro.values.design import Design
    from geoagro.values.results.seal import Edits

EAST, NORTH, CRS = 500_000.0, 5_000_000.0, "EPSG:32633"
FIELD = box(EAST, NORTH, EAST + 40, NORTH + 36)
MEMORY = Path("/dev/shm")
"""A disk in memory, where a file is written and read many times a second."""
ENDINGS = {"design": (".yaml", ".toml"), "vector": (".geojson", ".kml", ".gpx", ".csv", ".gml", ".dxf", ".gpkg", ".zip", ".shp"),
           "raster": (".tif", ".asc", ".vrt"), "survey": (".csv", ".gpx", ".geojson", ".txt"), "layout": (".gpkg",)}  # fmt: skip


def sound(folder: Path) -> Design:
    """Write a sound field and its heights; the design on them."""
    gpd.GeoDataFrame(geometry=[FIELD], crs=CRS).to_file(folder / "field.gpkg")
    heights = np.repeat(200 + 0.2 * np.arange(80.0)[::-1, None], 90, axis=1)
    with rasterio.open(
        folder / "dem.tif", "w", driver="GTiff", dtype="float64", count=1, height=80, width=90, crs=CRS,
        transform=Affine(2, 0, EAST - 80, 0, -2, NORTH + 100),
    ) as file:  # fmt: skip
        file.write(heights, 1)
    return design_with(folder)


def design_with(folder: Path, **inputs: object) -> Design:
    """Build the design with some inputs replaced."""
    given = {"boundary": {"file": "field.gpkg"}, "elevation": {"file": "dem.tif"}} | inputs
    return Design.model_validate({"name": "fuzz", "inputs": given, "folder": folder})


def seeds(kind: str, folder: Path) -> list[bytes]:
    """Small sound files of each kind, the number of the ending in front."""
    found = [f"{EAST},{NORTH}\nx,y\n1,{EAST},{NORTH},200,planted\nname,x,y\na,{EAST + 5},{NORTH + 5}\n".encode()]
    if kind == "design":
        found = [b"name: a\ninputs: {boundary: {file: b}, elevation: {file: e}}\nplantings:\n  - {crop: apple, bed: tree}\n",
                 b'name = "a"\n[inputs]\nboundary = {file = "b"}\nelevation = {file = "e"}\n']  # fmt: skip
    elif kind == "raster":
        found = [
            (folder / "dem.tif").read_bytes(),
            b"ncols 4\nnrows 2\nxllcorner 500000\nyllcorner 5000000\ncellsize 20\n1 2 3 4\n2 3 4 5\n",
        ]
    elif kind == "layout":
        found = [b"0123456789abcdef" * 4, *(bytes([k] * 40) for k in range(1, 250, 9))]
    else:
        frame = gpd.GeoDataFrame(
            {"name": ["a"]}, geometry=[FIELD if kind == "vector" else Point(EAST + 5, NORTH + 5)], crs=CRS
        )
        for number, ending in enumerate(ENDINGS[kind]):
            with contextlib.suppress(Exception):
                frame.to_crs(4326).to_file(folder / f"seed{ending}")
                found.append(bytes([number]) + (folder / f"seed{ending}").read_bytes())
        return found
    return [bytes([k % len(ENDINGS[kind])]) + text for k, text in enumerate(found)]


def reader(kind: str, folder: Path, design: Design) -> Callable[[Path], object]:
    """Give what reads one file of a kind, as a command would."""
    site = read_site(design)
    if kind == "design":
        return read_design
    if kind == "vector":
        return lambda path: read_site(design_with(folder, boundary={"file": path.name, "crs": None}))
    if kind == "raster":
        return lambda path: read_ground_source(design_with(folder, elevation={"file": path.name}), site)
    if kind == "survey":
        return lambda path: read_survey(path, site, what="plants")
    sealed.edits = lambda _seal, _frame: Edits()
    return lambda path: read_all(path, design)


def read_all(path: Path, design: Design) -> None:
    """Read all that a report reads of a layout."""
    read_survey_counts(path.parent)
    laid = read_layout_file(path)
    laid.latitude_deg()
    read_laid_out(laid, {}, design=design)


def damage(path: Path, data: bytes) -> None:
    """Put other values into some cells of a GeoPackage's tables; which and what, the fuzzer says."""
    given = atheris.FuzzedDataProvider(data)
    with contextlib.closing(sqlite3.connect(path)) as file, file:
        file.execute("pragma synchronous = off")
        tables = [name for (name,) in file.execute("select name from sqlite_master where type = 'table' order by name")]
        for (trigger,) in list(file.execute("select name from sqlite_master where type = 'trigger'")):
            file.execute(f'drop trigger "{trigger}"')
        for _ in range(given.ConsumeIntInRange(1, 3)):
            table = tables[given.ConsumeIntInRange(0, len(tables) - 1)]
            columns = [row[1] for row in file.execute(f'pragma table_info("{table}")')]
            column = columns[given.ConsumeIntInRange(0, len(columns) - 1)]
            where = "" if given.ConsumeBool() else f" where rowid = {given.ConsumeIntInRange(1, 20)}"
            with contextlib.suppress(sqlite3.Error):
                file.execute(f'update "{table}" set "{column}" = ?{where}', (value(given),))


def value(given: atheris.FuzzedDataProvider) -> object:
    """Nothing, a number, a text, bytes, or bytes that begin like a geometry."""
    kinds: list[Callable[[], object]] = [
        lambda: None,
        lambda: given.ConsumeInt(8),
        given.ConsumeFloat,
        lambda: given.ConsumeUnicodeNoSurrogates(40),
        lambda: given.ConsumeBytes(60),
        lambda: b"GP\0\1" + (32633).to_bytes(4, "little") + b"\1" + given.ConsumeBytes(60),
    ]
    return kinds[given.ConsumeIntInRange(0, len(kinds) - 1)]()


class Finds:
    """Keeps one input per place in the program that raised what nobody told."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.places: set[tuple[str, ...]] = set()

    def keep(self, data: bytes, error: BaseException) -> None:
        """Write the input and its traceback, unless the place is known."""
        frames = [f"{Path(f.filename).name}:{f.name}" for f in traceback.extract_tb(error.__traceback__)]
        place = (type(error).__name__, *frames[-2:])
        if place in self.places:
            return
        self.places.add(place)
        name = f"find-{hashlib.sha256(data).hexdigest()[:12]}"
        (self.folder / name).write_bytes(data)
        (self.folder / f"{name}.txt").write_text("".join(traceback.format_exception(error)))
        print("FIND", name, *place, flush=True)


class Case:
    """Where the bytes of a case become a file: under some ending, or as damage to a sound GeoPackage."""

    def __init__(self, kind: str, work: Path) -> None:
        self.endings = ENDINGS[kind]
        self.sound = {"vector": work / "field.gpkg", "layout": work / "sound.gpkg"}.get(kind)
        self.room = work if kind in {"vector", "raster", "survey"} else work / "case"
        self.room.mkdir(exist_ok=True)
        if kind == "layout":
            write_layout(pipeline.layout(design_with(work)), work / "made")
            shutil.copy(work / "made" / "layout.gpkg", work / "sound.gpkg")

    def write(self, data: bytes) -> Path:
        """Write the file of a case."""
        number = data[0] % (len(self.endings) + 1) if data else 0
        if self.sound is not None and (number == len(self.endings) or len(self.endings) == 1):
            path = self.room / "case.gpkg"
            shutil.copy(self.sound, path)
            damage(path, data[1:])
            return path
        path = self.room / f"case{self.endings[number % len(self.endings)]}"
        path.write_bytes(data[1:])
        return path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=sorted(ENDINGS))
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=int, default=3600)
    asked = parser.parse_args()
    corpus = asked.folder / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    work = Path(tempfile.mkdtemp(dir=MEMORY if MEMORY.is_dir() else asked.folder))
    design = sound(work)
    for number, seed in enumerate(seeds(asked.kind, work)):
        (corpus / f"seed{number}").write_bytes(seed)
    read, case, finds = reader(asked.kind, work, design), Case(asked.kind, work), Finds(asked.folder)

    def once(data: bytes) -> None:
        path = case.write(data)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                read(path)
        except (GeoagroError, MemoryError):
            pass
        except Exception as error:
            finds.keep(data, error)
        path.unlink(missing_ok=True)

    atexit.register(shutil.rmtree, work, ignore_errors=True)
    options = [
        f"-max_total_time={asked.seconds}",
        f"-artifact_prefix={asked.folder}/",
        "-rss_limit_mb=3000",
        "-timeout=30",
    ]
    atheris.Setup([sys.argv[0], str(corpus), *options], once)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
