"""Pages of a report about zones: ground and plants of each."""

from __future__ import annotations

from collections.abc import Iterator

from geoagro.outputs.report import blocks as b
from geoagro.outputs.report.blocks import Block
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.base.records import records
from geoagro.values.words import say
from geoagro.values.zones import PURPOSES, REST

_GROUND = ("area_m2", "tree_beds_m2", "vegetable_beds_m2", "paths_m2", "other_m2")
_COUNTS = ("trees", "plants", "all_plantings")


def zone_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give ground and plants by zone; nothing where the design has no zones."""
    if len(account.zones) == 0:
        return
    yield b.heading(words(say("Zones")))
    yield _ground(account, words)
    yield b.small(words(say("All zones together are the field. Other ground is setback, exclusions, access tracks and leftover at edges and row ends.")))  # fmt: skip
    yield b.heading(words(say("Plants by zone and crop")), 2)
    yield _crops(account, words)


def _ground(account: Account, words: Words) -> Block:
    number, table = words.number, account.zones
    rows = [
        b.row(
            [
                words(r.zone) if k + 1 == len(table) else r.zone,
                words(PURPOSES[r.purpose]),
                number(r.row_spacing_m, 2),
                number(r.rows),
                *(number(getattr(r, name), 1) for name in _GROUND),
                number(r.field_pct, 2),
                *(number(getattr(r, name)) for name in _COUNTS),
            ]
        )
        for k, r in enumerate(table.itertuples(index=False))
    ]
    sums = [number(table[name].sum(), 1) for name in _GROUND]
    counts = [number(table[name].sum()) for name in _COUNTS]
    rows.append(b.row([words(say("Sum")), "", "", "", *sums, "", *counts], strong=True))
    heads = (
        say("Rows every\nm"), say("Rows"), say("Area\nm²"), say("Tree beds\nm²"), say("Beds\nm²"), say("Paths\nm²"),
        say("Other\nm²"), say("% of\nfield"), say("Trees"), say("All plants"), say("Planted\nin all"),
    )  # fmt: skip
    left = [b.column(words(head), align="left", fixed_mm=19) for head in (say("Zone"), say("Purpose"))]
    return b.grid([*left, *(b.column(words(head)) for head in heads)], rows, size=7)


def _crops(account: Account, words: Words) -> Block:
    number, table = words.number, account.zone_crops
    rows = [
        b.row([
            words(REST) if r.text("zone") == REST else r.text("zone"), words.crop(r.text("name")), number(r.number("plants")),
            number(r.number("all_plantings")),
        ])
        for r in records(table)
    ]  # fmt: skip
    rows.append(
        b.row([words(say("Sum")), "", number(table["plants"].sum()), number(table["all_plantings"].sum())], strong=True)
    )
    heads = (say("Plants"), say("Planted in all"))
    left = [b.column(words(h), align="left", width=1) for h in (say("Zone"), say("Crop"))]
    return b.grid([*left, *(b.column(words(head)) for head in heads)], rows)
