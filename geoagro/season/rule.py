"""What the season asks of the design."""

from __future__ import annotations

from datetime import date

from geoagro.errors import DesignError
from geoagro.values.design import Design
from geoagro.values.season import SeasonRule


def season_section(design: Design) -> tuple[SeasonRule, date]:
    """Return the season's rule and the day that week 0 begins.

    Raises DesignError where the design has no section `season`, or no `start`.
    """
    if design.season is None:
        raise DesignError(
            "The design has no section `season:`. Add one, with at least prices, for instance\n"
            "  season:\n    currency: EUR\n    wage_per_hour: 4\n    crops:\n      cassava: {price: [0.2, 0.3, 0.4]}\n"
            "Everything else has a default; see `geoagro guide season`."
        )
    if design.start_date is None:
        raise DesignError(
            "The season plan needs dates: give `start_date`, the day on which week 0 begins, e.g. start_date: 2027-03-01."
        )
    return design.season, design.start_date
