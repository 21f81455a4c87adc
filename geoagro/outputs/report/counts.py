"""Pages of a report about plants and rows: crops, strata, surveys, rows and how well they lie."""

from __future__ import annotations

import math
from collections.abc import Iterator

from geoagro.outputs.drawing.looks import BED, TREE_BED
from geoagro.outputs.report import blocks as b
from geoagro.outputs.report.areas import built_block
from geoagro.outputs.report.blocks import Block
from geoagro.outputs.tables.column_words import unit_words
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.base.records import records
from geoagro.values.rules.crop_words import stratum_words
from geoagro.values.words import meant, say


def crop_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give plants, planted area and densities by crop."""
    yield b.heading(words(say("Plants and planted area by crop")))
    number = words.number
    rows = [
        b.row(
            [
                words.crop(r.text("name")), words(r.text("habit")), number(r.number("plants")), number(r.number("beds")), number(r.number("bed_area_m2"), 1), number(r.number("share_area_m2"), 1),
                number(r.number("per_ha_field"), 1), number(r.number("per_ha_plantable"), 1), number(r.number("per_ha_planted"), 1), number(r.number("per_ha_own_beds"), 1),
            ]
        )
        for r in records(account.crops)
    ]  # fmt: skip
    total = ["", number(account.headline.plants), "", "", number(account.headline.planted_m2, 1), "", "", "", ""]
    rows.append(b.row([words(say("Sum")), *total], strong=True))
    heads = (
        say("Plants"), say("Beds"), say("Its beds\nm²"), say("Its share\nm²"), say("per ha\nfield"),
        say("per ha\nplantable"), say("per ha\nplanted"), say("per ha\nown beds"),
    )  # fmt: skip
    columns = [
        b.column(words(say("Crop")), align="left", width=1),
        b.column(words(say("Habit")), align="left"),
        *(b.column(words(head)) for head in heads),
    ]
    yield b.grid(columns, rows)
    yield b.small(_share_words(account, words))
    told = [
        words(say("{crop}: {notes}."), crop=words.crop(r.text("name")), notes=words.again(r.text("notes")))
        for r in records(account.crops)
        if r.text("notes")
    ]
    if told:
        yield b.small(" ".join(told))
    yield from _crop_bars(account, words)


def _share_words(account: Account, words: Words) -> str:
    basis = (
        words(say("in proportion to crown area at full size (plants x crown)"))
        if account.share_basis == "canopy"
        else words(say("in proportion to the number of plants"))
    )
    trees = (
        words(say("Trees are plants of crops whose habit is tree."))
        if account.trees_basis == "habit"
        else words(say("Trees are all plants in tree beds, as the habit of some crops is unknown."))
    )
    beds = words(
        say(
            "Crops grow in mixtures: its beds are counted for every crop that stands in them, so that column must "
            "not be added up. Its share divides each bed between its crops {basis}; the shares add up to the planted area "
            "and nothing is counted twice."
        ),
        basis=basis,
    )
    return f"{beds} {trees}"


def _crop_bars(account: Account, words: Words) -> Iterator[Block]:
    largest = max(account.crops["share_area_m2"].max(), 1e-9) if len(account.crops) else 1.0
    items = [
        b.bar(words.crop(r.text("name")), f"{words.number(r.number('share_area_m2'), 1)} m²", r.number("share_area_m2") / largest, TREE_BED.paint if r.text("habit") == "tree" else BED.paint)
        for r in records(account.crops)
    ]  # fmt: skip
    yield b.heading(words(say("Share of the planted area (trees dark)")), 2)
    yield b.bars(items)


def strata_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give plants and crowns by stratum."""
    yield b.heading(words(say("Strata")))
    number = words.number
    rows = [
        b.row(
            [words(stratum_words(r.text("stratum"))) or "–", number(r.number("crops")), number(r.number("plants")), number(r.number("share_area_m2"), 1), number(r.number("canopy_m2"), 1), number(r.number("per_ha_planted"), 1)]
        )
        for r in records(account.strata)
    ]  # fmt: skip
    heads = (
        say("Crops"),
        say("Plants"),
        say("Share of beds, m²"),
        say("Sum of crowns at full size, m²"),
        say("Plants per ha planted"),
    )
    yield b.grid([b.column(words(say("Stratum")), align="left", width=1), *(b.column(words(h)) for h in heads)], rows)
    yield b.small(words(say("A stratum is a crop's layer by its need of light. Crowns overlap, and crops follow each other in time, so their sum can exceed the ground.")))  # fmt: skip


def survey_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give what surveys found, or that there was none."""
    yield b.heading(words(say("What surveys found")))
    yield from _found(account, words)
    if len(account.survival) == 0 and len(account.built) == 0:
        yield b.paragraph(words(say("No survey is part of this report, so it says nothing about survival.")))
        return
    if len(account.survival) == 0:
        yield from built_block(account, words)
        return
    number, names = words.number, dict(zip(account.crops["crop"], account.crops["name"], strict=True))
    rows = [
        b.row(
            [
                r.text("survey"), words(say("all crops")) if r.text("crop") == "all" else words.crop(names.get(r.text("crop"), r.text("crop"))), number(r.number("planned")),
                number(r.number("surveyed")), number(r.number("alive")), number(r.number("dead")), number(r.number("missing")), number(r.number("survival_pct"), 1),
                f"{number(r.number('low_pct'), 1)} – {number(r.number('high_pct'), 1)}", number(r.number("change_pct"), 1),
            ],
            strong=r.text("crop") == "all",
        )
        for r in records(account.survival)
    ]  # fmt: skip
    heads = (
        say("Planned"), say("Looked at"), say("Alive"), say("Dead"), say("Missing"), say("Survival\n%"),
        say("95 % interval\n%"), say("Change\npoints"),
    )  # fmt: skip
    left = [b.column(words(say("Survey")), align="left"), b.column(words(say("Crop")), align="left", width=1)]
    yield b.grid([*left, *(b.column(words(h)) for h in heads)], rows)
    yield b.small(
        words(
            say(
                "Survival is 100 x alive / looked at, for what was surveyed only. The interval holds the true share in 95 of "
                "100 such surveys. Change is against the survey before."
            )
        )
    )
    yield from built_block(account, words)


def _found(account: Account, words: Words) -> Iterator[Block]:
    """Give figures as planned and as found side by side."""
    if len(account.found) == 0:
        return
    names = {"planted_area_m2": say("Planted area, m²"), "trees": say("Trees"), "plants": say("Plants")}
    number = words.number
    rows = [
        b.row(
            [
                words(names[r.text("figure")]), r.text("survey"), number(r.number("planned")), number(r.number("looked_at")),
                number(r.number("found")), _between(r.number("low"), r.number("high"), words), words(r.text("basis")),
            ]
        )
        for r in records(account.found)
    ]  # fmt: skip
    columns = [
        b.column(words(say("Figure")), align="left"),
        b.column(words(say("Survey")), align="left"),
        *(b.column(words(h)) for h in (say("Planned"), say("Looked at"), say("Found"), say("95 % interval"))),
        b.column(words(say("How")), align="left", width=1, note=True),
    ]
    yield b.grid(columns, rows)


def _between(low: float, high: float, words: Words) -> str:
    return f"{words.number(low)} – {words.number(high)}" if math.isfinite(low) else ""


def row_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give the table of rows."""
    yield b.heading(words(say("Tree rows")))
    number = words.number
    rows = [
        b.row(
            [number(r.number("row")), number(r.number("length_m"), 1), number(r.number("elevation_m"), 1), number(r.number("grade_p95_pct"), 2), number(r.number("beds")), number(r.number("bed_area_m2"), 1), number(r.number("trees")), number(r.number("plants"))]
        )
        for r in records(account.rows)
    ]  # fmt: skip
    head, beds = account.headline, account.rows["bed_area_m2"].sum()
    total = [
        number(head.row_length_m, 1),
        "",
        "",
        number(account.rows["beds"].sum()),
        number(beds, 1),
        number(head.trees),
        number(head.plants),
    ]
    rows.append(b.row([words(say("Sum")), *total], strong=True))
    heads = (
        say("Length\nm"), say("Elevation\nm"), say("Grade, 95 % flatter\n%"), say("Beds"), say("Bed area\nm²"),
        say("Trees"), say("All plants"),
    )  # fmt: skip
    yield b.grid([b.column(words(say("Row")), align="left"), *(b.column(words(h), width=1) for h in heads)], rows)
    yield b.small(words(say("Beds and plants are counted for the row that they are measured from. Each row by crop is in the spreadsheet.")))  # fmt: skip


def _decimals(value: float, unit: str) -> int:
    """Decimals of a measure: three digits in all, as on the terminal, one for parts of a whole."""
    if value.is_integer() or not math.isfinite(value):
        return 0
    return 1 if unit == "%" else max(2 - math.floor(math.log10(abs(value))), 0)


def quality_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give the measures of how well the rows lie."""
    if len(account.quality) == 0:
        return
    yield b.heading(words(say("How well the rows lie")))
    rows = [
        b.row([words.again(r.text("measure").replace("_", " ")), words.number(r.number("value"), _decimals(r.number("value"), r.text("unit"))), unit_words(r.text("unit"), words), words.again(r.text("definition"))])
        for r in records(account.quality)
    ]  # fmt: skip
    columns = [
        b.column(words(meant("column", "Measure")), align="left"),
        b.column(words(say("Value"))),
        b.column(words(say("Unit")), align="left"),
        b.column(words(say("How it is computed")), align="left", width=1, note=True),
    ]
    yield b.grid(columns, rows)
