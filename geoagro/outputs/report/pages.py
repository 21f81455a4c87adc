"""What stands on the pages of a field's report, in order; numbers are those of the account, only written out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from geoagro.outputs.report import blocks as b
from geoagro.outputs.report.areas import area_blocks, part_blocks, uncertainty_blocks
from geoagro.outputs.report.blocks import Block
from geoagro.outputs.report.by_zone import zone_blocks
from geoagro.outputs.report.cell_words import LEVELS, about_words, source_value, source_words
from geoagro.outputs.report.counts import crop_blocks, quality_blocks, row_blocks, strata_blocks, survey_blocks
from geoagro.outputs.report.notes import limits, methods, term_list
from geoagro.outputs.report.officer import facts, indicator_blocks, officer_blocks
from geoagro.outputs.report.water import WaterPages, water_blocks
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.base.records import records
from geoagro.values.report import ReportRule
from geoagro.values.results.water import WaterLeft
from geoagro.values.words import say


@dataclass(frozen=True)
class Pictures:
    """Files of the maps, beside data.json; None where there is none."""

    cover: str
    overview: str
    index: str | None
    blocks: tuple[str, ...]
    block_scale: int
    shaded: Literal["heights", "slope", ""]
    undrawn: tuple[str, ...] = ()
    beds_named: bool = True
    water: WaterPages | WaterLeft = "none"


def report_blocks(account: Account, rule: ReportRule, words: Words, pictures: Pictures) -> list[Block]:
    """All blocks of the report, in order."""
    return [
        *_cover(account, rule, words, pictures),
        b.BREAK,
        *officer_blocks(account, rule, words),
        signature(rule, words),
        # from here to the sheets all flows, large pictures wait for room: each break leaves a page nearly empty
        b.picture(pictures.overview, _map_caption(words, pictures), head=words(say("Map of the field")), waits=True),
        *_cautions(account, words),
        *area_blocks(account, words),
        *zone_blocks(account, words),
        *uncertainty_blocks(account, words),
        *crop_blocks(account, words),
        *strata_blocks(account, words),
        *survey_blocks(account, words),
        *indicator_blocks(account, words),
        *part_blocks(account, words),
        *quality_blocks(account, words),
        *_notes(account, words),
        *_sources(account, words),
        *row_blocks(account, words),
        *water_blocks(pictures.water, words),
        *_sheets(words, pictures),
    ]


def _cover(account: Account, rule: ReportRule, words: Words, pictures: Pictures) -> Iterator[Block]:
    head = account.headline
    number, sd = words.number, account.area_sd_m2
    planted_note = words(say("{share:.1f} % of the gross field"), share=100 * head.planted_m2 / head.field_m2)
    trees_note = words(say("{density:.1f} per planted hectare"), density=head.trees_per_ha_planted)
    plants_note = words(
        say("of {crops} crops, trees included; {plantings} planted in all, repeats included"),
        crops=head.crops,
        plantings=number(head.all_plantings),
    )
    spread = words(say("{spacing:g} m apart"), spacing=account.spacing_m)
    length = words(say("{length:.1f} m long in all"), length=head.row_length_m)
    planted_note = _with_found(planted_note, account, "planted_area_m2", words)
    trees_note = _with_found(trees_note, account, "trees", words)
    plants_note = _with_found(plants_note, account, "plants", words)
    gross_note = words(say("ellipsoid {area} ha"), area=words.hectares(head.field_geodesic_m2, sd))
    yield {
        "kind": "cover",
        "kind_words": words(say("Field report: areas and plants")),
        "heading": account.name,
        "subtitle": addressed(rule, words),
        "status": status(account, words),
        "status_words": words(account.cautions[0].text, **account.cautions[0].values),
        "main": [
            b.figure(words(say("Planted area")), words.hectares(head.planted_m2, sd), "ha", _local(planted_note, head.planted_m2, rule, words), main=True),
            b.figure(words(say("Trees")), number(head.trees), "", trees_note, main=True),
            b.figure(words(say("Plants standing at once")), number(head.standing_at_once), "", plants_note, main=True),
        ],
        "more": [
            b.figure(words(say("Gross field")), words.hectares(head.field_m2, sd), "ha", _local(gross_note, head.field_m2, rule, words)),
            b.figure(words(say("Plantable ground")), words.hectares(head.plantable_m2, sd), "ha"),
            b.figure(words(say("Tree rows")), number(head.rows), "", f"{spread}, {length}"),
            b.figure(words(say("Canopy at full size")), words.hectares(head.canopy_cover_m2, sd), "ha", words(say("ground under trees"))),
        ],
        "facts": facts(account, rule, words),
        "note": rule.note,
        "map": pictures.cover,
        "caption": _map_caption(words, pictures),
    }  # fmt: skip


def _with_found(note: str, account: Account, figure: str, words: Words) -> str:
    """Add what the last survey found to the note of a planned figure."""
    lines = account.found[account.found["figure"] == figure]
    if len(lines) == 0:
        return note
    line = lines.iloc[0]
    if figure == "planted_area_m2":
        text = words(
            say("as found {found} of {planned} ha ({survey})"),
            found=words.hectares(line["found"], account.area_sd_m2), planned=words.hectares(line["planned"], account.area_sd_m2), survey=line["survey"],
        )  # fmt: skip
    elif math.isfinite(line["low"]):
        text = words(
            say("alive about {found}, {low} to {high}, of {planned} ({survey}, sample plots)"), survey=line["survey"],
            **{key: words.number(line[key]) for key in ("found", "low", "high", "planned")},
        )  # fmt: skip
    else:
        text = words(
            say("found alive {found} of {looked_at} looked at ({survey})"), survey=line["survey"],
            **{key: words.number(line[key]) for key in ("found", "looked_at")},
        )  # fmt: skip
    return f"{note} · {text}"


def _local(note: str, area_m2: float, rule: ReportRule, words: Words) -> str:
    if rule.local_unit is None:
        return note
    return f"{words.number(area_m2 / rule.local_unit.m2, 2)} {rule.local_unit.name} · {note}"


def addressed(rule: ReportRule, words: Words) -> str:
    """Say for whom, by whom and when, as far as the design tells."""
    parts = [
        words(say("for {name}"), name=rule.prepared_for) if rule.prepared_for else "",
        words(say("by {name}"), name=rule.prepared_by) if rule.prepared_by else "",
        words.day(rule.as_of) if rule.as_of else "",
    ]
    return " · ".join(part for part in parts if part)


def status(account: Account, words: Words) -> str:
    """Say in two words whether this is a plan or holds surveys."""
    surveyed = len(account.survival) + len(account.built)
    return words(say("Plan with surveys")) if surveyed else words(say("Plan, not surveyed"))


def _map_caption(words: Words, pictures: Pictures) -> str:
    told = {"heights": say("Light falls from the north-west."), "slope": say("Darker ground is steeper.")}
    light = words(told[pictures.shaded]) if pictures.shaded else ""
    text = words(
        say("Tree beds are darkest, vegetable beds lighter, paths palest. Numbers are tree rows. N is grid north.")
    )
    return f"{text} {light}".strip()


def _cautions(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Before you rely on these numbers")))
    yield b.bullets([words(caution.text, **caution.values) for caution in account.cautions])


def signature(rule: ReportRule, words: Words) -> Block:
    """Give room for a signature."""
    return {
        "kind": "signature",
        "statement": words(say("I have read the cautions and limits of this report and answer for what it says about the field.")),
        "lines": [
            {"label": words(say("Name")), "value": rule.prepared_by},
            {"label": words(say("Place and day")), "value": None},
            {"label": words(say("Signature")), "value": None},
        ],
    }  # fmt: skip


def _notes(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("How it was measured")))
    yield b.bullets(methods(account, words))
    yield b.heading(words(say("Definitions")))
    yield b.terms(term_list(words))
    yield b.heading(words(say("Limits")))
    yield b.bullets(limits(words))


def _sources(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Data sources")))
    states = {"unchanged": say("unchanged"), "changed": say("changed since"), "missing": say("missing")}
    rows = [
        b.row(
            [
                source_words(r.text("item"), words),
                source_value(r.text("item"), r.text("value"), words),
                _checksum(r.text("sha256")),
                words(states.get(r.text("now"), "")),
            ]
        )
        for r in records(account.sources)
        if r.text("item") not in ("design", "design_file") or r.text("sha256")
    ]
    columns = [
        b.column(words(say("Source")), align="left"),
        b.column(words(say("What it is")), align="left", width=1),
        b.column(words(say("SHA-256 when the layout was made")), align="left"),
        b.column(words(say("File now")), align="left"),
    ]
    yield b.grid(columns, rows)
    if len(account.findings):
        yield b.heading(words(say("What was found while reading")), 2)
        found = [
            b.row(
                [words(LEVELS[r.text("severity")]), about_words(r.text("about"), words), words.again(r.text("finding"))]
            )
            for r in records(account.findings)
        ]
        yield b.grid(
            [
                b.column(words(say("Severity")), align="left"),
                b.column(words(say("About")), align="left", width=1),
                b.column(words(say("Finding")), align="left", width=3),
            ],
            found,
        )


def _checksum(text: Any) -> str:
    """Write a checksum in four lines of 16 signs, so that it fits its column and can be compared by eye."""
    if not isinstance(text, str):
        return ""
    return "\n".join(text[k : k + 16] for k in range(0, len(text), 16))


def _sheets(words: Words, pictures: Pictures) -> Iterator[Block]:
    if not pictures.blocks:
        return
    if pictures.index:
        caption = words(
            say("Frames and numbers of the block sheets on the next pages, each at 1:{scale}."),
            scale=str(pictures.block_scale),
        )
        yield b.picture(pictures.index, caption, head=words(say("Block sheets")))
    text = say(
        "Too close together for marks at this scale, so their beds carry names: {crops}. The offline map (geoagro map) shows every plant."
    )
    if not pictures.beds_named:
        text = say(
            "Too close together for marks at this scale, and beds too narrow for names: {crops}. The offline map (geoagro map) shows "
            "every plant; report.block_scale takes a larger scale."
        )
    left_out = words(text, crops=words.crops(pictures.undrawn)) if pictures.undrawn else ""
    for number, file in enumerate(pictures.blocks, start=1):
        yield b.BREAK
        caption = words(
            say("Block {number} of {count}, 1:{scale} when printed without scaling. Crosses and blue numbers are the coordinate grid, metres."),
            number=str(number), count=str(len(pictures.blocks)), scale=str(pictures.block_scale),
        )  # fmt: skip
        yield b.picture(file, f"{caption} {left_out}".strip())
