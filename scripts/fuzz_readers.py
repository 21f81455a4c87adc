"""Feed the readers damaged files under a coverage-guided fuzzer, and keep every input that isn't told in words.

usage: python scripts/fuzz_readers.py {design,vector,raster,survey,layout} FOLDER [--seconds 3600]

Needs the package `atheris`. FOLDER takes the corpus (kept between runs) and what was found: files `crash-*`. Seeds are
small sound files that the script writes itself. A find is any exception but the package's own and shortage of memory.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
import tempfile
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

    from geoagro.errors import GeoagroError
    from geoagro.inputs.design.file import read_design
    from geoagro.inputs.laid.laid_out import read_survey_counts
    from geoagro.inputs.laid.layout_file import read_layout_file
    from geoagro.inputs.raster.ground_source import read_ground_source
    from geoagro.inputs.site import read_site
    from geoagro.inputs.survey.file import read_survey
    from geoagro.values.design import Design

EAST, NORTH, CRS = 500_000.0, 5_000_000.0, "EPSG:32633"
FIELD = box(EAST, NORTH, EAST + 40, NORTH + 36)
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
        found = [(folder / "field.gpkg").read_bytes()]
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
    return lambda path: (read_survey_counts(path.parent), read_layout_file(path).site())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("kind", choices=sorted(ENDINGS))
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=int, default=3600)
    asked = parser.parse_args()
    corpus = asked.folder / "corpus"
    corpus.mkdir(parents=True, exist_ok=True)
    work = Path(tempfile.mkdtemp(dir=asked.folder))
    design = sound(work)
    for number, seed in enumerate(seeds(asked.kind, work)):
        (corpus / f"seed{number}").write_bytes(seed)
    read, endings = reader(asked.kind, work, design), ENDINGS[asked.kind]
    room = work / "case"
    room.mkdir()

    def once(data: bytes) -> None:
        ending = endings[data[0] % len(endings)] if data else endings[0]
        path = (room if asked.kind in {"design", "layout"} else work) / f"case{ending}"
        path.write_bytes(data[1:])
        with contextlib.suppress(GeoagroError, MemoryError), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            read(path)
        path.unlink(missing_ok=True)

    options = [
        f"-max_total_time={asked.seconds}",
        f"-artifact_prefix={asked.folder}/",
        "-rss_limit_mb=3000",
        "-timeout=30",
    ]
    atheris.Setup([sys.argv[0], str(corpus), *options, "-ignore_crashes=1"], once)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
