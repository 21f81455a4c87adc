"""What writing plants costs beside GDAL's own Arrow write of the same table, in the same run; processor seconds and memory.

All write the layer with its columns and its spatial index into a new GeoPackage: from the frame of plants, turned into Arrow
block by block; from stored blocks, as plants of large fields come; and from a table that stands ready. Turns are taken in the order
plain, plants, blocks, blocks, plants, plain, so that a machine that slows down favours none.

Run: python scripts/bench_plant_writing.py [plants ...]
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import shapely
from pyproj import CRS

from geoagro.outputs.geopackage.blocks import layer_stream
from geoagro.outputs.geopackage.layer import OutputLayer
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.values.plants import PLANTS
from geoagro.values.results.stored_plants import Counting

UTM = CRS.from_epsg(32633)
PER_ROW = 500


def plants(count: int) -> OutputLayer:
    """Lay an invented layer of plants in rows of half a metre, all columns filled."""
    number = np.arange(count)
    row = number // PER_ROW
    x, y = 500_000 + 0.5 * (number % PER_ROW), 5_000_000 + 0.9 * row
    text = np.array(["cassava", "maize", "cowpea"], dtype=object)[number % 3]
    kinds = {
        "int": number % 1000,
        "float": 0.25 * (number % 4000),
        "text": text,
        "date": np.full(count, np.datetime64("2027-03-01")),
        "bool": number % 2 == 0,
    }
    columns = {field.name: kinds[field.kind] for field in PLANTS.fields} | {"plant": number + 1, "x": x, "y": y}
    columns["crop"] = np.full(count, "maize", dtype=object)  # one layer holds one crop
    return OutputLayer(PLANTS, PLANTS.frame(columns, geometry=shapely.points(x, y), crs=UTM))


def stored(layer: OutputLayer, rows: int = 500_000) -> OutputLayer:
    """Put the same plants into blocks."""
    counting = Counting(UTM)
    texts = {field.name: "category" for field in PLANTS.fields if field.kind == "text"}
    for start in range(0, len(layer.frame), rows):
        part = pd.DataFrame(layer.frame.iloc[start : start + rows][PLANTS.columns])
        counting.add(part.astype(texts).reset_index(drop=True))
    return OutputLayer(PLANTS, counting.plants().by_crop()["maize"])


def used() -> float:
    """Processor seconds of this process."""
    return time.process_time()


def measure(count: int) -> None:
    layer = plants(count)
    blocks = stored(layer)
    table = layer_stream(layer).read_all()
    took = {"plain": 0.0, "plants": 0.0, "blocks": 0.0}
    with tempfile.TemporaryDirectory() as folder:
        for k, way in enumerate(("plain", "plants", "blocks", "blocks", "plants", "plain")):
            path = Path(folder) / f"{k}.gpkg"
            start = used()
            if way != "plain":
                write_geopackage(path, [layer if way == "plants" else blocks], UTM)
            else:
                options = {"GEOMETRY_NAME": "geom", "SPATIAL_INDEX": "YES"}
                pyogrio.write_arrow(
                    table,
                    path,
                    layer="plants",
                    driver="GPKG",
                    geometry_name="geom",
                    geometry_type="Point",
                    crs="EPSG:32633",
                    layer_options=options,
                )
            took[way] += (used() - start) / 2
            path.unlink()
    cells = [f"{took[way]:>9.2f} {took[way] / took['plain']:>7.2f}" for way in ("plants", "blocks")]
    print(f"{count:>12,} {took['plain']:>9.2f} {' '.join(cells)} {extra_mb(count):>9.0f}")


def extra_mb(count: int) -> float:
    """Peak memory that writing adds to the frame of plants, MB, in a process of its own."""
    code = "import bench_plant_writing as b, sys; print(b.peak_of_writing(int(sys.argv[1])))"
    told = subprocess.run(
        [sys.executable, "-c", code, str(count)], cwd=Path(__file__).parent, capture_output=True, text=True, check=True
    )
    return float(told.stdout)


def peak_of_writing(count: int) -> float:
    """Peak memory after writing less what stood before it, MB."""
    layer = plants(count)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with tempfile.TemporaryDirectory() as folder:
        write_geopackage(Path(folder) / "plants.gpkg", [layer], UTM)
    return (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024


if __name__ == "__main__":
    print(f"{'plants':>12} {'plain s':>9} {'frame s':>9} {'times':>7} {'blocks s':>9} {'times':>7} {'extra MB':>9}")
    for size in [int(text) for text in sys.argv[1:]] or [100_000, 1_000_000]:
        measure(size)
