"""What a practitioner would say on reading the plan: conflicts with the weather, lateness, gaps, cautions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from geoagro.season.calendars import dated_tasks
from geoagro.season.clock import Clock
from geoagro.season.crops import SeasonCrop
from geoagro.season.defaults import LIMITS
from geoagro.season.windows import PlantingDays, breaks, outside_text
from geoagro.season.work import Work
from geoagro.values.season import SeasonRule
from geoagro.values.season_tables import FINDINGS

Finding = tuple[str, str, str]


def all_findings(work: Work, stands: Any) -> Any:
    """Table FINDINGS, warnings first; `stands` are the lots with their days on the ground."""
    dated = dated_tasks(work.tasks, work.plan, work.late)
    rows = [
        *_window_conflicts(work.wanted, work.crops, work.days, work.rule),
        *_frost_on_standing(stands, work.crops, work.days),
        *_late(dated, work.people, work.clock),
        *_overlaps(stands),
        *_unpriced(work.crops, work.rule),
        *_cautions(work.crops),
        ("note", "money", "Prices, wages and yields are assumptions of the user, not a forecast by the program."),
    ]
    rank = {"warning": 0, "caution": 1, "note": 2}
    rows.sort(key=lambda row: rank[row[0]])
    return FINDINGS.frame({key: [row[k] for row in rows] for k, key in enumerate(FINDINGS.columns)})


def _window_conflicts(
    lots: Any, crops: dict[str, SeasonCrop], days: PlantingDays, rule: SeasonRule
) -> Iterator[Finding]:
    """One finding per window that is broken, for all crops and rounds that break it."""
    clock = days.clock
    group = lots["crop"].map(days.group).to_numpy(dtype=np.int64)
    moved = lots.assign(allowed=days.next_allowed(group, lots["plant_day"].to_numpy()))
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


def _frost_on_standing(stands: Any, crops: dict[str, SeasonCrop], days: PlantingDays) -> Iterator[Finding]:
    clock = days.clock
    for (planting, code, cycle), part in stands.groupby(["planting", "crop", "cycle"], sort=False):
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
            yield "warning", planting, f"{code} (round {cycle}) still stands when frost may come ({first}); {care}."


def _late(dated: Any, people: float, clock: Clock) -> Iterator[Finding]:
    late = dated[dated["late_days"] > 0]
    for task, part in late.groupby("task", sort=False):
        worst = int(part["late_days"].max())
        undone = int((part["end"] < clock.first).sum())
        left = f"; {undone} of them aren't done within the plan" if undone else ""
        text = (
            f"With {people:g} people {len(part)} of {int((dated['task'] == task).sum())} tasks '{task}' end after their latest "
            f"day, the worst by {worst} days{left}. Hire helpers for that time, or set season.crew.people: auto to see "
            "the crew it takes."
        )
        yield "warning", str(task), text


def _overlaps(stands: Any) -> Iterator[Finding]:
    """Find beds planted again while the same planting of the round before still stands."""
    keys = ["planting", "crop", "bed"]
    again = stands[stands["cycle"] > 1]
    before = stands[[*keys, "cycle", "end"]].assign(cycle=stands["cycle"] + 1)
    both = again.merge(before, on=[*keys, "cycle"], suffixes=("", "_before"))
    clash = both[both["begin"] <= both["end_before"]]
    for (planting, code), part in clash.groupby(["planting", "crop"], sort=False):
        weeks = int((part["end_before"] - part["begin"]).max() // 7) + 1
        text = (
            f"{code} is planted again up to {weeks} weeks before its last round is harvested; raise "
            "season.vegetables.every_weeks."
        )
        yield "warning", planting, text


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
