"""What an officer looks for: facts on the first page, and the second page with ground, species, trees and proofs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

import pandas as pd

from geoagro.outputs.report import blocks as b
from geoagro.outputs.report.areas import item_words
from geoagro.outputs.report.blocks import Block
from geoagro.outputs.words.say import Words
from geoagro.reports.records.account import Account
from geoagro.values.base.records import Record, records
from geoagro.values.report import ReportRule
from geoagro.values.words import say

_MOST_IDS, _MOST_PARCELS, _MOST_SPECIES, _MOST_PHOTOS = 8, 6, 16, 6
"""So much of each finds room on the first two pages; the rest stands in the tables."""
_LEAST_M2 = 0.5
"""Less rounds to nothing on the page; every tenth stands in the table."""
LINE_SIGNS = 96
"""Signs that find room on a line of facts."""


def facts(account: Account, rule: ReportRule, words: Words) -> list[Block]:
    """Give the lines of the first page: who claims what, where, and how exact it is."""
    given = (
        (say("Holder"), rule.holder or ""),
        (say("Programme"), rule.programme or ""),
        (say("Parcels"), _ids(account, words)),
        (say("Eligible"), _eligible_words(account, rule, words)),
        (say("How exact"), uncertainty_sentence(account, rule, words)),
    )
    return [{"label": words(label), "value": value} for label, value in given if value]


def fact_lines(lines: Sequence[Block]) -> int:
    """Lines on paper that facts take."""
    return sum(max(1, math.ceil(len(line["value"]) / LINE_SIGNS)) for line in lines)


def _ids(account: Account, words: Words) -> str:
    if not account.claim.by_parcel:
        return ""
    ids = account.claim.parcels["parcel"].tolist()
    listed = ", ".join(ids[:_MOST_IDS])
    return (
        listed if len(ids) <= _MOST_IDS else words(say("{ids} and {more} more"), ids=listed, more=len(ids) - _MOST_IDS)
    )


def _eligible_words(account: Account, rule: ReportRule, words: Words) -> str:
    claim = account.claim
    if rule.eligible is None:
        return words(say("no rule of a programme is given (report.eligible), so nothing is said about eligible area"))
    return words(
        say("{eligible} ha count and {other} ha don't, by the rule that the design gives ({measured}); see page 2"),
        eligible=words.hectares(claim.eligible_m2, account.area_sd_m2),
        other=words.hectares(claim.not_eligible_m2, account.area_sd_m2),
        measured=words(say("areas on the ellipsoid")) if rule.eligible.measured == "ellipsoid" else words(say("areas on the map")),
    )  # fmt: skip


def uncertainty_sentence(account: Account, rule: ReportRule, words: Words) -> str:
    """Say in one sentence how uncertain the field's area is, and on whose word."""
    head, sd = account.headline, account.area_sd_m2
    area, spread = words.hectares(head.field_m2, sd), words.hectares(2 * sd, sd)
    if rule.boundary_error_m is not None:
        return words(
            say("the field's {area} ha are uncertain by ± {spread} ha (two standard deviations), if points of the boundary err by {error:.2f} m as the design states"),
            area=area, spread=spread, error=rule.boundary_error_m,
        )  # fmt: skip
    return words(
        say("unknown, as nobody stated how the boundary was surveyed; walked with a phone, the field's {area} ha would be uncertain by ± {spread} ha (two standard deviations)"),
        area=area, spread=spread,
    )  # fmt: skip


def officer_blocks(account: Account, rule: ReportRule, words: Words) -> Iterator[Block]:
    """Give the second page."""
    yield b.heading(words(say("For the programme")))
    yield from _ground(account, rule, words)
    yield from _species(account, rule, words)
    yield from _by_year(account, words)
    yield from _photos(account, words)
    yield from _surveyed(account, words)


def _ground(account: Account, rule: ReportRule, words: Words) -> Iterator[Block]:
    claim, number = account.claim, words.number
    yield b.heading(words(say("Parcels and eligible ground")), 2)
    rows = [
        b.row([
            words(r.text("parcel")) if not claim.by_parcel else r.text("parcel"), number(r.number("area_m2")), number(r.number("geodesic_area_m2")),
            number(r.number("planted_m2")), number(r.number("eligible_m2")), number(r.number("not_eligible_m2")), number(r.number("trees")),
            number(r.number("trees_per_ha")), _broken(r.text("broken"), words),
        ])
        for r in records(claim.parcels.head(_MOST_PARCELS))
    ]  # fmt: skip
    if len(claim.parcels) > 1:
        sums = [claim.parcels[n].sum(skipna=False) for n in ("area_m2", "geodesic_area_m2", "planted_m2", "eligible_m2", "not_eligible_m2", "trees")]  # fmt: skip
        rows.append(b.row([words(say("All")), *(number(v) for v in sums), "", ""], strong=True))
    heads = (
        say("Map\nm²"), say("Ellipsoid\nm²"), say("Planted\nm²"), say("Eligible\nm²"), say("Not eligible\nm²"), say("Trees"),
        say("Trees\nper ha"),
    )  # fmt: skip
    columns = [b.column(words(say("Parcel")), align="left", width=1), *(b.column(words(h)) for h in heads)]
    yield b.grid([*columns, b.column(words(say("Limits broken")), align="left", width=1, note=True)], rows)
    yield from _more(len(claim.parcels) - _MOST_PARCELS, "report_parcels.csv", words)
    if rule.eligible is None:
        yield b.small(
            words(say("No rule of a programme is given (report.eligible), so nothing is said about eligible ground."))
        )
        return
    yield from _kinds(account, words)
    yield from _limits(account, words)


_LIMITS = {
    "min_trees_per_ha": say("fewest trees per ha"),
    "max_trees_per_ha": say("most trees per ha"),
    "min_canopy_pct": say("least ground under crowns of trees, %"),
    "max_canopy_pct": say("most ground under crowns of trees, %"),
    "min_native_pct": say("least share of native trees, %"),
    "min_tree_species": say("fewest species of trees"),
    "min_parcel_m2": say("smallest parcel, m²"),
    "min_counted_m2": say("least ground that counts, m²"),
}
"""What each limit of a rule asks for, by its key."""


def _limit_words(key: str, words: Words) -> str:
    return words(_LIMITS.get(key, key))


def _broken(keys: str, words: Words) -> str:
    return words.listed(_limit_words(key, words) for key in keys.split(", ")) if keys else words(say("none"))


def _kinds(account: Account, words: Words) -> Iterator[Block]:
    """Say of each kind of ground whether it counts and which key made it so, all parcels together."""
    table = account.claim.eligible.groupby(["item", "eligible", "rule"], sort=False)["area_m2"].sum().reset_index()
    told = {
        "ground": {"yes": "", "no": say("the rule doesn't count it")},
        "planted_only": {"no": say("no plants")},
    }
    texts = []
    for r in records(table[table["area_m2"].abs() >= _LEAST_M2]):
        why = told.get(r.text("rule"), {}).get(r.text("eligible"))
        reason = words(say("parcel breaks: {rule}"), rule=_broken(r.text("rule"), words)) if why is None else words(why)
        texts.append(
            (
                r.text("eligible"),
                f"{item_words(r.text('item'), words)} {words.number(r.number('area_m2'))} m²{f' ({reason})' if reason else ''}",
            )
        )
    for answer, label in (("yes", say("Counts: {kinds}.")), ("no", say("Doesn't count: {kinds}."))):
        kinds = words.listed(text for yes, text in texts if yes == answer)
        if kinds:
            yield b.small(words(label, kinds=kinds))


def _limits(account: Account, words: Words) -> Iterator[Block]:
    """Say each limit of the rule, what was found and whether it is kept, of the first parcels."""
    table = account.claim.conditions
    if len(table) == 0:
        yield b.small(words(say("The rule sets no limits on parcels.")))
        return
    parcels = table["parcel"].unique()[:_MOST_PARCELS].tolist()
    rows = []
    for rule, part in table[table["parcel"].isin(parcels)].groupby("rule", sort=False):
        lines = {r.text("parcel"): r for r in records(part)}
        asked = words.brief(float(part["asked"].iloc[0]))
        rows.append(
            b.row([_limit_words(str(rule), words), asked, *(_found(lines[parcel], words) for parcel in parcels)])
        )
    heads = parcels if account.claim.by_parcel else [words(say("Found"))]
    columns = [b.column(words(say("Limits of the rule")), align="left", width=1), b.column(words(say("Limit")))]
    yield b.grid([*columns, *(b.column(str(head)) for head in heads)], rows)
    yield b.small(words(say("Found on each parcel; kept where nothing else is said.")))
    yield from _more(len(table["parcel"].unique()) - _MOST_PARCELS, "report_conditions.csv", words)


def _found(condition: Record, words: Words) -> str:
    """Say what was found, and where a limit isn't kept that it is broken."""
    found = condition.number("found")
    told = words.number(found, 1) if math.isfinite(found) else words(say("unknown"))
    return told if condition.text("met") == "yes" else words(say("{found}: broken"), found=told)


HABITS = (say("tree"), say("shrub"), say("herb"), say("grass"), say("vine"))
"""Habits of plants, as tables hold them."""


def _species(account: Account, rule: ReportRule, words: Words) -> Iterator[Block]:
    yield b.heading(words(say("Species")), 2)
    table, number = account.claim.species, words.number
    alive = _alive(account)
    rows = [
        b.row([
            r.text("scientific") or "–", words.crop(r.text("name")), words(r.text("habit")), words(r.text("native")) or "–", r.text("provenance") or "–",
            _span(r.text("first_planted"), r.text("last_planted"), words), number(r.number("plants")), number(r.number("standing_now")),
            alive.get(r.text("crop"), "–"), number(r.number("per_ha_field"), 1),
        ])
        for r in records(table.head(_MOST_SPECIES))
    ]  # fmt: skip
    left = (say("Scientific name"), say("Crop"), say("Habit"), say("Native"), say("Provenance"), say("First planting"))
    heads = (say("Points"), say("Standing\nnow"), say("Found\nalive"), say("per ha\nfield"))
    columns = [b.column(words(h), align="left", width=2 if k in {0, 4} else "auto") for k, h in enumerate(left)]
    yield b.grid([*columns, *(b.column(words(h)) for h in heads)], rows, size=7.5)
    yield from _more(len(table) - _MOST_SPECIES, "report_species.csv", words)
    yield b.small(_species_words(account, rule, words))


def _alive(account: Account) -> dict[str, str]:
    """Alive of looked at, by crop, in the last survey that counted plants."""
    if len(account.survival) == 0:
        return {}
    last = account.survival[account.survival["survey"] == account.survival["survey"].iloc[-1]]
    return {r.text("crop"): f"{r.number('alive'):.0f}/{r.number('surveyed'):.0f}" for r in records(last)}


def _span(first: str, last: str, words: Words) -> str:
    """Write first and last day as the language does; a dash where the design has no start."""
    if not first:
        return "–"
    return words.days(date.fromisoformat(first), date.fromisoformat(last or first))


def day_words(text: str, words: Words) -> str:
    """Write a day as the language does; what is no date stays, and nothing is a dash."""
    try:
        return words.short_day(date.fromisoformat(text))
    except ValueError:
        return text or "–"


def _species_words(account: Account, rule: ReportRule, words: Words) -> str:
    texts = [
        words(say("Native by the list {source}: a kind that it doesn't name is told as not native."), source=rule.native.source or (rule.native.file.name if rule.native.file else words(say("in the design"))))
        if rule.native
        else words(say("No list of native kinds is given (report.native)."))
    ]  # fmt: skip
    if not rule.provenance:
        texts.append(words(say("No provenance is stated (report.provenance).")))
    if math.isnan(account.claim.now_year):
        texts.append(words(say("What stands now is unknown: it needs start_date and report.as_of.")))
    else:
        texts.append(words(say("Standing now is what the plan has on the report's day; deaths show in surveys only.")))
    if len(account.survival):
        texts.append(
            words(
                say("Found alive is of those looked at in survey {survey}."), survey=account.survival["survey"].iloc[-1]
            )
        )
    return " ".join(texts)


def _by_year(account: Account, words: Words) -> Iterator[Block]:
    claim, number = account.claim, words.number
    yield b.heading(words(say("Trees and crowns by age, as planned")), 2)
    table = claim.by_year
    now = [abs(year - claim.now_year) < 1e-9 for year in table["year"]]
    heads = [
        words(say("now ({year:.1f})"), year=r.number("year"))
        if here
        else words(say("year {year}"), year=int(r.number("year")))
        for here, r in zip(now, records(table), strict=True)
    ]
    lines = (
        (say("Trees per hectare of field"), "trees_per_ha_field", 1),
        (say("Trees"), "trees", 0),
        (say("Under crowns of that age, % of field"), "canopy_pct", 1),
    )
    rows = [b.row([words(label), *(number(v, d) for v in table[name])]) for label, name, d in lines]
    yield b.grid([b.column("", align="left", width=1), *(b.column(head) for head in heads)], rows)
    full = 100 * account.headline.canopy_cover_m2 / account.headline.field_m2
    yield b.small(
        words(say("Crowns grow evenly to full size, when they would cover {full:.1f} % of the field."), full=full)
    )


def _photos(account: Account, words: Words) -> Iterator[Block]:
    photos = account.claim.photos
    yield b.heading(words(say("Photos")), 2)
    if len(photos) == 0:
        yield b.small(words(say("No photos: neither report.photos nor a survey names any.")))
        return
    rows = [
        b.row([
            r.text("photo"), day_words(r.text("date"), words), words.number(r.number("lat"), 6), words.number(r.number("lon"), 6),
            words.number(r.number("bearing_deg")), r.text("shows"), r.text("source"),
        ])
        for r in records(pd.DataFrame(photos.drop(columns="geometry")).head(_MOST_PHOTOS))
    ]  # fmt: skip
    left: dict[str, Any] = {"align": "left"}
    right: dict[str, Any] = {}
    heads: tuple[tuple[str, dict[str, Any]], ...] = (
        (say("Photo"), left), (say("Day"), left), (say("Latitude"), right), (say("Longitude"), right), (say("Looks to, °"), right),
        (say("Shows"), {**left, "width": 1}), (say("From"), left),
    )  # fmt: skip
    yield b.grid([b.column(words(h), **how) for h, how in heads], rows)
    yield from _more(len(photos) - _MOST_PHOTOS, "report_photos.csv", words)


def _surveyed(account: Account, words: Words) -> Iterator[Block]:
    table = account.claim.surveyed
    yield b.heading(words(say("Who surveyed")), 2)
    if len(table) == 0:
        yield b.small(
            words(
                say("Nobody stated who surveyed the boundary (report.boundary_survey), and the field wasn't surveyed.")
            )
        )
        return
    not_said = words(say("not stated"))
    rows = [
        b.row([
            words(r.text("survey")), day_words(r.text("day"), words), r.text("by") or not_said, r.text("receiver") or not_said,
            words.number(r.number("error_m"), 2),
        ])
        for r in records(table.tail(_MOST_PHOTOS))
    ]  # fmt: skip
    heads = (say("Survey"), say("Day"), say("By"), say("Receiver"))
    columns = [b.column(words(h), align="left", width=1 if k != 1 else "auto") for k, h in enumerate(heads)]
    yield b.grid([*columns, b.column(words(say("Error of a\npoint, m")))], rows)


def indicator_blocks(account: Account, words: Words) -> Iterator[Block]:
    """Give the indicators with their definitions."""
    table = account.claim.indicators
    if len(table) == 0:
        return
    yield b.heading(words(say("Indicators and what they mean")))
    names = {
        "woody_species": say("Woody species"), "woody_diversity": say("Diversity of woody plants"), "native_trees": say("Native trees"),
        "survival": say("Survival"), "biomass_chave": say("Biomass, first equation"), "biomass_kuyah": say("Biomass, second equation"),
    }  # fmt: skip
    decimals = {"woody_diversity": 2, "native_trees": 1, "survival": 1}
    rows = []
    for r in records(table):
        key, unit = r.text("indicator"), r.text("unit")
        low, high, places = r.number("low"), r.number("high"), decimals.get(r.text("indicator"), 0)
        span = f"{words.number(low, places)} – {words.number(high, places)}" if math.isfinite(low) else ""
        number = words.number(r.number("value"), places)
        value = words(say("{number} %"), number=number) if unit == "%" else f"{number} {unit}".strip()
        rows.append(
            b.row(
                [
                    words(names[key]),
                    value,
                    span,
                    words.number(r.number("counted")),
                    words(r.text("definition")),
                    r.text("source"),
                ]
            )
        )
    columns = [
        b.column(words(say("Indicator")), align="left"),
        *(b.column(words(h)) for h in (say("Value"), say("From – to"), say("Plants"))),
        b.column(words(say("What it is")), align="left", width=2, note=True),
        b.column(words(say("After")), align="left", width=1, note=True),
    ]
    yield b.grid(columns, rows)
    yield b.small(
        words(
            say("Not told, as nothing here supports it: carbon, soil, and how many kinds of animals live in the field.")
        )
    )


def _more(count: int, file: str, words: Words) -> Iterator[Block]:
    if count > 0:
        yield b.small(words(say("{count} more stand in {file} and the spreadsheet."), count=count, file=file))
