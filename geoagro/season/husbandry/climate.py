"""Planting windows and dry spells from the monthly climate that the user gives; nothing is invented."""

from __future__ import annotations

import calendar
from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from geoagro.season.clock import Clock
from geoagro.season.crops import SeasonCrop
from geoagro.values.season import MONTH_NAMES, Climate, SeasonRule, Window
from geoagro.values.words import CropName, Sentence, in_a_row, say


def with_windows(rule: SeasonRule, climate: Climate) -> SeasonRule:
    """Add windows by the climate for each kind (rains, frost) of which the design gives none of its own."""
    given = {window.kind for window in rule.windows}
    below = rule.climate.frost_below_c if rule.climate else 2.0
    wet = [not dry for dry in climate.dry()]
    added = [
        *(_windows("rains", wet, climate) if "rains" not in given else ()),
        *(_windows("frost", climate.frosty(below), climate) if "frost" not in given else ()),
    ]
    return rule.model_copy(update={"windows": (*rule.windows, *added)})


def _windows(kind: str, months: Sequence[bool], climate: Climate) -> Iterator[Window]:
    """One window for each run of months, over New Year where it runs over it; none where all or no month counts."""
    if all(months) or not any(months):
        return
    for first, last in runs(months):
        days = calendar.monthrange(2001, last)[1]
        told = {"months": _months(first, last), "file": climate.file}
        name = (
            Sentence("rains {months} by {file}", **told)
            if kind == "rains"
            else Sentence("frost {months} by {file}", **told)
        )
        window = Window(name=name, kind=kind, first=f"{first:02d}-01", last=f"{last:02d}-{days:02d}")
        yield window.model_copy(update={"name": name})  # a checked name is plain; this one can be said in any language


def _months(first: int, last: int) -> Sentence:
    return Sentence("{a}-{b}", a=Sentence(MONTH_NAMES[first - 1]), b=Sentence(MONTH_NAMES[last - 1]))


def runs(months: Sequence[bool]) -> list[tuple[int, int]]:
    """First and last month (1 to 12) of each run of months that count, round the year.

    >>> runs([True, True] + [False] * 8 + [True, True])
    [(11, 2)]
    """
    starts = [k for k in range(12) if months[k] and not months[k - 1]]
    found = []
    for start in starts:
        length = next(n for n in range(1, 12) if not months[(start + n) % 12])
        found.append((start + 1, (start + length - 1) % 12 + 1))
    return found


def climate_findings(
    stands: pd.DataFrame, crops: dict[str, SeasonCrop], climate: Climate, clock: Clock
) -> Iterator[tuple[str, str, str]]:
    """One note on the dry months: which short-lived crops stand in them."""
    dry = climate.dry()
    if not any(dry):
        return
    spells = (Sentence("all year"),) if all(dry) else tuple(_months(a, b) for a, b in runs(dry))
    inside = np.array(dry)[np.asarray(clock.dates(clock.days).astype("datetime64[M]").astype(np.int64)) % 12]
    seen = np.concatenate([[0], np.cumsum(inside)])
    days = seen[stands["end"].to_numpy() + 1 - clock.first] - seen[stands["begin"].to_numpy() - clock.first]
    once = ~stands["crop"].map({code: crop.perennial for code, crop in crops.items()}).to_numpy(dtype=bool)
    weeks = (stands.assign(weeks=days / 7)[once]).groupby("crop")["weeks"].max()
    told = tuple(
        Sentence("{crop} up to {n:.0f} {n:week|weeks}", crop=CropName(crops[str(code)].name), n=w)
        for code, w in weeks[weeks >= 2].items()
    )
    dry_months = Sentence(
        "By {file} these months are dry (rain in mm below twice the temperature): {months}.",
        file=climate.file,
        months=spells,
    )
    stand = (
        Sentence("Standing then: {list}; water them, or plant so that they are ripe before.", list=told) if told else ""
    )
    young = say("Young trees need water in their first dry spells.") if (~once).any() else ""
    yield "note", say("dry spells"), in_a_row(dry_months, stand, young)
