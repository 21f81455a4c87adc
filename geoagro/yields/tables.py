"""Yields in company as tables and sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from geoagro.values.recipe import Crop
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.section import Key
from geoagro.values.site import Finding
from geoagro.values.words import CropName, Sentence, crop_names, in_a_row
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
        when = Sentence("planting no. {n}", n=share.round) if not share.year else Sentence("year {n}", n=share.year)
        lost = 100 * (1 - response(crops[code], share.incoming))
        told = {"crop": CropName(code), "when": when, "light": 100 * share.incoming, "lost": lost}
        text = Sentence(
            "Too dark for {crop} in {when}: {light:.0f} % of open light reaches it, which costs about {lost:.0f} % of its yield.",
            **told,
        )
        helps = [*_eased(share, remedies), *_others(share, crops)]
        yield Finding(
            "warning",
            Sentence("planting {planting}", planting=CropName(share.kind.planting)),
            in_a_row(text, Sentence("What helps: {helps}.", helps=tuple(helps)) if helps else ""),
        )


def _eased(share: YieldShare, remedies: Sequence[Remedy]) -> Iterator[str]:
    for remedy in remedies:
        after = remedy.yields.of(share.kind, round_=share.round, year=share.year)
        if after is not None and after.incoming > share.incoming + 0.05:
            yield Sentence(
                "{remedy} ({light:.0f} % of the light)", remedy=Sentence.of(remedy.words), light=100 * after.incoming
            )


def _others(share: YieldShare, crops: Mapping[str, Crop]) -> Iterator[str]:
    fit = sorted(
        code
        for code, crop in crops.items()
        if code != share.kind.crop and crop.habit not in {"tree", None} and response(crop, share.incoming) >= _GOOD
    )
    if fit:
        yield Sentence(
            "a crop that bears this shade ({crops} keeps {share:.0f} % or more by its published response)",
            crops=crop_names(fit[:4]), share=100 * _GOOD,
        )  # fmt: skip
    if share.round > 1:
        yield Sentence("leave the bed to grass or mulch from planting no. {n} on", n=share.round)


def _full(yields: YieldsInCompany) -> Iterator[Finding]:
    told: set[Key] = set()
    for share in yields.shares:
        if share.kind in told:
            continue
        if share.density > _OVERFULL:
            told.add(share.kind)
            text = Sentence(
                "{crop} stands {density:.1f} times as dense as grown alone; a place yields {likely:.2f} of one alone.",
                crop=CropName(share.kind.crop),
                density=share.density,
                likely=share.place.likely,
            )
            yield Finding("warning", Sentence("planting {planting}", planting=CropName(share.kind.planting)), text)
        elif share.fullness > 1.05 * LIKELY.fullest and share.place.likely < _CROWDED:
            told.add(share.kind)
            text = Sentence(
                "More than the ground feeds while {crop} stands: all crops together would take {fullness:.1f} "
                "times what grown stands take, so a place yields {likely:.2f} of one alone.",
                crop=CropName(share.kind.crop),
                fullness=share.fullness,
                likely=share.place.likely,
            )
            yield Finding("note", Sentence("planting {planting}", planting=CropName(share.kind.planting)), text)


def _uncorrected(yields: YieldsInCompany) -> Iterator[Finding]:
    for kind, why in yields.uncorrected:
        text = Sentence(
            "Yields of {crop} aren't corrected for company and shade: {why}.", crop=CropName(kind.crop), why=why
        )
        yield Finding("warning", Sentence("planting {planting}", planting=kind.planting), text)
