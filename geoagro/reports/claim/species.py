"""Every crop with its scientific name, provenance, and whether it is native by the list that the user gives."""

from __future__ import annotations

import math

import pandas as pd

from geoagro.reports.crop_account import order_of, strata_seen
from geoagro.reports.records.claim import SPECIES
from geoagro.reports.tables import per_hectare
from geoagro.values.report import LaidOut, ReportRule
from geoagro.values.results.evidence import binomial
from geoagro.values.timeline import Timeline

_WEEKS_PER_YEAR = 52


def species_table(laid: LaidOut, rule: ReportRule, *, field_m2: float, now_year: float) -> pd.DataFrame:
    """Table SPECIES, in order of stratum from the top, then of name."""
    timeline = laid.timeline or Timeline.of(laid.plants)
    plants = laid.plants
    number = plants.groupby("crop", observed=True).size()
    # without a start of the design there are no dates
    dated = plants[["crop", "plant_date"]].drop_duplicates().dropna().astype(object) if "plant_date" in plants else None
    days = None if dated is None else dated.groupby("crop")["plant_date"].agg(["min", "max"])
    seen = strata_seen(laid)
    codes = sorted(
        number.index, key=lambda code: (order_of(laid.crops[code].stratum or seen.get(code)), laid.crops[code].name)
    )
    facts = [laid.crops[code] for code in codes]
    return SPECIES.frame(
        {
            "crop": codes,
            "name": [fact.name for fact in facts],
            "scientific": [fact.scientific or "" for fact in facts],
            "habit": [fact.habit or "" for fact in facts],
            "native": [_native(fact.scientific or "", laid.evidence.native) for fact in facts],
            "provenance": [rule.provenance.get(code, "") for code in codes],
            "first_planted": [_day(days, code, "min") for code in codes],
            "last_planted": [_day(days, code, "max") for code in codes],
            "plants": number[codes].to_numpy(),
            "standing_now": [math.nan if math.isnan(now_year) else timeline.standing(now_year * _WEEKS_PER_YEAR, c) for c in codes],
            "per_ha_field": per_hectare(number[codes].to_numpy(), field_m2),
        }
    )  # fmt: skip


def _native(scientific: str, listed: frozenset[str] | None) -> str:
    name = binomial(scientific)
    return "" if listed is None or not name else ("yes" if name in listed else "no")


def _day(days: pd.DataFrame | None, code: str, end: str) -> str:
    return "" if days is None or code not in days.index else str(days.loc[code, end])[:10]
