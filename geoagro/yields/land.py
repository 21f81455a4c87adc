"""Land equivalent and area-time equivalent ratio of the crops that bear in a year."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from geoagro.errors import DesignError
from geoagro.values.rules.care import WEEKS_PER_YEAR
from geoagro.values.section import Key
from geoagro.values.yields import Span, YieldShare

_WEEKS_OF_LIFE = 52
"""Ages of plants are told in years of so many weeks: `harvest_weeks` of 156 means after three years."""


def land_equivalent_ratio(mixed: Mapping[str, float], sole: Mapping[str, float]) -> float:
    """Sum of yield in the mixture over yield alone, in the same unit of area.

    Source: Mead and Willey (1980), Experimental Agriculture, the concept of a land equivalent ratio.

    >>> land_equivalent_ratio({"grain": 4000, "fruit": 9000}, {"grain": 5000, "fruit": 15000})
    1.4
    """
    for code in mixed:
        if not sole.get(code, 0) > 0:
            raise DesignError(f"The land equivalent ratio needs the yield of {code} grown alone, above 0.")
    return sum(mixed[code] / sole[code] for code in mixed)


def area_time_ratio(ratios: Sequence[float], weeks: Sequence[float], whole_weeks: float) -> float:
    """Sum of each crop's ratio times its time on the ground, over the whole time (Hiebsch and McCollum 1987).

    >>> area_time_ratio([1.0, 1.0], [26.0, 26.0], 52.0)
    1.0
    """
    return sum(r * w for r, w in zip(ratios, weeks, strict=True)) / whole_weeks


@dataclass(frozen=True)
class YearOfLand:
    """One year's ratios; `crops` are those that bear, with the share of each."""

    year: int
    crops: tuple[tuple[str, Span], ...]
    land: Span
    area_time: Span


def years_of_land(shares: Sequence[YieldShare], bears: Mapping[Key, int]) -> tuple[YearOfLand, ...]:
    """Ratios year by year, for years in which something bears.

    A round counts in the year in which it ends, a perennial in each year of the plan from its first harvest on
    (`bears`: week of the first harvest). A crop that bears after so many times 52 weeks bears in the year after them, as
    the season has it, though calendar years are some days longer.
    """
    by_year: dict[int, list[YieldShare]] = {}
    for share in shares:
        if (year := _year(share, bears)) is not None:
            by_year.setdefault(year, []).append(share)
    return tuple(_of_year(year, found) for year, found in sorted(by_year.items()))


def _year(share: YieldShare, bears: Mapping[Key, int]) -> int | None:
    if share.year == 0:
        return int((share.from_week + share.weeks - 1e-6) // WEEKS_PER_YEAR) + 1
    return share.year if bears[share.kind] < share.year * _WEEKS_OF_LIFE else None


def _of_year(year: int, shares: Sequence[YieldShare]) -> YearOfLand:
    whole = max(WEEKS_PER_YEAR, *(share.weeks for share in shares))
    times = [share.weeks for share in shares]

    def both(which: str) -> tuple[float, float]:
        ratios = [getattr(share.ground, which) for share in shares]
        return sum(ratios), area_time_ratio(ratios, times, whole)

    ends = [both(which) for which in ("low", "likely", "high")]
    return YearOfLand(year, tuple(_by_crop(shares)), Span(*(end[0] for end in ends)), Span(*(end[1] for end in ends)))


def _by_crop(shares: Sequence[YieldShare]) -> Iterator[tuple[str, Span]]:
    for code in sorted({share.kind.crop for share in shares}):
        mine = [share.ground for share in shares if share.kind.crop == code]
        yield code, Span(*(sum(getattr(span, which) for span in mine) for which in ("low", "likely", "high")))
