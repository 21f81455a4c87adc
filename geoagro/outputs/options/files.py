"""The files of a comparison, written anew after every option, and what earlier runs have left to go on from."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Sequence
from pathlib import Path

from geoagro.errors import OutputError
from geoagro.outputs.options.page import write_page
from geoagro.outputs.staging import check_folder, staged
from geoagro.outputs.tables.plain_text import guarded
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.results.options import Compared, OptionResult

TABLE, DATA, PAGE = "options.csv", "options.json", "options.png"
_DECIMALS = {"m": 1, "ha": 4, "%": 2, "1/ha": 1, "share": 2, "h": 0, "money": 0, "": 4}


def check_options_folder(folder: Path) -> None:
    """Raise OutputError now where writing would fail later; touches nothing."""
    check_folder(folder, [PAGE, TABLE, DATA])


def earlier_options(folder: Path) -> dict[str, OptionResult]:
    """Options that an earlier run laid out, by their state; empty where there are none.

    Raises OutputError where the file can't be read, so that it isn't written over.
    """
    path = folder / DATA
    if not path.is_file():
        return {}
    try:
        items = json.loads(path.read_text(encoding="utf-8"))["options"]
        found = [OptionResult(**item | {"figures": _with_nan(item["figures"])}) for item in items]
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise OutputError(f"{path}: can't be read as a comparison. Move it away, or choose another folder.") from error
    return {option.state: option for option in found if option.state and not option.problem}


def _with_nan(figures: dict[str, float | None]) -> dict[str, float]:
    return {key: math.nan if value is None else value for key, value in figures.items()}


def write_options(
    options: Sequence[OptionResult], compared: Sequence[Compared], folder: Path, words: Words = ENGLISH, *, title: str
) -> list[Path]:
    """Write table, data and page of the options so far; what stood there stays until all three are finished."""
    shown = [item for item in compared if any(not math.isnan(option.value(item)) for option in options)]
    with staged(folder, [PAGE, TABLE, DATA]) as new:
        _write_table(options, compared, new / TABLE)
        text = json.dumps(
            {"title": title, "figures": _declared(compared), "options": [o.data() for o in options]}, indent=1
        )
        (new / DATA).write_text(text + "\n", encoding="utf-8")
        write_page(options, shown, new / PAGE, words, title=title)
    return [folder / PAGE, folder / TABLE, folder / DATA]


def _declared(compared: Sequence[Compared]) -> list[dict[str, str]]:
    return [
        {"key": c.key, "words": c.quantity.words, "unit": c.quantity.written_unit, "definition": c.quantity.definition,
         "better": c.better}
        for c in compared
    ]  # fmt: skip


def _write_table(options: Sequence[OptionResult], compared: Sequence[Compared], path: Path) -> None:
    """One line per option with every figure that any of them has; what is unknown stays empty."""
    settings = list(dict.fromkeys(key for option in options for key in option.settings))
    named = {c.key for c in compared}
    more = [key for key in dict.fromkeys(key for option in options for key in option.figures) if key not in named]
    head = ["option", "design", *settings, *(c.key for c in compared), *more, "currency", "problem"]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(guarded(text) for text in head)
        for option in options:
            values = [_cell(option.value(c), c.quantity.unit) for c in compared]
            rest = [_cell(option.figures.get(key, math.nan), "") for key in more]
            own = [guarded(option.settings.get(key, "")) for key in settings]
            texts = (guarded(option.name), guarded(option.design_file))
            writer.writerow([*texts, *own, *values, *rest, option.currency, guarded(option.problem)])


def _cell(value: float, unit: str) -> str:
    if math.isnan(value):
        return ""
    return f"{value:.0f}" if float(value).is_integer() else f"{value:.{_DECIMALS.get(unit, 4)}f}"
