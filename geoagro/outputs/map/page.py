"""The map as one HTML file that opens from disk without network: Leaflet, our script and the data inside it.

No name from the data can become markup or script: the data is JSON in a block that isn't run, with every <, >
and & written as an escape; the script sets text only as text; and a content security policy names the two
scripts by their checksums and forbids every connection.
"""

from __future__ import annotations

import base64
import hashlib
import html
import io
import json
from pathlib import Path
from string import Template
from typing import Any

import numpy as np
from PIL import Image

from geoagro.outputs.drawing.ground import light_and_shade, relief_light
from geoagro.outputs.map.content import map_content
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.grid import Grid
from geoagro.values.report import LaidOut
from geoagro.values.terrain import Terrain

_HERE = Path(__file__).parent
_SCRIPTS = ("data.js", "paint.js", "find.js", "tools.js", "notes.js", "book.js", "main.js")
_RELIEF_PIXELS = 700


def write_map_page(account: Account, data: MapData, path: Path) -> None:
    """Write the page."""
    content = map_content(account, data, _relief(data.laid, data.terrain) if data.terrain else None)
    path.write_text(page_text(content, data.words), encoding="utf-8")


def page_text(content: dict[str, Any], words: Words) -> str:
    """Put content and scripts into the page."""
    leaflet = (_HERE / "leaflet" / "leaflet.js").read_text(encoding="utf-8")
    app = '"use strict";\n' + "\n".join((_HERE / "script" / name).read_text(encoding="utf-8") for name in _SCRIPTS)
    return Template((_HERE / "script" / "page.html").read_text(encoding="utf-8")).substitute(
        lang=html.escape(words.locale.language),
        dir="rtl" if words.is_right_to_left else "ltr",
        title=html.escape(content["name"]),
        hashes=" ".join(_checksum(script) for script in (leaflet, app)),
        leaflet_css=(_HERE / "leaflet" / "leaflet.css").read_text(encoding="utf-8"),
        look_css=(_HERE / "script" / "look.css").read_text(encoding="utf-8"),
        leaflet_js=leaflet,
        app_js=app,
        data=data_text(content),
    )


def _checksum(script: str) -> str:
    return "'sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode() + "'"


def data_text(content: dict[str, Any]) -> str:
    r"""Write JSON that can't end its script block or open a tag.

    >>> data_text({"crop": "</script>"})
    '{"crop":"\\u003c/script\\u003e"}'
    """
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _relief(laid: LaidOut, terrain: Terrain) -> dict[str, Any]:
    """Shade the ground around the field, as a picture inside the page."""
    grid = _around(terrain.heights or terrain.slope, laid.boundary.bounds)
    image = np.round(light_and_shade(relief_light(grid, is_height=terrain.heights is not None)) * 255).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(image, "RGBA").quantize(64).save(file, "PNG", optimize=True)
    source = "data:image/png;base64," + base64.b64encode(file.getvalue()).decode()
    return {"source": source, "box": list(grid.bounds)}


def _around(grid: Grid, bounds: tuple[float, float, float, float]) -> Grid:
    west, south, east, north = bounds
    room = 0.06 * max(east - west, north - south)
    columns = np.flatnonzero((grid.x >= west - room) & (grid.x <= east + room))
    rows = np.flatnonzero((grid.y >= south - room) & (grid.y <= north + room))
    step = max(1, round(max(len(columns), len(rows)) / _RELIEF_PIXELS))
    values = grid.values[rows[0] : rows[-1] + 1 : step, columns[0] : columns[-1] + 1 : step]
    corner = grid.west + columns[0] * grid.cell_m, grid.north - rows[0] * grid.cell_m
    return Grid(values, *corner, grid.cell_m * step, grid.crs)
