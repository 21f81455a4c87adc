"""What stands on the pages of a field's report, in order; numbers are those of the account, only written out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from geoagro.outputs import report_blocks as b
from geoagro.outputs.looks import BED, PATH, TREE_BED
from geoagro.outputs.report_blocks import Block
from geoagro.outputs.report_notes import limits, methods, term_list
from geoagro.outputs.words import Words
from geoagro.values.report import Account, ReportRule
from geoagro.values.words import say

ITEMS = {
    "field": say("Gross field"),
    "excluded": say("Excluded"),
    "plantable": say("Plantable ground"),
    "tree_beds": say("Tree beds"),
    "beds": say("Vegetable beds"),
    "paths": say("Paths"),
    "unplanted": say("Unplanted"),
    "difference": say("Difference"),
    "planted": say("Planted area"),
    "tree_canopy": say("Tree canopy at full size"),
    "setback": say("Setback"),
    "exclusion": say("Drawn exclusions"),
    "track": say("Access tracks"),
    "too_steep": say("Too steep"),
    "small_part": say("Parts too small"),
    "no_elevation": say("No elevation"),
    "grade_limit": say("Row grade above limit"),
    "spacing_limit": say("Row spacing out of tolerance"),
    "turn_radius": say("Curve too tight"),
    "short_row": say("Row too short"),
    "row_margin": say("Beyond beds, row ends"),
}


@dataclass(frozen=True)
class Pictures:
    """Files of the maps, beside data.json; None where there is none."""

    cover: str
    overview: str
    index: str | None
    blocks: tuple[str, ...]
    block_scale: int
    shaded: bool
    undrawn: tuple[str, ...] = ()


def item_words(item: str, words: Words) -> str:
    """Name of a kind of ground for people."""
    return words(ITEMS[item]) if item in ITEMS else item.replace("_", " ").capitalize()


def report_blocks(account: Account, rule: ReportRule, words: Words, pictures: Pictures) -> list[Block]:
    """All blocks of the report, in order."""
    return [
        *_cover(account, rule, words, pictures),
        b.BREAK,
        *_cautions(account, words),
        *_areas(account, words),
        *_uncertainty(account, words),
        b.BREAK,
        *_crops(account, words),
        *_strata(account, words),
        *_surveys(account, words),
        *_plots(account, words),
        signature(rule, words),
        b.BREAK,
        *_overview(words, pictures),
        *_rows(account, words),
        *_quality(account, words),
        *_notes(account, words),
        *_sources(account, words),
        *_sheets(words, pictures),
    ]


def _cover(account: Account, rule: ReportRule, words: Words, pictures: Pictures) -> Iterator[Block]:
    head = account.headline
    number, ha = words.number, words.hectares
    planted_note = words(say("{share:.1f} % of the gross field"), share=100 * head.planted_m2 / head.field_m2)
    trees_note = words(say("{density:.1f} per planted hectare"), density=head.trees_per_ha_planted)
    plants_note = words(say("of {crops} crops, trees included"), crops=head.crops)
    spread = words(say("{spacing:.1f} m apart"), spacing=account.spacing_m)
    length = words(say("{length:.0f} m long in all"), length=head.row_length_m)
    gross_note = words(say("ellipsoid {area} ha"), area=ha(head.field_geodesic_m2))
    if not math.isnan(head.field_sd_m2):
        gross_note = words(say("ellipsoid {area} ± {sd} ha"), area=ha(head.field_geodesic_m2), sd=ha(head.field_sd_m2))
    yield {
        "kind": "cover",
        "kind_words": words(say("Account of the field")),
        "heading": account.name,
        "subtitle": addressed(rule, words),
        "status": status(account, words),
        "status_words": words(account.cautions[0].text, **account.cautions[0].values),
        "main": [
            b.figure(words(say("Planted area")), ha(head.planted_m2), "ha", _local(planted_note, head.planted_m2, rule, words), main=True),
            b.figure(words(say("Trees")), number(head.trees), "", trees_note, main=True),
            b.figure(words(say("All plants")), number(head.plants), "", plants_note, main=True),
        ],
        "more": [
            b.figure(words(say("Gross field")), ha(head.field_m2), "ha", _local(gross_note, head.field_m2, rule, words)),
            b.figure(words(say("Plantable ground")), ha(head.plantable_m2), "ha"),
            b.figure(words(say("Tree rows")), number(head.rows), "", f"{spread}, {length}"),
            b.figure(words(say("Canopy at full size")), ha(head.canopy_cover_m2), "ha", words(say("ground under trees"))),
        ],
        "note": rule.note,
        "map": pictures.cover,
        "caption": _map_caption(words, pictures),
    }  # fmt: skip


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
    return words(say("Plan with surveys.")) if surveyed else words(say("Planned layout."))


def _map_caption(words: Words, pictures: Pictures) -> str:
    light = words(say("Light falls from the north-west.")) if pictures.shaded else ""
    text = words(
        say("Tree beds are darkest, vegetable beds lighter, paths palest. Numbers are tree rows. N is grid north.")
    )
    return f"{text} {light}".strip()


def _cautions(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Before you rely on these numbers")))
    yield b.bullets([words(caution.text, **caution.values) for caution in account.cautions])


def _areas(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Areas")))
    table = account.areas.set_index("item")
    rows = []
    for item, row in table.iterrows():
        depth = _depth(table, item)
        cells = [
            item_words(str(item), words),
            words(row["definition"]),
            words.number(row["area_m2"], 1),
            words.hectares(row["area_m2"]),
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
        "beds": BED.paint,
        "paths": PATH.paint,
        "unplanted": "#d9dee1",
        "excluded": "#aab2b8",
    }
    items = [
        b.bar(
            item_words(item, words),
            f"{words.hectares(plan[item])} ha",
            plan[item] / plan["field"],
            shade,
        )
        for item, shade in shades.items()
    ]
    yield b.heading(words(say("The field at a glance")), 2)
    yield b.bars(items)


def _uncertainty(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("How exact is the field's area?")), 2)
    rows = [
        b.row(
            [
                words(r.cause), f"{words.number(r.size_m, 2)} m", _alike(r.alike_m, words), words.number(r.sd_m2, 1),
                words.number(r.sd_pct, 3), words(r.method),
            ]
        )
        for r in account.uncertainty.itertuples(index=False)
    ]  # fmt: skip
    columns = [
        b.column(words(say("Cause")), align="left", width=2),
        b.column(words(say("Error, cell"))),
        b.column(words(say("Errors alike")), align="left"),
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


def _crops(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Plants and planted area by crop")))
    number = words.number
    rows = [
        b.row(
            [
                r.name, words(r.habit), number(r.plants), number(r.beds), number(r.bed_area_m2, 1), number(r.share_area_m2, 1),
                number(r.per_ha_field, 1), number(r.per_ha_plantable, 1), number(r.per_ha_planted, 1), number(r.per_ha_own_beds, 1),
            ]
        )
        for r in account.crops.itertuples(index=False)
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
        b.bar(r.name, f"{words.number(r.share_area_m2, 1)} m²", r.share_area_m2 / largest, TREE_BED.paint if r.habit == "tree" else BED.paint)
        for r in account.crops.itertuples(index=False)
    ]  # fmt: skip
    yield b.heading(words(say("Share of the planted area (trees dark)")), 2)
    yield b.bars(items)


def _strata(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Strata")))
    number = words.number
    rows = [
        b.row(
            [words(r.stratum) or "–", number(r.crops), number(r.plants), number(r.share_area_m2, 1), number(r.canopy_m2, 1), number(r.per_ha_planted, 1)]
        )
        for r in account.strata.itertuples(index=False)
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


def _surveys(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("What surveys found")))
    if len(account.survival) == 0 and len(account.built) == 0:
        yield b.paragraph(words(say("No survey is part of this report, so it says nothing about survival.")))
        return
    if len(account.survival) == 0:
        yield from _built(account, words)
        return
    number, names = words.number, dict(zip(account.crops["crop"], account.crops["name"], strict=True))
    rows = [
        b.row(
            [
                r.survey, words(say("all crops")) if r.crop == "all" else names.get(r.crop, r.crop), number(r.planned),
                number(r.surveyed), number(r.alive), number(r.dead), number(r.missing), number(r.survival_pct, 1),
                f"{number(r.low_pct, 1)} – {number(r.high_pct, 1)}", number(r.change_pct, 1),
            ],
            strong=r.crop == "all",
        )
        for r in account.survival.itertuples(index=False)
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
    yield from _built(account, words)


def _built(account: Account, words: Words) -> Iterator[Block]:
    if len(account.built) == 0:
        return
    yield b.heading(words(say("Areas as built")), 2)
    number = words.number
    rows = [
        b.row(
            [
                r.survey, item_words(r.item, words), words(r.definition), number(r.designed_m2, 1), number(r.built_m2, 1),
                number(r.less_m2, 1), number(r.change_m2, 1),
            ]
        )
        for r in account.built.itertuples(index=False)
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


def _plots(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Plots")))
    number = words.number
    rows = [
        b.row([r.plot, number(r.area_m2, 1), number(r.geodesic_area_m2, 1), number(r.perimeter_m, 1), number(r.holes), number(r.trees), number(r.plants)])
        for r in account.plots.itertuples(index=False)
    ]  # fmt: skip
    heads = (
        say("on the map, m²"),
        say("on the ellipsoid, m²"),
        say("Outline, m"),
        say("Holes"),
        say("Trees"),
        say("All plants"),
    )
    yield b.grid([b.column(words(say("Plot")), align="left", width=1), *(b.column(words(h)) for h in heads)], rows)
    yield b.small(words(say("A plot is a separate part of the field. Outlines in longitude and latitude (WGS 84, 7 decimals) are in plots.geojson.")))  # fmt: skip


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


def _overview(words: Words, pictures: Pictures) -> Iterator[Block]:
    yield b.heading(words(say("Map of the field")))
    yield b.picture(pictures.overview, _map_caption(words, pictures))
    yield b.BREAK


def _rows(account: Account, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Tree rows")))
    number = words.number
    rows = [
        b.row(
            [number(r.row), number(r.length_m, 1), number(r.height_m, 1), number(r.grade_p95_pct, 2), number(r.beds), number(r.bed_area_m2, 1), number(r.trees), number(r.plants)]
        )
        for r in account.rows.itertuples(index=False)
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
        say("Length\nm"), say("Height\nm"), say("Grade, 95 % flatter\n%"), say("Beds"), say("Bed area\nm²"),
        say("Trees"), say("All plants"),
    )  # fmt: skip
    yield b.grid([b.column(words(say("Row")), align="left"), *(b.column(words(h), width=1) for h in heads)], rows)
    yield b.small(words(say("Beds and plants are counted for the row that they are measured from. Each row by crop is in the spreadsheet.")))  # fmt: skip


def _quality(account: Account, words: Words) -> Iterator[Block]:
    if len(account.quality) == 0:
        return
    yield b.heading(words(say("How well the rows lie")))
    rows = [
        b.row([words(str(r.measure).replace("_", " ")), words.number(r.value, 0 if float(r.value).is_integer() else 3), str(r.unit or ""), words(str(r.definition))])
        for r in account.quality.itertuples(index=False)
    ]  # fmt: skip
    columns = [
        b.column(words(say("Measure")), align="left"),
        b.column(words(say("Value"))),
        b.column(words(say("Unit")), align="left"),
        b.column(words(say("How it is computed")), align="left", width=1, note=True),
    ]
    yield b.grid(columns, rows)


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
            [words(str(r.item).replace("_", " ")), str(r.value), _checksum(r.sha256), words(states.get(str(r.now), ""))]
        )
        for r in account.sources.itertuples(index=False)
        if r.item not in ("design", "design_file") or r.sha256
    ]
    columns = [
        b.column(words(say("Source")), align="left"),
        b.column(words(say("What it is")), align="left", width=1),
        b.column(words(say("SHA-256 when the layout was made")), align="left"),
        b.column(words(say("Now")), align="left"),
    ]
    yield b.grid(columns, rows)
    if len(account.findings):
        yield b.heading(words(say("What was found while reading")), 2)
        found = [
            b.row([words(str(r.level)), str(r.place), str(r.finding)]) for r in account.findings.itertuples(index=False)
        ]
        yield b.grid(
            [
                b.column(words(say("Level")), align="left"),
                b.column(words(say("Place")), align="left", width=1),
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
    yield b.BREAK
    yield b.heading(words(say("Block sheets")))
    if pictures.index:
        caption = words(
            say("Frames and numbers of the block sheets on the next pages, each at 1:{scale}."),
            scale=str(pictures.block_scale),
        )
        yield b.picture(pictures.index, caption)
    if pictures.undrawn:
        text = say(
            "Too close together to be drawn at this scale: {crops}. The offline map (geoagro map) shows every plant."
        )
        yield b.small(words(text, crops=", ".join(pictures.undrawn)))
    for number, file in enumerate(pictures.blocks, start=1):
        yield b.BREAK
        caption = words(
            say("Block {number} of {count}, 1:{scale} when printed without scaling. Crosses and blue numbers are the coordinate grid, metres."),
            number=str(number), count=str(len(pictures.blocks)), scale=str(pictures.block_scale),
        )  # fmt: skip
        yield b.picture(file, caption)
