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
from geoagro.values.words import CropName, Sentence, crop_names, in_a_row, say

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
    levels = ("warning", "caution", "note")
    rows.sort(key=lambda row: levels.index(row[0]))
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
        "|".join(str(rule.windows.index(w)) for w in breaks(crops[crop], rule.windows, clock, day))
        for crop, day in zip(moved["crop"], moved["plant_day"], strict=True)
    ]
    for places, part in moved.assign(broken=broken).groupby("broken", sort=False):
        wanted = part.drop_duplicates("plant_day").sort_values("plant_day")
        pairs = tuple(_pair(w, a, clock) for w, a in wanted[["plant_day", "allowed"]].to_numpy())
        windows = tuple(outside_text(rule.windows[int(place)]) for place in str(places).split("|") if place)
        worst = int((part["allowed"] - part["plant_day"]).max())
        told = Sentence(
            "{crops}: wanted {windows} on {days}. The plan uses the first day allowed, up to {n} {n:day "
            "later|days later}; move the planting weeks or the start to fit.",
            crops=crop_names(part["crop"].unique()),
            windows=windows,
            days=pairs,
            n=worst,
        )
        yield "warning", say("weather"), told


def _pair(wanted: int, allowed: int, clock: Clock) -> Sentence:
    day = clock.dates(wanted).item()
    if allowed > clock.last:
        return Sentence("{day} (first allowed after the end of the plan)", day=day)
    return Sentence("{day} (first allowed {allowed})", day=day, allowed=clock.dates(allowed).item())


def _frost_on_standing(stands: pd.DataFrame, crops: dict[str, SeasonCrop], days: PlantingDays) -> Iterator[Finding]:
    clock = days.clock
    for (planting, code, cycle), part in stands.groupby(["planting", "crop", "planting_no"], sort=False):
        if code not in days.frost:
            continue
        begin, end = int(part["begin"].min()), int(part["end"].max())
        cold = np.flatnonzero(days.frost[code][begin - clock.first : end + 1 - clock.first])
        if len(cold):
            first = clock.dates(begin + int(cold[0]))
            told = {"crop": CropName(crops[code].name), "n": str(cycle), "day": first.item()}
            yield (
                "warning",
                str(planting),
                Sentence(
                    "{crop} (planting no. {n}) still stands when frost may come ({day}); protect it in the first winters.",
                    **told,
                )
                if crops[code].habit in {"tree", "shrub"}
                else Sentence(
                    "{crop} (planting no. {n}) still stands when frost may come ({day}); harvest before, or plant earlier.",
                    **told,
                ),
            )


def _late(dated: pd.DataFrame, work: Work) -> Iterator[Finding]:
    late = dated[dated["late_days"] > 0]
    if work.enough > work.people:
        remedy = Sentence(
            "With {n:g} people nothing would be late that can be in time; helpers for a while may do.", n=work.enough
        )
    else:
        remedy = Sentence(
            "More people wouldn't help: a weather window, a pause or the crop before holds the work back."
        )
    for task, part in late.groupby("task", sort=False):
        undone = int((part["end"] < work.clock.first).sum())
        left = Sentence("Cases not done within the plan: {n}.", n=undone) if undone else ""
        text = Sentence(
            "With {people:g} people this work ends after its latest day in {n} of {whole} cases (bed, crop, "
            "planting), the worst by {days} {days:day|days}.",
            people=work.people,
            n=len(part),
            whole=int((dated["task"] == task).sum()),
            days=int(part["late_days"].max()),
        )
        yield "warning", str(task), in_a_row(text, left, remedy)


def _planted_over(timeline: Timeline) -> Iterator[Finding]:
    """Find places that are planted again before their crop's life ends, and say what that means."""
    for kind in timeline.kinds:
        first = kind.stays[0]
        if first.end_week == first.life_end_week:
            continue
        step, ripe = first.end_week - first.plant_week, first.harvest_from_week - first.plant_week
        if not first.bears:
            text = Sentence(
                "{crop} is planted again every {step} weeks, but isn't ready before week {ripe} after planting, so it never bears. "
                "Raise season.vegetables.every_weeks to {least} or more.",
                crop=crop_names([kind.crop]),
                step=step,
                ripe=ripe,
                least=ripe + 1,
            )
            yield "warning", kind.planting, text
        else:
            text = Sentence(
                "The crop ({crop}) could stand for {life} weeks, but is planted again every {step} weeks; it is harvested by then, from week "
                "{ripe} after planting on.",
                crop=crop_names([kind.crop]),
                life=first.life_end_week - first.plant_week,
                step=step,
                ripe=ripe,
            )
            yield "note", kind.planting, text


def _own_money(rule: SeasonRule) -> str:
    """Name the user's assumptions about money, and those that the program made where the design says nothing."""
    rate, low, high = rule.discount_rate_pct, *rule.labour_range.values[::2]
    given = rule.model_fields_set
    parts = [
        Sentence("Prices, wages and costs are your assumptions."),
        Sentence("The discount rate is yours: {rate:g} %.", rate=rate)
        if "discount_rate_pct" in given
        else Sentence("The discount rate is the program's default: {rate:g} %.", rate=rate),
        Sentence("The range of hours is yours: {low:g} to {high:g}.", low=low, high=high)
        if "labour_range" in given
        else Sentence("The range of hours is the program's default: {low:g} to {high:g}.", low=low, high=high),
    ]
    return in_a_row(*parts)


def _whose(
    crops: dict[str, SeasonCrop], sensitivity: pd.DataFrame, rule: SeasonRule, *, company: bool
) -> Iterator[Finding]:
    """Say which assumptions are the user's and which the library's, and which single one decides most."""
    bearing = [c for c in crops.values() if c.yield_kg is not None and c.yield_kg.high > 0]
    own = [c.name for c in bearing if c.whose("yield") == "yours"]
    library = [c.name for c in bearing if c.whose("yield") != "yours"]
    parts = [_own_money(rule)]
    parts += [Sentence("Yields of {crops} are yours.", crops=crop_names(own))] if own else []
    if library:
        parts.append(
            Sentence(
                "Yields of {crops} are the library's good-practice yields, not a forecast (a national average where the source "
                "says so); season.region_yield_pct scales them to your region.",
                crops=crop_names(library),
            )
        )
    parts.append(
        Sentence(
            "What company, density and shade leave of them comes from the light model (table yields_in_company of the layout)."
        )
        if company
        else Sentence("Every place is taken to yield as if it stood alone.")
    )
    yield "note", say("money"), in_a_row(*parts)
    told = in_a_row(*sensitivity_words(sensitivity))
    if told:
        yield "note", "money", told


def _unpriced(crops: dict[str, SeasonCrop], rule: SeasonRule) -> Iterator[Finding]:
    bare = [c.name for c in crops.values() if c.yield_kg is not None and c.yield_kg.high > 0 and c.price is None]
    if bare:
        yield (
            "warning",
            "money",
            Sentence(
                "No price for {crops}: their harvest counts as 0. Give season.crops.<crop>.price.",
                crops=crop_names(bare),
            ),
        )
    free = [c.name for c in crops.values() if c.unit_cost is None]
    if free:
        yield (
            "note",
            "money",
            Sentence("No unit cost for the material of {crops}: counted as 0.", crops=crop_names(free)),
        )
    if rule.wage_per_hour is None:
        yield "note", "money", say("No season.wage_per_hour: labour is counted in hours but costs 0.")


def _cautions(crops: dict[str, SeasonCrop]) -> Iterator[Finding]:
    for crop in crops.values():
        text = in_a_row(crop.caution or "", LIMITS.get(crop.code, ""))
        if text:
            yield "caution", crop.code, text
