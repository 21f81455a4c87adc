"""Random small fields, grounds and recipes, and the laws that every layout of them keeps.

A case is drawn from a seed alone, so that a red one can be drawn again.
"""

from __future__ import annotations

import contextlib
import io
import json
import re
import traceback
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from input_files import EAST, NORTH, UTM, write_raster, write_vector
from pyproj import CRS
from shapely import Point, Polygon, box

from geoagro import pipeline
from geoagro.cli.check import command as check
from geoagro.cli.failures import failure_of
from geoagro.crs import transform_geometries
from geoagro.values.layout import Layout

CRSS = ("EPSG:32633", "EPSG:4326", "EPSG:3857", "EPSG:3035")
TREES, VEGETABLES = ("apple", "banana", "hazel"), ("bean", "lettuce", "taro", "maize", "cassava")


@dataclass(frozen=True)
class Case:
    """A design file, and what was drawn, in words."""

    design: Path
    told: str


def draw(seed: int, folder: Path) -> Case:
    """Draw a field, its ground and its recipe; write the files into `folder`."""
    rng = np.random.default_rng(seed)
    field, words = _field(rng)
    crs = CRSS[int(rng.integers(len(CRSS)))]
    write_vector(folder / "field.gpkg", transform_geometries(np.array([field]), UTM, CRS.from_user_input(crs)), crs)
    cell = float(rng.choice([0.7, 1.0, 2.0, 5.0]))
    _ground(rng, folder / "dem.tif", field, cell)
    given = {
        "name": f"case {seed}",
        "inputs": {"boundary": {"file": "field.gpkg"}, "elevation": {"file": "dem.tif", "unit": "m"}}
        | _more(rng, folder, field),
        "rows": _rows(rng),
        "beds": {"bed_width_m": float(rng.choice([0.8, 1.0, 1.2])), "path_width_m": float(rng.choice([0.3, 0.5]))},
        "ground": {"setback_m": float(rng.choice([0.0, 1.0, 2.0])), "max_slope_pct": float(rng.choice([25, 60]))},
        "plantings": _plantings(rng),
        "start_date": "2026-03-01",
    }
    (folder / "design.yaml").write_text(json.dumps(given, indent=1), encoding="utf-8")
    return Case(folder / "design.yaml", f"{words}, {crs}, cells of {cell:g} m, {given}")


def _field(rng) -> tuple[Polygon, str]:
    """A star, a box, an L, a sliver or a field of two parts, sometimes with a hole, at some scale."""
    size = float(np.exp(rng.uniform(np.log(6), np.log(40))))
    kind = str(rng.choice(["star", "box", "ell", "sliver", "two"]))
    if kind == "star":
        n = int(rng.integers(5, 40))
        angle = np.sort(rng.uniform(0, 2 * np.pi, n))
        reach = size * rng.uniform(0.4, 1.0, n)
        shape = (
            shapely.make_valid(Polygon(np.c_[reach * np.cos(angle), reach * np.sin(angle)]))
            if n > 2
            else box(0, 0, 1, 1)
        )
    elif kind == "ell":
        shape = box(0, 0, size, size).difference(box(size * 0.4, size * 0.4, size, size))
    elif kind == "sliver":
        shape = box(0, 0, size * 2, rng.uniform(1.0, 5.0))
    elif kind == "two":
        shape = shapely.union_all([box(0, 0, size, size), box(size + rng.uniform(0, 6), 0, size * 1.6 + 6, size * 0.7)])
    else:
        shape = box(0, 0, size, size * rng.uniform(0.4, 1.0))
    if rng.random() < 0.3:
        middle = shape.representative_point()
        shape = shape.difference(middle.buffer(size * rng.uniform(0.03, 0.2)))
    shape = shapely.affinity.rotate(shape, rng.uniform(0, 360), origin=(0, 0))
    return shapely.affinity.translate(
        shape, EAST + rng.uniform(-200, 200), NORTH + rng.uniform(-200, 200)
    ), f"{kind} of {size:.0f} m"


def _ground(rng, path: Path, field, cell: float) -> None:
    west, south, east, north = (v + m for v, m in zip(field.bounds, (-70, -70, 70, 70), strict=True))
    x, y = np.meshgrid(np.arange(west, east, cell), np.arange(north, south, -cell))
    slope, turn = rng.uniform(0, 0.3), rng.uniform(0, 2 * np.pi)
    z = 300 + slope * ((x - west) * np.cos(turn) + (y - south) * np.sin(turn))
    z += rng.uniform(0, 3) * np.sin((x - west) / rng.uniform(8, 60)) * np.cos((y - south) / rng.uniform(8, 60))
    z += rng.normal(0, rng.choice([0.0, 0.02, 0.1]), z.shape)
    if rng.random() < 0.15:
        z[rng.integers(0, len(z)), :] = np.nan
    write_raster(path, z, west=west - cell / 2, north=north + cell / 2, cell=cell)


def _more(rng, folder: Path, field) -> dict[str, object]:
    if rng.random() > 0.3:
        return {}
    spot = field.representative_point()
    drawn = Point(spot.x + rng.uniform(-5, 5), spot.y).buffer(rng.uniform(0.2, 4), quad_segs=4)
    write_vector(folder / "pond.gpkg", [drawn])
    return {"exclusions": [{"file": "pond.gpkg", "name": "pond", "buffer_m": float(rng.choice([0, 1]))}]}


def _rows(rng) -> dict[str, object]:
    rows: dict[str, object] = {
        "spacing_m": float(np.round(rng.uniform(3.5, 9.0), 2)),
        "min_row_length_m": float(rng.choice([3, 6])),
    }
    if rng.random() < 0.75:
        return rows | {
            "method": "straight",
            "bearing_deg": float(np.round(rng.uniform(0, 359), 1)) if rng.random() < 0.5 else "auto",
        }
    return rows | {"method": "contour", "thorough": False}


def _plantings(rng) -> list[dict[str, object]]:
    drawn: list[dict[str, object]] = []
    if rng.random() < 0.8:
        drawn.append({"crop": str(rng.choice(TREES)), "bed": "tree"})
    for crop in rng.choice(VEGETABLES, int(rng.integers(0, 3)), replace=False):
        drawn.append({"crop": str(crop), "bed": "vegetable", "lines": int(rng.integers(1, 3))})
    return drawn


def _without_line(told: tuple[str, str]) -> tuple[str, str]:
    """What was told, without the place in the design file that `check` adds to mistakes in files."""
    return told[0], re.sub(r"^design\.yaml:\d+: (?=inputs\.)", "", told[1], flags=re.MULTILINE)


def broken(case: Case) -> tuple[list[str], str]:
    """Check and lay out a case; name every law that it breaks (what nobody told is one, too), and how it ended."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        checked, _ = _tried(lambda: check.callback(case.design, None))
        refused, layout = _tried(lambda: pipeline.layout(case.design))
    found = [told for told in (checked, refused) if told is not None and told[0] == "own mistake"]
    if checked is not None and _without_line(checked) != refused:
        found.append(f"check refuses what layout doesn't, or in other words: {checked}, {refused}")
    if checked is None and refused is not None and refused[0] != "ground":
        found.append(f"layout refuses what check doesn't: {refused}")
    told = [str(one) for one in found] + (broken_laws(layout) if layout is not None else [])
    return told, "laid out" if layout is not None else f"refused ({refused[0] if refused else ''})"


def _tried(work: Callable[[], Any]) -> tuple[tuple[str, str] | None, Any]:
    """Class and words of a failure, or what came of the work."""
    try:
        with contextlib.redirect_stdout(io.StringIO()):
            return None, work()
    except Exception as error:
        failure = failure_of(error)
        words = failure.words() if failure.kind != "own mistake" else traceback.format_exc()
        return (failure.kind, words), None


def broken_laws(layout: Layout) -> list[str]:
    """Every law that a layout breaks; none should be."""
    found: list[str] = []
    field = layout.site.boundary
    beds, tree_beds, paths = layout.beds.beds, layout.beds.tree_beds, layout.beds.paths
    strips = np.concatenate([beds.geometry.to_numpy(), tree_beds.geometry.to_numpy(), paths.geometry.to_numpy()])
    if len(strips) and shapely.area(strips).sum() - shapely.union_all(strips).area > 1e-3 * max(len(strips), 10):
        found.append("beds, tree beds and paths overlap")
    plantable = layout.ground.plantable
    if (
        len(strips)
        and shapely.difference(strips, shapely.buffer(plantable, 1e-3)).any()
        and (shapely.area(shapely.difference(strips, shapely.buffer(plantable, 1e-3))).sum() > 1e-3)
    ):
        found.append("strips lie outside the plantable ground")
    unplanted = layout.unplanted
    whole = shapely.area(strips).sum() + unplanted["area_m2"].sum()
    if abs(whole - field.area) > 0.002 * field.area + 0.05:
        found.append(f"areas don't add up: {whole:.3f} of {field.area:.3f} m2")
    found += _plants(layout.plants.frame, beds, tree_beds)
    if len(layout.rows.frame) and not layout.rows.frame["row"].is_unique:
        found.append("row numbers repeat")
    return found


def _plants(plants, beds, tree_beds) -> list[str]:
    if not len(plants):
        return []
    found = []
    xy = shapely.points(plants["x"], plants["y"])
    of: Mapping[str, object] = {"tree": tree_beds, "vegetable": beds}
    ground = shapely.buffer(
        shapely.union_all(np.concatenate([frame.geometry.to_numpy() for frame in of.values()])), 1e-3
    )
    shapely.prepare(ground)
    outside = ~shapely.contains(ground, xy)
    if outside.any():
        found.append(f"{int(outside.sum())} plants stand outside every bed")
    if not plants["plant"].is_unique:
        found.append("plant numbers repeat")
    return found
