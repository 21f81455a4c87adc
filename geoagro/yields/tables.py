"""Yields in company as tables and sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from geoagro.values.recipe import Crop
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.section import Key
from geoagro.values.site import Finding
from geoagro.values.yields import YieldShare, YieldsInCompany
from geoagro.yields.land import years_of_land
from geoagro.yields.model import LIKELY, response
from geoagro.yields.records.tables import LAND_EQUIVALENT, YIELDS_IN_COMPANY, RecipeYields

TOO_DARK = 0.40
"""Share of the yield lost to shade from which a bed is called too dark for its crop (our choice, no source)."""

_OVERFULL = 2.0
_CROWDED = 0.75
_GOOD = 0.85


@dataclass(frozen=True)
class Remedy:
    """The same recipe with one thing changed, and how to say it."""

    words: str
    yields: YieldsInCompany


def recipe_yields(
    yields: YieldsInCompany, crops: Mapping[str, Crop], bears: Mapping[Key, int], remedies: Sequence[Remedy] = ()
) -> RecipeYields:
    """Put yields in company into tables, and say where beds are too dark or too full, and what would help."""
    findings = (*_dark(yields, crops, remedies), *_full(yields), *_uncorrected(yields))
    return RecipeYields(_yields_table(yields), _land_table(yields, bears), findings, yields.sky)


def _yields_table(yields: YieldsInCompany) -> pd.DataFrame:
    rows = [
        {
            **dict(zip(("bed_kind", "mixture", "planting", "crop"), share.kind[:4], strict=True)),
            **{name: getattr(share, name) for name in ("year", "per_m2", "density", "crowding", "company", "shade")},
            "planting_no": share.round,
            "light_pct": 100 * share.incoming,
            **{f"place_{end}": getattr(share.place, end) for end in ("low", "likely", "high")},
            **{name: getattr(share, name) for name in ("fullness", "basis", "response")},
        }
        for share in yields.shares
    ]
    return YIELDS_IN_COMPANY.frame({name: [row[name] for row in rows] for name in YIELDS_IN_COMPANY.columns})


def _land_table(yields: YieldsInCompany, bears: Mapping[Key, int]) -> pd.DataFrame:
    rows = []
    for year in years_of_land(yields.shares, bears):
        rows += [(year.year, code, span.low, span.likely, span.high, float("nan")) for code, span in year.crops]
        rows.append((year.year, "all", year.land.low, year.land.likely, year.land.high, year.area_time.likely))
    return LAND_EQUIVALENT.frame({name: [row[k] for row in rows] for k, name in enumerate(LAND_EQUIVALENT.columns)})


def too_dark(yields: YieldsInCompany, crops: Mapping[str, Crop]) -> list[YieldShare]:
    """List the rounds in vegetable beds that lose so much to shade, the first dark one of each planting and crop."""
    found: dict[Key, YieldShare] = {}
    for share in yields.shares:
        lost = 1 - response(crops[share.kind.crop], share.incoming)
        if not lasts(share.kind.bed_kind) and share.basis == "model" and lost >= TOO_DARK:
            found.setdefault(share.kind, share)
    return list(found.values())


def _dark(yields: YieldsInCompany, crops: Mapping[str, Crop], remedies: Sequence[Remedy]) -> Iterator[Finding]:
    for share in too_dark(yields, crops):
        code = share.kind.crop
        when = f"planting no. {share.round}" if not share.year else f"year {share.year}"
        lost = 100 * (1 - response(crops[code], share.incoming))
        text = (
            f"Too dark for {code} in {when}: {100 * share.incoming:.0f} % of open light reaches it, which costs about {lost:.0f} % of "
            f"its yield."
        )
        helps = [*_eased(share, remedies), *_others(share, crops)]
        yield Finding(
            "warning", f"planting {share.kind.planting}", f"{text} What helps: {'; '.join(helps)}." if helps else text
        )


def _eased(share: YieldShare, remedies: Sequence[Remedy]) -> Iterator[str]:
    for remedy in remedies:
        after = remedy.yields.of(share.kind, round_=share.round, year=share.year)
        if after is not None and after.incoming > share.incoming + 0.05:
            yield f"{remedy.words} ({100 * after.incoming:.0f} % of the light)"


def _others(share: YieldShare, crops: Mapping[str, Crop]) -> Iterator[str]:
    fit = sorted(
        code
        for code, crop in crops.items()
        if code != share.kind.crop and crop.habit not in {"tree", None} and response(crop, share.incoming) >= _GOOD
    )
    if fit:
        yield f"a crop that bears this shade ({', '.join(fit[:4])} keeps {100 * _GOOD:.0f} % or more by its published response)"
    if share.round > 1:
        yield f"leave the bed to grass or mulch from planting no. {share.round} on"


def _full(yields: YieldsInCompany) -> Iterator[Finding]:
    told: set[Key] = set()
    for share in yields.shares:
        if share.kind in told:
            continue
        if share.density > _OVERFULL:
            told.add(share.kind)
            text = f"{share.kind.crop} stands {share.density:.1f} times as dense as grown alone; a place yields {share.place.likely:.2f} of one alone."
            yield Finding("warning", f"planting {share.kind.planting}", text)
        elif share.fullness > 1.05 * LIKELY.fullest and share.place.likely < _CROWDED:
            told.add(share.kind)
            text = (
                f"More than the ground feeds while {share.kind.crop} stands: all crops together would take {share.fullness:.1f} times what "
                f"grown stands take, so a place yields {share.place.likely:.2f} of one alone."
            )
            yield Finding("note", f"planting {share.kind.planting}", text)


def _uncorrected(yields: YieldsInCompany) -> Iterator[Finding]:
    for kind, why in yields.uncorrected:
        text = f"Yields of {kind.crop} aren't corrected for company and shade: {why}."
        yield Finding("warning", f"planting {kind.planting}", text)
