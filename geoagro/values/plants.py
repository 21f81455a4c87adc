"""Planting points."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

import numpy as np
from pyproj import CRS

from geoagro.arrays import Floats
from geoagro.frames import gpd, pd
from geoagro.values.base.paints import TREE_BED
from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, crs_name, layer
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.recipe import Crop
from geoagro.values.rules.bed_kinds import STRIP_WORDS, STRIPS
from geoagro.values.season import SeasonRule
from geoagro.values.site import Finding
from geoagro.values.timeline import Timeline

FARTHEST_NEIGHBOUR_M = 4.0
"""How far the nearest plant is looked for."""

PLANTS = LayerSpec(
    "plants",
    "Plants",
    "Point",
    (
        Field("plant", "int", "Plant number, unique in the layout."),
        Field("crop", "text", "Crop code of the design file or the crop library."),
        Field("planting", "text", "Name of the planting in the design file that put it here."),
        Field("mixture", "text", "Mixture that the planting belongs to; the kind of bed where none is named."),
        Field("bed_kind", "text", STRIP_WORDS, values=STRIPS),
        Field("row", "int", "Tree row of the bed."),
        Field("bed", "text", "Bed id."),
        Field("line", "int", "Planting line, counted across the bed from its upslope side."),
        Field("station_m", "float", "Distance from the start of the line.", "m"),
        Field("x", "float", "Easting in the working CRS.", "m"),
        Field("y", "float", "Northing in the working CRS.", "m"),
        Field("z", "float", "Height read from the elevation source; empty where heights are unknown.", "m"),
        Field(
            "nearest_m",
            "float",
            "Distance to the nearest plant, of any crop, that stands while it stands, in any round; empty where none is "
            f"within {FARTHEST_NEIGHBOUR_M:g} m.",
            "m",
        ),
        Field(
            "bearing_deg",
            "float",
            "Direction the plant faces, clockwise from grid north; empty if all round.",
            "deg",
        ),
        Field(
            "direction",
            "text",
            "Where its roots point: all_round, along or against the row, uphill, downhill, away from the row, bearing.",
        ),
        Field(
            "stratum",
            "text",
            "emergent, high, medium, low or ground.",
            values=("emergent", "high", "medium", "low", "ground"),
        ),
        Field("plant_week", "int", "Week of planting, counted from the start of the design."),
        Field("harvest_from_week", "int", "First week of harvest."),
        Field("harvest_to_week", "int", "Last week of harvest, with which the plant's life ends."),
        Field("plant_date", "date", "Day on which that week begins; empty where the design has no start date."),
        Field("harvest_from_date", "date", "Day on which the first week of harvest begins."),
        Field("harvest_to_date", "date", "Day on which the last week of harvest begins."),
    ),
)


def places_of(plants: pd.DataFrame, chosen: Any = None) -> Floats:
    """Places of all plants of a table, or of the chosen ones, shape (n, 2), metres."""
    which = slice(None) if chosen is None else np.asarray(chosen, dtype=bool)
    return np.column_stack([plants[name].to_numpy(dtype=np.float64)[which] for name in ("x", "y")])


@dataclass(frozen=True, eq=False, repr=False)
class Plants(Value):
    """Layer PLANTS: all crops in one frame, ordered by plant number.

    Attributes
    ----------
    findings
        What placing found: plants left out at bed ends, directions that `auto` chose and what they gained.

    >>> from geoagro import example_layout
    >>> example_layout().plants
    Plants: plants 5,490 rows; crops lettuce 5,400, apple 90; crs EPSG:32633; findings 0
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"frame": PLANTS}

    frame: gpd.GeoDataFrame
    findings: tuple[Finding, ...] = ()

    def whole(self) -> Plants:
        """Give all plants at once, which these are."""
        return self

    @property
    def count(self) -> int:
        """How many plants there are."""
        return len(self.frame)

    @property
    def crop_count(self) -> int:
        """How many crops there are."""
        return int(self.frame["crop"].nunique())

    @property
    def crs(self) -> CRS | None:
        """Working CRS."""
        return self.frame.crs

    def tables(self, columns: Iterable[str]) -> Iterator[pd.DataFrame]:
        """Give some columns; one table, where plants of large fields (`StoredPlants`) come in several."""
        yield pd.DataFrame(self.frame[list(columns)])

    def per_crop(self) -> pd.Series:
        """Count plants by crop, in order of code."""
        return self.frame["crop"].value_counts().sort_index()

    def per_row_and_crop(self) -> pd.DataFrame:
        """Columns row, crop, plants; in that order."""
        return self.frame.groupby(["row", "crop"], sort=True).size().reset_index(name="plants")

    def timeline(
        self,
        crops: Mapping[str, Crop] | None = None,
        season: SeasonRule | None = None,
        *,
        start: date | None = None,
    ) -> Timeline:
        """Tell what stands when, by plant."""
        return Timeline.of(self.frame, crops, season, start=start)

    def nearest_by_crop(self) -> dict[str, Floats]:
        """Distances to the nearest neighbour by crop, metres; of large fields, of plants spread over the field."""
        by_crop = self.frame["nearest_m"].groupby(self.frame["crop"], sort=True)
        return {str(code): distances.to_numpy(dtype=float) for code, distances in by_crop}

    def facing_and_stratum(self, crop: str) -> tuple[bool, str]:
        """Tell whether any plant of a crop faces a direction, and the stratum of its first."""
        mine = self.frame["crop"] == crop
        return bool(self.frame["bearing_deg"][mine].notna().any()), str(self.frame["stratum"][mine].iloc[0])

    def by_crop(self) -> dict[str, Any]:
        """One frame per crop, in order of crop code."""
        return {str(code): part for code, part in self.frame.groupby("crop", sort=True)}

    def in_short(self) -> dict[str, str]:
        """Give the number of plants by crop."""
        return {
            "plants": brief(self.frame),
            "crops": ", ".join(f"{code} {n:,}" for code, n in self.frame["crop"].value_counts().items()),
            "crs": crs_name(self.frame.crs),
            "findings": brief(self.findings),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw the plants as dots; of very many every n-th."""
        return (layer(self.frame, "none", TREE_BED, 1.5),)
