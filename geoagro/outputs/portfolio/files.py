"""The report over many fields: PDF, spreadsheet, CSV, JSON, and all parts of fields as GeoJSON."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from geoagro.outputs.report import blocks as b
from geoagro.outputs.report.account_data import table_content, write_csv, write_json
from geoagro.outputs.report.account_sheet import write_table_book
from geoagro.outputs.report.blocks import Block
from geoagro.outputs.report.maps import MapData, write_outlines
from geoagro.outputs.report.pages import addressed, signature
from geoagro.outputs.report.parts_geojson import write_field_outlines, write_parts
from geoagro.outputs.report.pdf import document, page_room, typeset
from geoagro.outputs.staging import staged
from geoagro.outputs.tables.cells import Table, table
from geoagro.outputs.words.say import Words
from geoagro.reports.records.portfolio import PORTFOLIO_CROPS, PORTFOLIO_FIELDS, Portfolio
from geoagro.values.base.records import records
from geoagro.values.report import ReportRule
from geoagro.values.words import say

FORMAT = "geoagro-portfolio-1"
NAMES = ("portfolio_fields.csv", "portfolio_crops.csv", "portfolio.xlsx", "portfolio.json", "portfolio_parts.geojson", "portfolio.pdf")  # fmt: skip
_OUTLINES = "outlines.svg"
_LISTED = 500
"""Fields listed on paper; more are in the tables (our choice: a dozen pages)."""


def write_portfolio(portfolio: Portfolio, rule: ReportRule, maps: Sequence[MapData], folder: Path, *, title: str, words: Words) -> list[Path]:  # fmt: skip
    """Write the portfolio's files; `maps` are the layouts in the order of its accounts.

    Returns the files written. Raises OutputError where the folder can't be written to; what stood there stays.
    """
    fields, crops = tables = [table(PORTFOLIO_FIELDS, portfolio.fields), table(PORTFOLIO_CROPS, portfolio.crops)]
    with staged(folder, list(NAMES)) as new:
        for each, name in zip(tables, NAMES, strict=False):
            write_csv(each, new / name)
        write_table_book(title, [(say("Fields"), fields), (say("Crops"), crops)], words, new / "portfolio.xlsx")
        write_json(_content(portfolio, tables, title, words), new / "portfolio.json")
        _write_parts(portfolio, new / "portfolio_parts.geojson")
        with tempfile.TemporaryDirectory(dir=new) as work:
            if maps:
                write_outlines(maps, Path(work) / _OUTLINES, page_room(rule)[0])
            pages = portfolio_blocks(portfolio, rule, title, words, drawn=bool(maps))
            status = words(say("{count} {count:field|fields}"), count=len(portfolio.fields))
            typeset(
                document(
                    title=title, author=rule.prepared_by, status_words=status, rule=rule, words=words, blocks=pages
                ),
                Path(work),
                new / "portfolio.pdf",
            )
    return [folder / name for name in reversed(NAMES)]


def _write_parts(portfolio: Portfolio, path: Path) -> None:
    if portfolio.outlines is None:
        write_parts([(f"{k}-", account) for k, account in enumerate(portfolio.accounts, start=1)], path)
    else:
        write_field_outlines(portfolio.fields, portfolio.outlines, path)


def _content(portfolio: Portfolio, tables: list[Table], title: str, words: Words) -> dict[str, object]:
    return {
        "format": FORMAT,
        "title": title,
        "totals": {
            name: {"value": _whole(portfolio, name), "unit": unit}
            for name, unit in (("planted_m2", "m2"), ("trees", "1"), ("plants", "1"), ("field_m2", "m2"))
        },
        "cautions": [{"field": field, "text": words(c.text, **c.values)} for field, c in portfolio.cautions],
        "tables": {each.spec.name: table_content(each) for each in tables},
    }


def _whole(portfolio: Portfolio, name: str) -> int | float:
    total = portfolio.total(name)
    return total if name.endswith("_m2") else int(total)


def portfolio_blocks(portfolio: Portfolio, rule: ReportRule, title: str, words: Words, *, drawn: bool) -> list[Block]:
    """Give what stands on the pages; `drawn` where outlines of the fields stand beside them."""
    return [*_cover(portfolio, rule, title, words), *_pages(portfolio, rule, words, drawn=drawn)]


def _cover(portfolio: Portfolio, rule: ReportRule, title: str, words: Words) -> Iterator[Block]:
    number, ha, total = words.number, words.hectares, portfolio.total
    surveyed = int(portfolio.fields["survival_pct"].notna().sum())
    yield {
        "kind": "cover",
        "kind_words": words(say("Account of many fields")),
        "heading": title,
        "subtitle": addressed(rule, words),
        "status": words(say("Plans, not surveyed")),
        "status_words": words(
            say(
                "Areas and plants are those of the layouts as planned; {surveyed} of {count} fields have been surveyed."
            ),
            surveyed=surveyed,
            count=len(portfolio.fields),
        ),
        "main": [
            b.figure(words(say("Planted area")), ha(total("planted_m2")), "ha", main=True),
            b.figure(words(say("Trees")), number(total("trees")), main=True),
            b.figure(words(say("All plants")), number(total("plants")), main=True),
        ],
        "more": [
            b.figure(words(say("Fields")), number(len(portfolio.fields))),
            b.figure(words(say("Gross fields")), ha(total("field_m2")), "ha"),
            b.figure(words(say("Length of tree rows")), number(total("row_length_m") / 1000, 2), "km"),
            b.figure(words(say("Crops")), number(len(portfolio.crops))),
        ],
        "facts": [],
        "note": rule.note,
        "map": None,
        "caption": "",
    }


def _pages(portfolio: Portfolio, rule: ReportRule, words: Words, *, drawn: bool) -> Iterator[Block]:
    yield from _fields(portfolio, words)
    yield from _crops(portfolio, words)
    if drawn:
        caption = words(say("North is up; scales differ from field to field, and each has its own bar."))
        yield b.picture(_OUTLINES, caption, head=words(say("Outlines of the fields")), waits=True)
    yield b.heading(words(say("Before you rely on these numbers")))
    yield b.terms(_cautions(portfolio, words))
    yield b.small(
        words(
            say(
                "How areas are measured, their uncertainty, data sources and limits stand in each field's own report. All "
                "outlines in longitude and latitude are in portfolio_parts.geojson."
            )
        )
    )
    yield signature(rule, words)


def _cautions(portfolio: Portfolio, words: Words) -> list[tuple[str, str]]:
    """Give each caution once, with the fields that it is about."""
    about: dict[str, list[str]] = {}
    for name, caution in portfolio.cautions:
        about.setdefault(words(caution.text, **caution.values), []).append(name)
    every = len(portfolio.fields)
    heads = {
        text: words(say("All fields"))
        if len(names) == every
        else ", ".join(filter(None, names)) or words(say("Portfolio"))
        for text, names in about.items()
    }
    return [(head, text) for text, head in heads.items()]


def _fields(portfolio: Portfolio, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Fields")))
    number = words.number
    rows = [
        b.row(
            [
                f"{k}. {r.text('field')}", number(r.number("field_m2"), 1), number(r.number("field_geodesic_m2"), 1), number(r.number("plantable_m2"), 1),
                number(r.number("planted_m2"), 1), number(r.number("trees")), number(r.number("plants")), number(r.number("row_length_m"), 1), number(r.number("trees_per_ha_planted"), 1),
                number(r.number("survival_pct"), 1),
            ]
        )
        for k, r in enumerate(records(portfolio.fields.head(_LISTED)), start=1)
    ]  # fmt: skip
    more = len(portfolio.fields) - len(rows)
    if more > 0:
        text = words(say("and {count} more {count:field|fields}, all in portfolio_fields.csv"), count=more)
        rows.append(b.row([text, *[""] * 9]))
    areas = ("field_m2", "field_geodesic_m2", "plantable_m2", "planted_m2")
    sums = [number(portfolio.total(name), 1) for name in areas]
    counts = [number(portfolio.total(name)) for name in ("trees", "plants")]
    rows.append(
        b.row([words(say("Sum")), *sums, *counts, number(portfolio.total("row_length_m"), 1), "", ""], strong=True)
    )
    heads = (
        say("Gross\nm²"), say("on ellipsoid\nm²"), say("Plantable\nm²"), say("Planted\nm²"), say("Trees"), say("All plants"),
        say("Rows\nm"), say("Trees per\nha planted"), say("Survival\n%"),
    )  # fmt: skip
    yield b.grid([b.column(words(say("Field")), align="left", width=1), *(b.column(words(h)) for h in heads)], rows)


def _crops(portfolio: Portfolio, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Crops over all fields")))
    number = words.number
    rows = [
        b.row(
            [
                words.crop(r.text("name")),
                words(r.text("habit")),
                number(r.number("fields")),
                number(r.number("plants")),
                number(r.number("share_area_m2"), 1),
            ]
        )
        for r in records(portfolio.crops)
    ]
    total = [number(portfolio.crops["plants"].sum()), number(portfolio.crops["share_area_m2"].sum(), 1)]
    rows.append(b.row([words(say("Sum")), "", "", *total], strong=True))
    columns = [
        b.column(words(say("Crop")), align="left", width=1),
        b.column(words(say("Habit")), align="left"),
        *(b.column(words(head)) for head in (say("Fields"), say("Plants"), say("Share of planted beds\nm²"))),
    ]
    yield b.grid(columns, rows)
