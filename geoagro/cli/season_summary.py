"""The short account of a season plan on the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from geoagro.cli.columns import broken
from geoagro.cli.habits.language import files_told, titled
from geoagro.outputs.season.names import Names
from geoagro.outputs.words.say import Words
from geoagro.season.records.figures import TOLD
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.words import say

_WIDTH = 100
_MARKS = {"warning": "!", "caution": "*", "note": "-"}


def season_summary(plan: SeasonPlan, written: Iterable[Path], words: Words) -> str:
    """Key figures, what to know first, and where the result is."""
    title = words(
        say("Crop and work plan from {day} over {years} {years:year|years}"), day=plan.start, years=plan.rule.years
    )
    head = words(say("{name}: {text}"), name=plan.name, text=title)
    told = plan.figures.set_index("key").loc[list(TOLD)]
    return "\n\n".join(
        [
            titled(head),
            _columns(
                [(words(name), words(value)) for name, value in zip(told["figure"], told["reading"], strict=True)]
            ),
            words(say("What to know first"))
            + "\n"
            + "\n".join(_finding(row, Names(plan, words)) for row in plan.findings.itertuples()),
            files_told(written, {}, words),
        ]
    )


def _number(value: float) -> str:
    if math.isnan(value):
        return "–"
    return f"{value:,.0f}" if abs(value) >= 100 or float(value).is_integer() else f"{value:,.3g}"


def _columns(rows: list[tuple[str, str]]) -> str:
    width = max(len(name) for name, _ in rows)
    return "\n".join(f"  {name.ljust(width)}  {value}" for name, value in rows)


def _finding(row: Any, names: Names) -> str:
    words, about = names.words, names.subject(row.severity, row.subject)
    told = words(say("{name}: {text}"), name=about, text=words(row.text))
    text = f"{_MARKS[row.severity]} {told}"
    return "\n".join(broken(text, _WIDTH, first="  ", more="    "))
