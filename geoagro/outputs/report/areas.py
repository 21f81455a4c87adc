"""Pages of a report about ground: areas, their uncertainty, parts of the field, what was built."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from geoagro.outputs.drawing.looks import BED, PATH, TREE_BED
from geoagro.outputs.report import blocks as b
from geoagro.outputs.report.blocks import Block
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.reports.records.kinds import ground_kind
from geoagro.values.base.records import records
from geoagro.values.survey import BUILT_GROUND
from geoagro.values.words import say


def item_words(item: str, words: Words) -> str:
    """Name of a kind of ground for people."""
    return words(ground_kind(item).words)


def area_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give the table of areas with their definitions, and bars."""
    yield b.heading(words(say("Areas")))
    table = account.areas.set_index("item")
    rows = []
    for item, row in table.iterrows():
        depth = _depth(table, item)
        cells = [
            item_words(str(item), words),
            words(row["definition"]),
            words.number(row["area_m2"], 1),
            words.hectares(row["area_m2"], account.area_sd_m2),
            words.number(row["ground_area_m2"], 1),
            words.number(row["geodesic_area_m2"], 1),
            words.number(row["field_pct"], 2),
        ]
        rows.append(b.row(cells, strong=depth == 0, indent=depth))
    heads = (say("Map\nm²"), say("Map\nha"), say("Slope\nm²"), say("Ellipsoid\nm²"), say("% of\nfield"))
    columns = [
        b.column(words(say("Kind of ground")), align="left"),
        b.column(words(say("What is counted")), align="left", width=1, note=True),
        *(b.column(words(head)) for head in heads),
    ]
    yield b.grid(columns, rows)
    yield b.small(
        words(
            say(
                "Indented lines are parts of the line above them and add up to it in the column of square metres, to the "
                "last digit. Hectares are the same figures divided by 10,000. Planted area and tree canopy lie over the "
                "other kinds and are not added."
            )
        )
    )
    yield from _area_bars(account, words)


def _depth(table: Any, item: Any) -> int:
    depth = 0
    while (item := table.loc[item, "part_of"]) in table.index:
        depth += 1
    return depth


def _area_bars(account: Account, words: Words) -> Iterator[Block]:
    plan = dict(zip(account.areas["item"], account.areas["area_m2"], strict=True))
    shades = {
        "tree_beds": TREE_BED.paint,
        "vegetable_beds": BED.paint,
        "paths": PATH.paint,
        "unplanted": "#d9dee1",
        "excluded": "#aab2b8",
    }
    items = [
        b.bar(
            item_words(item, words),
            f"{words.hectares(plan[item], account.area_sd_m2)} ha",
            plan[item] / plan["field"],
            shade,
        )
        for item, shade in shades.items()
    ]
    yield b.heading(words(say("The field at a glance")), 2)
    yield b.bars(items)


def uncertainty_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give the table of what makes the field's area uncertain."""
    yield b.heading(words(say("How exact is the field's area?")), 2)
    rows = [
        b.row(
            [
                words(r.text("cause")), f"{words.number(r.number('size_m'), 2)} m", _alike(r.number("alike_m"), words), words.number(r.number("sd_m2"), 1),
                words.number(r.number("sd_pct"), 3), words(r.text("method")),
            ]
        )
        for r in records(account.uncertainty)
    ]  # fmt: skip
    columns = [
        b.column(words(say("Cause")), align="left", width=2),
        b.column(words(say("Point error or cell size"))),
        b.column(words(say("Points err alike within")), align="left"),
        b.column("± m²"),
        b.column(words(say("± % of field"))),
        b.column(words(say("How it is computed")), align="left", width=3, note=True),
    ]
    yield b.grid(columns, rows)
    yield b.small(
        words(
            say(
                "± is one standard deviation: about two of three surveys of the same field would differ by less. Decimals in "
                "the other tables show that sums agree; they don't claim more than this table."
            )
        )
    )


def _alike(reach_m: float, words: Words) -> str:
    if math.isnan(reach_m):
        return ""
    return words(say("within {reach:.0f} m"), reach=reach_m) if reach_m else words(say("none"))


def part_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give the table of the field's separate parts."""
    yield b.heading(words(say("Parts of the field")))
    number = words.number
    rows = [
        b.row([r.text("part"), number(r.number("area_m2"), 1), number(r.number("geodesic_area_m2"), 1), number(r.number("perimeter_m"), 1), number(r.number("holes")), number(r.number("trees")), number(r.number("plants"))])
        for r in records(account.parts)
    ]  # fmt: skip
    heads = (
        say("on the map, m²"),
        say("on the ellipsoid, m²"),
        say("Outline, m"),
        say("Holes"),
        say("Trees"),
        say("All plants"),
    )
    yield b.grid(
        [b.column(words(say("Part of the field")), align="left", width=1), *(b.column(words(h)) for h in heads)], rows
    )
    yield b.small(words(say("Parts lie separate from each other. Outlines in longitude and latitude (WGS 84, 7 decimals) are in field_parts.geojson.")))  # fmt: skip


def _built_words(item: str, words: Words) -> str:
    """Name of an area that a survey found; a kind of ground where an older survey counted by these."""
    return words(BUILT_GROUND[item][0]) if item in BUILT_GROUND else item_words(item, words)


def built_block(account: Account, words: Words) -> Iterator[Block]:
    """Give the areas that surveys found, if any did."""
    if len(account.built) == 0:
        return
    yield b.heading(words(say("Areas as built")), 2)
    number = words.number
    rows = [
        b.row(
            [
                r.text("survey"), _built_words(r.text("item"), words), words.again(r.text("definition")), number(r.number("designed_m2"), 1), number(r.number("built_m2"), 1),
                number(r.number("less_m2"), 1), number(r.number("change_m2"), 1),
            ]
        )
        for r in records(account.built)
    ]  # fmt: skip
    columns = [
        b.column(words(say("Survey")), align="left"),
        b.column(words(say("Kind of ground")), align="left"),
        b.column(words(say("What is counted")), align="left", width=1, note=True),
        *(
            b.column(words(h))
            for h in (say("Designed\nm²"), say("Built\nm²"), say("Built less\ndesigned"), say("Change"))
        ),
    ]
    yield b.grid(columns, rows)
