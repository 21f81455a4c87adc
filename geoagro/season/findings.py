"""What to know before working by the plan: conflicts with the weather, lateness, gaps, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pandas as pd

from geoagro.season.calendars import dated_tasks
from geoagro.season.clock import Clock
from geoagro.season.crops import SeasonCrop
from geoagro.season.defaults import LIMITS
from geoagro.season.records.tables import FINDINGS
from geoagro.season.sensitivity import sensitivity_words
from geoagro.season.windows import PlantingDays, breaks, outside_text
from geoagro.season.work import Work
from geoagro.values.base.records import ints
from geoagro.values.season import SeasonRule
from geoagro.values.timeline import Timeline

Finding = tuple[str, str, str]


def all_findings(
    work: Work, stands: pd.DataFrame, sensitivity: pd.DataFrame, more: Iterable[Finding], *, company: bool
) -> pd.DataFrame:
    """Table FINDINGS, warnings first; `stands` are the lots with their days on the ground."""
    dated = dated_tasks(work.tasks, work.plan, work.late)
    rows = [
        *_window_conflicts(work.wanted, work.crops, work.days, work.rule),
        *_frost_on_standing(stands, work.crops, work.days),
        *_late(dated, work),
        *_planted_over(work.timeline),
        *_unpriced(work.crops, work.rule),
        *_cautions(work.crops),
        *_whose(work.crops, sensitivity, work.rule, company=company),
        *more,
    ]
    rank = {"warning": 0, "caution": 1, "note": 2}
    rows.sort(key=lambda row: rank[row[0]])
    return FINDINGS.frame({key: [row[k] for row in rows] for k, key in enumerate(FINDINGS.columns)})


def _window_conflicts(
    lots: pd.DataFrame, crops: dict[str, SeasonCrop], days: PlantingDays, rule: SeasonRule
) -> Iterator[Finding]:
    """One finding per window that is broken, for all crops and rounds that break it."""
    clock = days.clock
    group = np.asarray(lots["crop"].map(days.group).to_numpy(), dtype=np.int64)
    moved = lots.assign(allowed=days.next_allowed(group, ints(lots, "plant_day")))
    moved = moved[moved["allowed"] > moved["plant_day"]].drop_duplicates(["crop", "plant_day"])
    broken = [
        " and ".join(outside_text(w) for w in breaks(crops[crop], rule.windows, clock, day))
        for crop, day in zip(moved["crop"], moved["plant_day"], strict=True)
    ]
    for text, part in moved.assign(broken=broken).groupby("broken", sort=False):
        wanted = part.drop_duplicates("plant_day").sort_values("plant_day")
        pairs = [
            f"{clock.dates(w)} (first allowed {_allowed(a, clock)})" for w, a in wanted[["plant_day", "allowed"]].values
        ]
        worst = int((part["allowed"] - part["plant_day"]).max())
        told = (
            f"{', '.join(part['crop'].unique())}: wanted {text} on {', '.join(pairs)}. The plan uses the first day allowed, up to "
            f"{worst} days later; move the planting weeks or the start to fit."
        )
        yield "warning", "weather", told


def _allowed(day: int, clock: Clock) -> str:
    return str(clock.dates(day)) if day <= clock.last else "after the end of the plan"


def _frost_on_standing(stands: pd.DataFrame, crops: dict[str, SeasonCrop], days: PlantingDays) -> Iterator[Finding]:
    clock = days.clock
    for (planting, code, cycle), part in stands.groupby(["planting", "crop", "planting_no"], sort=False):
        if code not in days.frost:
            continue
        begin, end = int(part["begin"].min()), int(part["end"].max())
        cold = np.flatnonzero(days.frost[code][begin - clock.first : end + 1 - clock.first])
        if len(cold):
            first = clock.dates(begin + int(cold[0]))
            care = (
                "protect it in the first winters"
                if crops[code].habit in {"tree", "shrub"}
                else "harvest before, or plant earlier"
            )
            yield (
                "warning",
                str(planting),
                f"{code} (planting no. {cycle}) still stands when frost may come ({first}); {care}.",
            )


def _late(dated: pd.DataFrame, work: Work) -> Iterator[Finding]:
    late = dated[dated["late_days"] > 0]
    if work.enough > work.people:
        remedy = f"With {work.enough:g} people nothing would be late that can be in time; helpers for a while may do."
    else:
        remedy = "More people wouldn't help: a weather window, a pause or the crop before stands in the way."
    for task, part in late.groupby("task", sort=False):
        undone = int((part["end"] < work.clock.first).sum())
        left = f"; {undone:,} of them aren't done within the plan" if undone else ""
        whole = int((dated["task"] == task).sum())
        text = (
            f"With {work.people:g} people {_DOING[str(task)]} ends after its latest day in {len(part):,} of {whole:,} cases (bed, crop, "
            f"round), the worst by {int(part['late_days'].max())} days{left}. {remedy}"
        )
        yield "warning", str(task), text


_DOING = {
    "fence": "fencing",
    "nursery": "nursery work",
    "prepare": "bed preparation",
    "plant": "planting",
    "water": "watering",
    "mulch": "mulching",
    "weed": "weeding",
    "replace": "replacing what died",
    "cut": "cutting free beds",
    "prune": "pruning",
    "fell": "felling",
    "harvest": "harvest",
}


def _planted_over(timeline: Timeline) -> Iterator[Finding]:
    """Find places that are planted again before their crop's life ends, and say what that means."""
    for kind in timeline.kinds:
        first = kind.stays[0]
        if first.end_week == first.life_end_week:
            continue
        step, ripe = first.end_week - first.plant_week, first.harvest_from_week - first.plant_week
        if not first.bears:
            text = (
                f"{kind.crop} is planted again every {step} weeks, but isn't ready before week {ripe} after planting, so it never "
                f"bears. Raise season.vegetables.every_weeks to {ripe + 1} or more."
            )
            yield "warning", kind.planting, text
        else:
            text = (
                f"{kind.crop} could stand for {first.life_end_week - first.plant_week} weeks, but is planted again every {step} weeks; "
                f"it is harvested by then, from week {ripe} after planting on."
            )
            yield "note", kind.planting, text


def _own_money(rule: SeasonRule) -> str:
    """Name the user's assumptions about money, and those that the program made where the design says nothing."""
    given = rule.model_fields_set
    words = {"discount_rate": "the discount rate", "labour_range": "the range of hours"}
    yours = ["prices", "wages", "costs", *(text for key, text in words.items() if key in given)]
    ours = [
        f"{text} ({value})"
        for key, text, value in (
            ("discount_rate", words["discount_rate"], f"{100 * rule.discount_rate:g} %"),
            ("labour_range", words["labour_range"], " to ".join(f"{v:g}" for v in rule.labour_range.values[::2])),
        )
        if key not in given
    ]
    left = f" The program's default: {', '.join(ours)}." if ours else ""
    return f"{', '.join(yours[:-1]).capitalize()} and {yours[-1]} are your assumptions.{left}"


def _whose(
    crops: dict[str, SeasonCrop], sensitivity: pd.DataFrame, rule: SeasonRule, *, company: bool
) -> Iterator[Finding]:
    """Say which assumptions are the user's and which the library's, and which single one decides most."""
    bearing = [c for c in crops.values() if c.yield_kg is not None and c.yield_kg.high > 0]
    own = [c.code for c in bearing if c.whose("yield") == "yours"]
    library = [c.code for c in bearing if c.whose("yield") != "yours"]
    parts = [_own_money(rule)]
    parts += [f"Yields of {', '.join(own)} are yours."] if own else []
    if library:
        parts.append(
            f"Yields of {', '.join(library)} are the library's good-practice yields, not a forecast (a national average where the source says so); season.region_yield_share scales "
            "them to your region."
        )
    parts.append(
        "What company, density and shade leave of them comes from the light model (table yields_in_company of the layout)."
        if company
        else "Every place is taken to yield as if it stood alone."
    )
    yield "note", "money", " ".join(parts)
    told = " ".join(sensitivity_words(sensitivity))
    if told:
        yield "note", "money", told


def _unpriced(crops: dict[str, SeasonCrop], rule: SeasonRule) -> Iterator[Finding]:
    bare = [c.code for c in crops.values() if c.yield_kg is not None and c.yield_kg.high > 0 and c.price is None]
    if bare:
        yield (
            "warning",
            "money",
            f"No price for {', '.join(bare)}: their harvest counts as 0. Give season.crops.<crop>.price.",
        )
    free = [c.code for c in crops.values() if c.unit_cost is None]
    if free:
        yield "note", "money", f"No unit cost for the material of {', '.join(free)}: counted as 0."
    if rule.wage_per_hour is None:
        yield "note", "money", "No season.wage_per_hour: labour is counted in hours but costs 0."


def _cautions(crops: dict[str, SeasonCrop]) -> Iterator[Finding]:
    for crop in crops.values():
        text = " ".join(part for part in (crop.caution, LIMITS.get(crop.code)) if part)
        if text:
            yield "caution", crop.code, text
