"""Yields in company: what a place yields beside its neighbours, as a share of what it yields grown alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from geoagro.values.section import Key

Basis = Literal["model", "measured", "not corrected"]


@dataclass(frozen=True)
class Span:
    """Low, likely and high of a share."""

    low: float
    likely: float
    high: float

    def times(self, factor: float) -> Span:
        """Scale all three."""
        return Span(self.low * factor, self.likely * factor, self.high * factor)


@dataclass(frozen=True)
class YieldShare:
    """One kind in one round, or in one year of a perennial.

    Attributes
    ----------
    density
        Places over those of the crop grown alone at its usual density.
    crowding, company, shade
        Factors on the yield of a place: of its own density, of what other crops take, and of a response to shade that
        isn't in proportion to light. Their product is `place.likely`, unless a measured yield stands in for the model.
    incoming
        Light that reaches the crop, as a share of open ground's.
    fullness
        Light that all crops take, over what grown stands of them would take; above 1 there are more than the ground feeds.
    place
        Yield of a place as a share of its yield grown alone.
    ground
        Yield of the ground as a share of the crop's grown alone at its usual density: the term of the land equivalent
        ratio.
    """

    kind: Key
    round: int
    year: int
    from_week: float
    weeks: float
    per_m2: float
    density: float
    crowding: float
    company: float
    shade: float
    incoming: float
    fullness: float
    place: Span
    ground: Span
    basis: Basis
    response: str


@dataclass(frozen=True)
class YieldsInCompany:
    """All shares, and which kinds keep the library's yield because the model lacks a value.

    Attributes
    ----------
    sky
        What was known of the sun, in words.
    """

    shares: tuple[YieldShare, ...]
    uncorrected: tuple[tuple[Key, str], ...]
    sky: str

    @cached_property
    def _by_kind(self) -> dict[Key, list[YieldShare]]:
        found: dict[Key, list[YieldShare]] = {}
        for share in self.shares:
            found.setdefault(share.kind, []).append(share)
        return found

    def of(self, kind: Key, *, round_: int, year: int) -> YieldShare | None:
        """Find the share of a round, or of a perennial's year; its last year stands for later ones."""
        mine = self._by_kind.get(kind, ())
        exact = [share for share in mine if share.year == 0 and share.round == round_]
        if exact:
            return exact[0]
        years = [share for share in mine if share.year]
        return _year(years, year) if years else None


def _year(shares: Sequence[YieldShare], year: int) -> YieldShare:
    return min(shares, key=lambda share: (abs(share.year - year), share.year))
