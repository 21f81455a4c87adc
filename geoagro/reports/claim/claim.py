"""Put together what an officer looks for."""

from __future__ import annotations

from typing import Any

import pandas as pd

from geoagro.errors import LayoutError
from geoagro.reports.claim.by_year import by_year, years_since
from geoagro.reports.claim.eligible import judge
from geoagro.reports.claim.indicators import indicators
from geoagro.reports.claim.parcels import parcel_ground
from geoagro.reports.claim.species import species_table
from geoagro.reports.records.claim import SURVEYED, Claim
from geoagro.values.report import LaidOut, ReportRule


def claim_for(laid: LaidOut, rule: ReportRule, trees: Any, *, field_m2: float, survival: pd.DataFrame) -> Claim:
    """Judge the ground and list species, trees over the years, indicators, photos and surveys; `survival` is table SURVIVAL.

    Raises LayoutError where parcels don't fill the field, or the design names provenance or trees of a crop that the layout
    doesn't hold.
    """
    unknown = sorted(set(rule.provenance) - set(laid.crops))
    if unknown:
        raise LayoutError(f"report.provenance: crop '{unknown[0]}' is not in the layout. Name crops of its plantings.")
    judged = judge(laid, parcel_ground(laid), rule.eligible, trees)
    now = years_since(laid.start, rule.as_of)
    return Claim(
        parcels=judged.parcels,
        eligible=judged.eligible,
        conditions=judged.conditions,
        species=species_table(laid, rule, field_m2=field_m2, now_year=now),
        by_year=by_year(laid, trees, field_m2=field_m2, now_year=now),
        surveyed=_surveyed(laid, rule),
        indicators=indicators(laid, rule, trees, survival),
        photos=laid.evidence.photos,
        eligible_m2=judged.eligible_m2,
        not_eligible_m2=judged.not_eligible_m2,
        now_year=now,
        by_parcel=laid.evidence.parcels is not None,
    )


def _surveyed(laid: LaidOut, rule: ReportRule) -> pd.DataFrame:
    """Table SURVEYED: the boundary where the design tells of it, then every survey of the field."""
    lines = []
    if (told := rule.boundary_survey) is not None or rule.boundary_error_m is not None:
        error = float("nan") if rule.boundary_error_m is None else rule.boundary_error_m
        day, by, receiver = (None, None, None) if told is None else (told.day, told.by, told.receiver)
        lines.append(("boundary", "" if day is None else day.isoformat(), by or "", receiver or "", error))
    lines += [(s.day, s.day[:10], s.by, s.receiver, round(s.receiver_m, 3)) for s in laid.surveys]
    return SURVEYED.frame({name: [line[k] for line in lines] for k, name in enumerate(SURVEYED.columns)})
