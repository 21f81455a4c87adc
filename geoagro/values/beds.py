"""Strips of ground that follow the rows: tree beds, vegetable beds and paths."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from geoagro.arrays import Bools, Floats, Ints
from geoagro.frames import gpd
from geoagro.values.base.paints import BED, PATH, TREE_BED
from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, crs_name, layer
from geoagro.values.layers import Field, LayerSpec

if TYPE_CHECKING:
    from geoagro.values.design import BedRule

_STRIP = (
    Field("row", "int", "Tree row that the strip is measured from."),
    Field("width_m", "float", "Working width; for a path the mean width.", "m"),
    Field("length_m", "float", "Length along the strip's axis.", "m"),
    Field("area_m2", "float", "Area on the map plane.", "m2"),
)

TREE_BEDS = LayerSpec(
    "tree_beds", "Tree beds", "Polygon", (Field("bed", "text", "Bed id: row number and T (R012-T)."), *_STRIP)
)

BEDS = LayerSpec(
    "vegetable_beds",
    "Vegetable beds",
    "Polygon",
    (
        Field("bed", "text", "Bed id: row, side (U up, D down), order from the row, piece (R012-D1, R012-D1b)."),
        *_STRIP,
        Field("side", "text", "'up' or 'down': side of the row that the bed lies on.", values=("up", "down")),
        Field("order", "int", "1 for the bed next to the row's own tree bed, 2 for the next one, ..."),
        Field("facing_row", "int", "Row on the far side of the alley; 0 where there is none."),
    ),
)

PATHS = LayerSpec("paths", "Paths", "Polygon", (Field("path", "text", "Path id."), *_STRIP))


@dataclass(frozen=True, eq=False, repr=False)
class AlleyRoom(Value):
    """Both sides of every alley between two rows, piece by piece.

    Attributes
    ----------
    length_m
        Length of the piece along its row.
    distance_m
        Distance to the row across, at the nearer end.
    is_first
        True beside the row that gets the odd bed.
    beds
        Beds of its own row beside the piece.
    """

    length_m: Floats
    distance_m: Floats
    is_first: Bools
    beds: Ints


@dataclass(frozen=True, eq=False, repr=False)
class BedPart(Value):
    """Beds that were laid by one rule.

    Attributes
    ----------
    name
        Of the zone; empty for the field outside zones with a rule of their own.
    ground_m2, beds_m2
        Plantable ground, and vegetable beds on it.
    """

    name: str
    ground_m2: float
    beds_m2: float
    rule: BedRule
    spacing_m: float
    room: AlleyRoom | None


@dataclass(frozen=True, eq=False, repr=False)
class Beds(Value):
    """The three layers of strips; none overlaps another.

    `tree_beds` and `beds` carry, beside the polygon, a column `axis`: the LineString along the middle of
    the bed, running the same way as the row it is measured from. It is what plants are placed along and
    is not written to files as a layer of its own.

    Attributes
    ----------
    room
        Distances across the alleys; None where beds weren't laid on real rows.
    parts
        Where zones have a rule of their own: what each rule came to.

    >>> from geoagro import example_layout
    >>> example_layout().beds
    Beds: tree beds 6 rows; beds 10 rows; paths 15 rows; crs EPSG:32633
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {"tree_beds": TREE_BEDS, "beds": BEDS, "paths": PATHS}

    tree_beds: gpd.GeoDataFrame
    beds: gpd.GeoDataFrame
    paths: gpd.GeoDataFrame
    room: AlleyRoom | None = None
    parts: tuple[BedPart, ...] = ()

    def in_short(self) -> dict[str, str]:
        """Give counts."""
        return {
            "tree beds": brief(self.tree_beds),
            "beds": brief(self.beds),
            "paths": brief(self.paths),
            "crs": crs_name(self.beds.crs),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw paths, beds and tree beds."""
        return (layer(self.paths, PATH, "none"), layer(self.beds, BED, "none"), layer(self.tree_beds, TREE_BED, "none"))
