"""A small invented field as files, to try on what reads files."""

from __future__ import annotations

from pathlib import Path

_DESIGN = """\
name: Example field
inputs:
  boundary: { file: field.geojson }
  elevation: { file: heights.asc, unit: m, crs: "EPSG:32633" }
rows: { method: straight, bearing_deg: 90, spacing_m: 5 }
plantings:
  - { crop: apple, bed: tree, spacing_m: 3.5 }
  - { crop: lettuce, bed: vegetable, lines: 3 }
"""
_FIELD = """\
{"type": "Polygon", "coordinates": [[[15.0, 47.0], [15.0008, 47.0], [15.0008, 47.0004], [15.0, 47.0004], [15.0, 47.0]]]}
"""
_WEST, _SOUTH, _CELL_M, _COLUMNS, _ROWS, _FALL_M = 499_940, 5_205_000, 10, 20, 20, 0.8


def write_example(folder: Path) -> Path:
    """Write a design with its field (61 by 44 m, longitude and latitude) and its heights (a slope of 8 %) into `folder`.

    Place, ground and recipe are invented. Gives the path of the design; files of these names are written over.

    >>> import tempfile
    >>> from geoagro import read_design, write_example
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     read_design(write_example(Path(folder)))
    Design: Example field; rows straight, every 5 m; plantings apple, lettuce
    """
    folder = Path(folder)
    (folder / "field.geojson").write_text(_FIELD, encoding="utf-8")
    (folder / "heights.asc").write_text(_heights(), encoding="ascii")
    design = folder / "design.yaml"
    design.write_text(_DESIGN, encoding="utf-8")
    return design


def _heights() -> str:
    """Heights as an ASCII grid, rising to the north."""
    head = {"ncols": _COLUMNS, "nrows": _ROWS, "xllcorner": _WEST, "yllcorner": _SOUTH, "cellsize": _CELL_M}
    lines = [f"{name} {value}" for name, value in head.items()]
    lines += [" ".join([f"{200 - _FALL_M * row:g}"] * _COLUMNS) for row in range(_ROWS)]
    return "\n".join(lines) + "\n"
