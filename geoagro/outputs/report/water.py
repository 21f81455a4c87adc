"""What a report says of water on the field: the map, findings, published limits, the storm, and what to beware of."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

from geoagro.outputs.report import blocks as b
from geoagro.outputs.report.blocks import Block
from geoagro.outputs.report.cell_words import LEVELS
from geoagro.outputs.words.say import Words
from geoagro.values.results.water import WATER_PICTURE, WaterLeft, WaterSeen
from geoagro.values.words import say
from geoagro.water.records.words import CAUTION

_MOST_ROWS = 10
_LEAST_M3 = 0.01
_AROUND_MM = 32.0
"""Room on the page for the heading above the map and its caption."""
_LEFT: dict[WaterLeft, str] = {
    "none": say("Water was not looked at. Run `geoagro water DESIGN` and write the report again to see here what it finds."),
    "other rows": say("The rows were changed since water was looked at, so its pages are left out. Run `geoagro water DESIGN` again."),
    "other water": say("The design says other things of water since it was looked at, so its pages are left out. Run `geoagro water DESIGN` again."),
    "edited": say("water.gpkg or water.png is not as `geoagro water` wrote it, so its pages are left out. Run `geoagro water DESIGN` again."),
}  # fmt: skip
_VERDICTS = {
    "passes": say("passes"),
    "fails": say("fails"),
    "does not apply": say("does not apply"),
    "no verdict": say("no verdict"),
}


@dataclass(frozen=True)
class WaterPages:
    """What the pages are made from: the tables, and the map over `width` percent of the page."""

    seen: WaterSeen
    width: int


def water_pages(water: WaterSeen | WaterLeft, work: Path, room_mm: tuple[float, float]) -> WaterPages | WaterLeft:
    """Put the map beside the pages, as wide as it stays whole on one."""
    if not isinstance(water, WaterSeen):
        return water
    shutil.copy(water.picture, work / WATER_PICTURE)
    with Image.open(water.picture) as picture:
        across, down = picture.size
    wide, high = room_mm
    return WaterPages(water, min(100, int(100 * (high - _AROUND_MM) * across / (down * wide))))


def water_blocks(pages: WaterPages | WaterLeft, words: Words) -> Iterator[Block]:
    """Give the section about water, or one line that says why there is none."""
    if not isinstance(pages, WaterPages):
        yield b.heading(words(say("Water")))
        yield b.paragraph(words(_LEFT[pages]))
        return
    yield b.heading(words(say("Water")))
    caption = words(
        say("Where water gathers and which way it runs along the rows, on the ground as its heights were given.")
    )
    yield b.picture(WATER_PICTURE, caption, width=pages.width, waits=True)
    yield from _findings(pages.seen, words)
    yield from _balance(pages.seen, words)
    yield from _rows(pages.seen, words)
    yield from _criteria(pages.seen, words)


def _findings(seen: WaterSeen, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("What was found about water")), 2)
    told = seen.findings[seen.findings["finding"] != CAUTION]
    yield b.bullets(
        [
            words(say("{level}: {finding}"), level=words(LEVELS[str(r.severity)]), finding=words.again(str(r.finding)))
            for r in told.itertuples(index=False)
        ]
    )
    yield b.paragraph(words(CAUTION))


def _balance(seen: WaterSeen, words: Words) -> Iterator[Block]:
    if len(seen.balance) == 0:
        return
    yield b.heading(words(say("Balance of the storm")), 2)
    columns = [b.column(words(say("What is counted")), align="left", width=1), b.column(words(say("Volume\nm³")))]
    counted = zip(seen.balance["definition"], seen.balance["volume_m3"], strict=True)
    rows = [b.row([words(str(what)), words.number(float(volume_m3), 1)]) for what, volume_m3 in counted]
    yield b.grid(columns, rows)


def _rows(seen: WaterSeen, words: Words) -> Iterator[Block]:
    over = seen.rows[seen.rows["over_m3"] > _LEAST_M3]
    if len(over) == 0:
        return
    yield b.heading(words(say("Rows that run over most")), 2)
    heads = (
        say("Own runoff\nm³"), say("From rows above\nm³"), say("Held\nm³"), say("Runs over\nm³"),
        say("Most of it at\nm from its start"), say("Own ground fills it\nmm of rain"),
    )  # fmt: skip
    columns = [b.column(words(say("Row")), align="left"), *(b.column(words(head), width=1) for head in heads)]
    most = over.sort_values(["over_m3", "row"], ascending=[False, True]).head(_MOST_ROWS)
    yield b.grid(columns, [_row(r, words) for r in most.itertuples(index=False)])
    text = say("{shown} of {count} rows that run over in this storm; the others are in water.gpkg, table row_water.")
    yield b.small(words(text, shown=len(most), count=len(over)))


def _row(r: Any, words: Words) -> Block:
    volumes = [words.number(value, 1) for value in (r.caught_m3, r.received_m3, r.held_m3, r.over_m3)]
    return b.row([str(r.row), *volumes, words.number(r.first_over_m), words.number(r.first_over_rain_mm)])


def _criteria(seen: WaterSeen, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Published criteria")), 2)
    columns = [
        b.column(words(say("Criterion and who asks it")), align="left", width=4),
        b.column(words(say("Limit")), align="left", width=3),
        b.column(words(say("This layout")), align="left", width=2),
        b.column(words(say("Verdict")), align="left"),
        b.column(words(say("Why, or what is not known")), align="left", width=3, note=True),
    ]
    rows = [
        b.row([f"{words.again(str(r.criterion))}\n{words.again(str(r.source))}", words.again(str(r.limit)), words.again(str(r.value)),
               words(_VERDICTS[str(r.verdict)]), words.again(str(r.why))])
        for r in seen.criteria.itertuples(index=False)
    ]  # fmt: skip
    yield b.grid(columns, rows)
    yield b.small(words(say("A limit tells what its source asks, not that the field is safe; local rules come first.")))
