"""What company and shade leave of each crop's yield, by round and by year."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from geoagro.arrays import Floats
from geoagro.season.crops import SeasonCrop
from geoagro.values.season import Range, Repeat
from geoagro.values.section import key_of
from geoagro.values.timeline import Standing, Timeline
from geoagro.values.words import say
from geoagro.values.yields import Span, YieldsInCompany

FULL = Span(1.0, 1.0, 1.0)

_SOURCE = say("light model, guide: yields")


def round_share(kind: Standing, round_: int, repeat: Repeat, yields: YieldsInCompany | None) -> float:
    """Share of its yield alone that a crop gives in a round.

    Where the design says how the yield changes from round to round (`season.vegetables.yield_pct`), that goes before
    the model, which then counts for the first round only.
    """
    own = repeat.yield_pct[min(round_, len(repeat.yield_pct)) - 1] / 100 if len(kind.stays) > 1 else 1.0
    modelled = kind.stays[0].round if any(pct != 100.0 for pct in repeat.yield_pct) else round_
    return own * place_span(kind, yields, round_=modelled).likely


def place_span(kind: Standing, yields: YieldsInCompany | None, *, round_: int = 1, year: int = 1) -> Span:
    """Look up a share; whole where the model has nothing to say."""
    share = yields.of(key_of(kind), round_=round_, year=year) if yields is not None else None
    return FULL if share is None else share.place


def year_shares(timeline: Timeline, yields: YieldsInCompany | None, years: int) -> Floats:
    """Share of the yield of each kind (rows) in each year of the plan, from year 1 on, for perennials."""
    return np.array(
        [[place_span(kind, yields, year=year).likely for year in range(1, years + 1)] for kind in timeline.kinds]
    ).reshape(len(timeline.kinds), years)


def in_company(
    crops: Mapping[str, SeasonCrop], timeline: Timeline, yields: YieldsInCompany | None
) -> dict[str, SeasonCrop]:
    """Widen each crop's range of yield by how surely its company is known; the likely value stays."""
    found = dict(crops)
    for code, crop in crops.items():
        if crop.yield_kg is None or yields is None:
            continue
        spans = [
            (kind.places, share.place)
            for kind in timeline.kinds
            for share in yields.shares
            if kind.crop == code and share.kind == key_of(kind) and share.place.likely > 0
        ]
        if not spans:
            continue
        weights = [places for places, _ in spans]
        low, high = (
            float(np.average([getattr(span, end) / span.likely for _, span in spans], weights=weights))
            for end in ("low", "high")
        )
        y = crop.yield_kg
        span = Range(low=y.low * min(low, 1.0), likely=y.likely, high=y.high * max(high, 1.0))
        row = ("yield in company", f"{low:.2f} 1 {high:.2f}", "x yield in company", _SOURCE)
        found[code] = replace(crop, yield_kg=span, sources=(*crop.sources, row))
    return found
