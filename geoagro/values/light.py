"""Light that crops take in company and alone: what yields in company follow from."""

from __future__ import annotations

from dataclasses import dataclass

from geoagro.values.section import Key


@dataclass(frozen=True)
class Capture:
    """One kind in one period: a round from planting to the last harvest, or a year of a perennial.

    Captures are sums of light over the period per square metre of ground, in the same unit for all.

    Attributes
    ----------
    round, year
        Round of a crop that is harvested once (year 0); year of the plan of a perennial (round 1).
    weeks
        How long it stood in the period.
    per_m2
        Places on a square metre of beds and paths.
    captured, alone, sole
        Light that it took in company; by itself at the same places; and grown alone at its usual density.
    incoming
        Light that reached its crowns, as a share of open ground's.
    fullness
        Light that all crops took while it stood, over what grown stands of them take.
    """

    kind: Key
    round: int
    year: int
    from_week: float
    weeks: float
    per_m2: float
    captured: float
    alone: float
    sole: float
    incoming: float
    fullness: float
