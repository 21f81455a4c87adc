"""Pages set by typst from a template and plain data, with fonts of our own, so that none is left nearly empty."""

from __future__ import annotations

import json
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import matplotlib as mpl
import typst

from geoagro.errors import OutputError
from geoagro.outputs.drawing.typefaces import FONTS

_TAIL_MM = 85.0
"""A page that text ends on should reach down so far: a quarter of the room between its margins."""
_SQUEEZES = (1.0, 0.92, 0.84, 0.76)
"""Shares of the usual air between lines and rows of tables that are tried, until no page ends sooner."""


def set_pages(template: Path, data: Mapping[str, Any], name: str, work: Path, path: Path) -> None:
    """Set a template with its data (written as `name` beside it) and the pictures that lie in `work`.

    Where text ends high on its last page, or on one before a break, the lines move closer together if that brings its
    end onto the page before. The template marks such ends by `tail` and reads the air from the input `squeeze`.

    Raises
    ------
    OutputError
        Where the pages can't be set.
    """
    shutil.copy(template, work / template.name)
    (work / name).write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
    setting: dict[str, Any] = {
        "input": str(work / template.name),
        "root": str(work),
        "font_paths": [str(FONTS), str(Path(mpl.get_data_path()) / "fonts" / "ttf")],
        "ignore_system_fonts": True,
    }
    try:
        typst.compile(output=str(path), sys_inputs=_squeezed(setting), **setting)
    except typst.TypstError as error:
        raise OutputError(f"{path.name}: the pages can't be set ({error}).") from error


def _squeezed(setting: dict[str, Any]) -> dict[str, str]:
    """Choose the widest air without a short page; the usual one where each leaves some."""
    for squeeze in _SQUEEZES:
        inputs = {"squeeze": str(squeeze)}
        tails = json.loads(typst.query(selector="<tail>", field="value", sys_inputs=inputs, **setting))
        if not any(tail["page"] > 1 and tail["y"] < _TAIL_MM for tail in tails):
            return inputs
    return {"squeeze": str(_SQUEEZES[0])}
