"""What ground that stands free costs: cutting what grows there, in hours and money, or a cover crop that stands there instead."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Bools, Floats
from geoagro.season.clock import Clock
from geoagro.season.husbandry.spans import free_spans
from geoagro.season.rates import BedRates
from geoagro.season.records.tables import COVER_PLANTING
from geoagro.season.task_frame import task_frame
from geoagro.season.windows import PlantingDays
from geoagro.values.recipe import Crop
from geoagro.values.rules.bed_kinds import VEGETABLE
from geoagro.values.season import SeasonRule
from geoagro.values.words import Sentence, crop_names, in_a_row, say

YEAR_DAYS = 365.25
CUT_SLACK_DAYS = 28
SOW_DAYS = 3
"""Days between the harvest of a crop and sowing a cover after it."""

COVER_ROUND = 101
"""Rounds of cover crops are numbered from here on, apart from those of the beds."""

COVERS: tuple[tuple[str, float, tuple[str, ...]], ...] = (
    ("cool", 24.0, ("rye", "hairy_vetch")),
    ("cool", 7.0, ("phacelia",)),
    ("warm", 24.0, ("jack_bean",)),
    ("warm", 14.0, ("velvet_bean",)),
    ("warm", 9.0, ("cowpea",)),
)
"""Season, least weeks, and crops of the library that cover the ground by then (their harvest weeks in the library)."""


def covers_asked(rule: SeasonRule) -> tuple[str, ...]:
    """Codes of the crops that may be sown on free ground."""
    asked = rule.free_beds.cover
    if asked == "none":
        return ()
    return tuple(dict.fromkeys(code for _, _, codes in COVERS for code in codes)) if asked == "auto" else tuple(asked)


def proposal(weeks: float, season: str) -> tuple[str, ...]:
    """Name what can cover the ground for so long; nothing where the time is too short.

    >>> proposal(30, "warm"), proposal(10, "cool"), proposal(3, "warm")
    (('jack_bean',), ('phacelia',), ())
    """
    return next((codes for kind, least, codes in COVERS if kind == season and weeks >= least), ())


def cover_lots(
    lots: pd.DataFrame, beds: pd.DataFrame, crops: Mapping[str, Crop], rule: SeasonRule, days: PlantingDays
) -> pd.DataFrame:
    """Lots of the cover crops that are sown where beds stand free for long enough.

    Sown a few days after the crop before, or on the first day that the weather windows allow, and cut a week before the
    next crop, or when their time is over. `beds` holds bed, row, walk and area_m2.
    """
    if rule.free_beds.cover == "none":
        return lots.iloc[:0]
    spans = free_spans(_wanted(lots, days.clock), beds, days.clock.last)
    span_weeks = (spans["free_to"] - spans["free_from"] + 1) / 7
    asked = _asked(rule, span_weeks.to_numpy(dtype=float), _frosty(spans["free_from"], spans["free_to"], days))
    parts = []
    year = spans["free_from"] // 365  # numbered alike in all beds, so that plantings are told together
    turns = (4 * year + spans.groupby(["bed", year]).cumcount()).tolist()
    for number, span, codes in zip(turns, spans.to_dict("records"), asked, strict=True):
        parts += [_cover(span, code, len(codes), number, crops[code]) for code in codes]
    frame = pd.DataFrame(parts)
    return frame.astype({name: lots[name].dtype for name in frame.columns}) if parts else lots.iloc[:0]


def _asked(rule: SeasonRule, weeks: Floats, cold: Bools) -> Iterator[tuple[str, ...]]:
    for span, frosty in zip(weeks.tolist(), cold.tolist(), strict=True):
        if span < rule.free_beds.least_weeks:
            yield ()
        elif rule.free_beds.cover == "auto":
            yield proposal(span, "cool" if frosty else "warm")
        else:
            yield tuple(rule.free_beds.cover)


def _cover(span: Mapping[Hashable, Any], code: str, companions: int, number: int, crop: Crop) -> dict[str, Any]:
    """One lot: a share of the ground at the crop's usual density."""
    sown = span["free_from"] + SOW_DAYS
    last = (crop.harvest_weeks or (0, 26))[1]
    ends = min(span["free_to"] - 7, sown + 7 * last) if span["next_planting"] else min(span["free_to"], sown + 7 * last)
    per_m2 = crop.usual_per_m2 or 1 / (crop.spacing_m or 0.3) ** 2
    return {
        "planting": COVER_PLANTING,
        "crop": code,
        "bed_kind": VEGETABLE.code,
        "row": span["row"],
        "bed": span["bed"],
        "kind": -1,
        "places": max(round(span["area_m2"] * per_m2 / companions), 1),
        "area_m2": span["area_m2"] / companions,
        "walk": span["walk"],
        "planting_no": COVER_ROUND + number,
        "plant_day": sown,
        "from_day": ends,
        "to_day": ends,
        "leaves_day": ends,
        "yield_share": 0.0,
        "prunings": (),
        "coppicings": (),
    }


def grown_covers(covers: pd.DataFrame, crops: Mapping[str, Crop]) -> pd.DataFrame:
    """Take out covers that a weather window delays until they have no time left to cover the ground."""
    full = covers["crop"].map({code: crops[code].full_size_weeks or 8.0 for code in covers["crop"].unique()})
    end = covers["to_day"] - (covers["plant_day"] - covers["wanted_day"])
    stands = end - covers["plant_day"] >= 7 * full.astype(float)
    return covers.assign(to_day=end, from_day=end, leaves_day=end)[stands].reset_index(drop=True)


def cut_tasks(lots: pd.DataFrame, beds: pd.DataFrame, rule: SeasonRule, rates: BedRates, clock: Clock) -> pd.DataFrame:
    """Cut what grows on free beds, `weeding.free_cuts_a_year` times a year, and each cover crop at its end.

    What is cut is left as mulch; no hoeing, for nothing stands there to be hoed free. A span shorter than the time
    between two cuts needs none: making the bed for the next planting clears it.
    """
    step = YEAR_DAYS / rule.weeding.free_cuts_a_year if rule.weeding.free_cuts_a_year else np.inf
    spans = free_spans(_wanted(lots, clock), beds, clock.last)
    length = (spans["free_to"] - spans["free_from"] + 1).to_numpy(dtype=float)
    times = whole_cuts(length / 7, rule.weeding.free_cuts_a_year).astype(np.int64)
    each = spans.loc[spans.index.repeat(times)]
    number = np.concatenate([np.arange(1, n + 1) for n in times]) if len(times) else np.zeros(0, dtype=np.int64)
    day = each["free_from"].to_numpy(dtype=np.int64) + np.round(number * step if len(number) else number).astype(
        np.int64
    )
    covers = lots[lots["planting"] == COVER_PLANTING].drop_duplicates(["bed", "planting_no"])
    covers = covers.assign(area_m2=covers["bed"].map(beds.set_index("bed")["area_m2"]).astype(float))
    keys = ["bed", "row", "walk", "area_m2"]
    ground = pd.concat([each[keys].assign(release=day, round=number), _ends(covers, keys)], ignore_index=True)
    year = np.maximum(ground["release"].to_numpy(dtype=np.int64), 0) // 365 + 1
    blank = {"lot": -1, "planting": "", "crop": "", "bed_kind": VEGETABLE.code, "planting_no": year, "places": 0}
    hours = ground["area_m2"] * rates.cut
    frame = ground.assign(**blank)
    return task_frame("cut", frame, round=ground["round"], hours=hours, release=ground["release"], slack=CUT_SLACK_DAYS)


def _ends(covers: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    return covers[keys].assign(release=covers["to_day"], round=1)


def _wanted(lots: pd.DataFrame, clock: Clock) -> pd.DataFrame:
    """From when to when the lots stand if all goes as wanted."""
    stands = lots[["bed", "planting"]].assign(begin=lots["plant_day"], end=np.minimum(lots["leaves_day"], clock.last))
    return stands[stands["begin"] <= clock.last]


def whole_cuts(weeks: Floats, cuts_a_year: float) -> Floats:
    """Cuts that fall due in spans of `weeks`, evenly spaced, the first one an interval after the ground came free.

    >>> import numpy as np
    >>> whole_cuts(np.array([10.0, 38.9, 278.3]), 3.0).tolist()
    [0.0, 2.0, 16.0]
    """
    return np.asarray(np.floor(weeks * 7 * cuts_a_year / YEAR_DAYS + 1e-9))


def with_upkeep(
    free: pd.DataFrame, tasks: pd.DataFrame, begin: Any, days: PlantingDays, rule: SeasonRule
) -> pd.DataFrame:
    """Add hours, cost and cover_crop to the spans in which beds stand free in the levelled plan.

    `tasks` are all tasks and `begin` the days on which they begin; each cut goes to the span of its bed in which it
    falls, or to the nearest one, since levelling may move a harvest past it.
    """
    first = free["free_from"].to_numpy().astype("datetime64[D]").astype(np.int64)
    zero = np.datetime64(days.clock.start, "D").astype(np.int64)
    done = (tasks["task"] == "cut").to_numpy() & (np.asarray(begin) > -(10**8))
    cuts = pd.DataFrame({"bed": tasks["bed"], "hours": tasks["hours"], "day": np.asarray(begin)})[done]
    spans = pd.DataFrame({"bed": free["bed"], "day": first - zero, "span": np.arange(len(free))}).sort_values("day")
    met = pd.merge_asof(cuts.sort_values("day"), spans, on="day", by="bed", direction="nearest")
    hours = np.bincount(
        met["span"].dropna().astype(np.int64), weights=met["hours"][met["span"].notna()], minlength=len(free)
    )
    wage = np.nan if rule.wage_per_hour is None else rule.wage_per_hour
    last = free["free_to"].to_numpy().astype("datetime64[D]").astype(np.int64)
    cold = _frosty(pd.Series(first - zero), pd.Series(last - zero), days)
    weeks = free["weeks"].to_numpy(dtype=float)
    cover = ["+".join(proposal(w, "cool" if c else "warm")) for w, c in zip(weeks, cold, strict=True)]
    return free.assign(hours=hours, cost=hours * wage, cover_crop=cover)


def _frosty(first: Any, last: Any, days: PlantingDays) -> Bools:
    """Whether frost may come at any time between two days: in any of the frost windows, hardy as the field's own crops may be."""
    if days.cold is None:
        return np.zeros(len(first), dtype=bool)
    frost = days.cold
    seen = np.concatenate([[0], np.cumsum(frost)])
    low, high = (np.clip(v.to_numpy(dtype=np.int64) - days.clock.first, 0, len(frost) - 1) for v in (first, last))
    return np.asarray(seen[high + 1] > seen[low])


def upkeep_words(hours: float, rule: SeasonRule) -> str:
    """Hours of upkeep in all, and their money where a wage is given.

    >>> upkeep_words(1820.0, SeasonRule(wage_per_hour=2.5, currency="EUR"))
    '1,820 h (4,550 EUR)'
    """
    if rule.wage_per_hour is None:
        return Sentence("{hours:.0f} h", hours=hours)
    cost = hours * rule.wage_per_hour
    return Sentence("{hours:.0f} h ({cost:.0f} {money})", hours=hours, cost=cost, money=rule.currency)


def upkeep_findings(
    free: pd.DataFrame, cut_hours: float, rates: BedRates, rule: SeasonRule
) -> Iterator[tuple[str, str, str]]:
    """One note on all ground that stands free."""
    if not len(free):
        return
    long = free[free["cover_crop"] != ""]
    covers = crop_names(sorted({code for codes in long["cover_crop"] for code in codes.split("+") if code}))
    advice = (
        Sentence(
            "In {n} of the spans a cover crop has time: {crops}. {key} sows them; or plant the next crop sooner.",
            n=len(long), crops=covers, key="`season.free_beds: {cover: auto}`",
        )
        if len(long)
        else Sentence("The spans are too short for a cover crop; mulch keeps weeds down.")
    )  # fmt: skip
    told = Sentence(
        "Beds that stand free: {beds}, for {weeks:.0f} bed-weeks in all, {after:.0f} of them after their last planting. The "
        "plan's work and money count {upkeep} for cutting what grows there {cuts:g} times a year, {each:.0f} h a hectare and "
        "cut ({source}).",
        beds=free["bed"].nunique(),
        weeks=free["weeks"].sum(),
        after=free.loc[free["next_planting"] == "", "weeks"].sum(),
        upkeep=upkeep_words(cut_hours, rule),
        cuts=rule.weeding.free_cuts_a_year,
        each=1e4 * rates.cut,
        source=Sentence.of(rates.source_of("cut")),
    )
    yield "note", say("free beds"), in_a_row(told, advice)
