"""Rows laid without beds and plants, with what each limit cost and how hard the ground is for rows."""

from __future__ import annotations

from dataclasses import dataclass

from geoagro.frames import gpd, pd
from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, crs_name
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.measures import Measures, hectares_text
from geoagro.values.rows import TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import Difficulty, Terrain

ROW_CUTS = LayerSpec(
    "row_cuts",
    "Pieces of row cut away",
    "LineString",
    (
        Field("reason", "text", "Limit that the piece broke; reason as in layer unplanted."),
        Field("length_m", "float", "Length on the map plane.", "m"),
    ),
)


@dataclass(frozen=True, eq=False, repr=False)
class RowPlan(Value):
    """Tree rows on the plantable ground, before any bed or plant; all in `site.crs`.

    Attributes
    ----------
    unplanted
        Layer UNPLANTED: ground left before rows, and ground that no row serves, by reason.
    quality
        How well the rows lie.
    costs
        Table LIMIT_COSTS.
    contours
        Layer CONTOURS.
    difficulty
        What the ground demands of rows; None where heights are unknown.
    zones
        Layer DIFFICULTY_ZONES; empty where heights are unknown.

    >>> from geoagro import example_field, rows_of
    >>> rows_of(*example_field())
    RowPlan: field Example field, 0.16 ha; rows 6, 0.32 km, every 5 m; plantable 0.14 ha; cut 0 rows;
      crs EPSG:32633
    """

    design: Design
    site: Site
    terrain: Terrain
    ground: Ground
    rows: TreeRows
    unplanted: gpd.GeoDataFrame
    quality: Measures
    costs: pd.DataFrame
    contours: gpd.GeoDataFrame
    difficulty: Difficulty | None
    zones: gpd.GeoDataFrame

    def in_short(self) -> dict[str, str]:
        """Give name, area and rows."""
        return {
            "field": f"{self.site.name}, {hectares_text(self.site.boundary.area, self.site.area_sd_m2)}",
            "rows": f"{len(self.rows.frame)}, {self.rows.frame.length.sum() / 1e3:.2f} km, every {self.rows.spacing_m:g} m",
            "plantable": hectares_text(self.ground.plantable.area, self.site.area_sd_m2),
            "cut": brief(self.rows.cut),
            "crs": crs_name(self.site.crs),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw rows on the plantable ground."""
        return (*self.ground.map_layers(), *self.rows.map_layers())
