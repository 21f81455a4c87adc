"""The map as one HTML file that opens from disk without network: Leaflet, our script and the data inside it.

No name from the data can become markup or script: the data is JSON in a block that isn't run, with every <, >
and & written as an escape; the script sets text only as text; and a content security policy names the two
scripts by their checksums and forbids every connection.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
from pathlib import Path
from string import Template
from typing import Any

from geoagro.outputs.map.content import map_content
from geoagro.outputs.map.relief import relief
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account

_HERE = Path(__file__).parent
_SCRIPTS = ("data.js", "paint.js", "find.js", "parts.js", "tools.js", "notes.js", "book.js", "main.js")


def write_map_page(account: Account, data: MapData, path: Path) -> None:
    """Write the page."""
    content = map_content(account, data, relief(data.terrain, data.laid.boundary.bounds))
    path.write_text(page_text(content, data.words), encoding="utf-8")


def page_text(content: dict[str, Any], words: Words) -> str:
    """Put content and scripts into the page."""
    leaflet = (_HERE / "leaflet" / "leaflet.js").read_text(encoding="utf-8")
    app = '"use strict";\n' + "\n".join((_HERE / "script" / name).read_text(encoding="utf-8") for name in _SCRIPTS)
    return Template((_HERE / "script" / "page.html").read_text(encoding="utf-8")).substitute(
        lang=html.escape(words.locale.language),
        dir="rtl" if words.is_right_to_left else "ltr",
        title=html.escape(content["title"]),
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
