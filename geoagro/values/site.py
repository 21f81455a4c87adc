"""The field as the user gave it, in the working CRS."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import shapely
from pyproj import CRS
from shapely import LineString, MultiPolygon

from geoagro.values.base.paints import FIELD_INK, ROW, UNPLANTED_PAINT
from geoagro.values.base.small_map import Drawn
from geoagro.values.base.value import Value, brief, crs_name, shape
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.model import visible
from geoagro.values.places import NamedArea

FIELD = LayerSpec(
    "field",
    "Field boundary",
    "MultiPolygon",
    (
        Field("name", "text", "Name of the field from the design file."),
        Field("area_m2", "float", "Area on the map plane.", "m2"),
        Field("ground_area_m2", "float", "Area of the sloping ground surface.", "m2"),
        Field("geodesic_area_m2", "float", "Area on the ellipsoid, independent of the map projection.", "m2"),
    ),
)

EXCLUSIONS = LayerSpec(
    "exclusions",
    "Exclusions and access tracks",
    "MultiPolygon",
    (
        Field("name", "text", "Name of the pond, rock, building or track."),
        Field("kind", "text", "'exclusion' or 'track'.", values=("exclusion", "track")),
        Field("buffer_m", "float", "Distance kept around the drawn thing.", "m"),
        Field("area_m2", "float", "Area inside the field on the map plane.", "m2"),
    ),
)


@dataclass(frozen=True, eq=False, repr=False)
class Exclusion(Value):
    """Ground on which nothing is planted: a polygon that already carries its buffer."""

    name: str
    kind: Literal["exclusion", "track"]
    area: MultiPolygon
    buffer_m: float


@dataclass(frozen=True)
class SourceFile:
    """A file that the layout was made from, for tracing."""

    role: str
    path: str
    sha256: str


Level = Literal["note", "repair", "warning"]


@dataclass(frozen=True)
class Finding:
    """Something found (and perhaps repaired) in the inputs: what, where, and what to do about it.

    `level` is "note" (nothing to do), "repair" (changed while reading) or "warning" (look at it).

    >>> from geoagro import Finding
    >>> Finding("warning", "boundary.gpkg", "Two parts overlap.")
    Finding(level='warning', where='boundary.gpkg', text='Two parts overlap.')
    """

    level: Level
    where: str
    text: str

    def __post_init__(self) -> None:
        for name in ("where", "text"):  # names out of files stand in them
            given = getattr(self, name)
            if (shown := visible(given)) != given:
                object.__setattr__(self, name, shown)


@dataclass(frozen=True)
class DrawnRows:
    """Rows given by hand, in the working CRS, in the order of the file.

    Attributes
    ----------
    lines
        2D, at least a centimetre long, not yet trimmed to the field.
    numbers
        Row number that each had before; 0 where it had none.
    names
        Name given to each; empty where it has none.
    only_where
        Ground that is laid anew; None where all of it is.
    """

    lines: tuple[LineString, ...]
    numbers: tuple[int, ...]
    names: tuple[str, ...]
    only_where: MultiPolygon | None = None


@dataclass(frozen=True, eq=False, repr=False)
class Site(Value):
    """The field and what is drawn on it, all in one projected metric CRS.

    Attributes
    ----------
    name
        Name of the field.
    boundary
        Valid, 2D, holes kept.
    exclusions
        Exclusions and access tracks, buffered.
    guides
        Lines that rows must run parallel to, by role ("guide", "baseline", ...).
    outlet
        Point or line (one or several) that rows fall toward; None if the design names none.
    areas
        Drawn areas with a name.
    outlets
        Where water may leave rows; None if none is drawn.
    water_bodies
        Streams, ponds and springs as drawn, in and around the field; None if none is drawn.
    crs
        The working CRS (a pyproj.CRS); unit metre.
    findings
        What reading found and repaired.
    sources
        Files read, with their checksums.
    latitude_deg
        Of the field's middle; None where nobody worked it out.
    area_sd_m2
        Standard deviation of the field's area: hectares are written to the decimals that it bears. NaN where nobody
        worked it out.

    >>> from geoagro import example_field
    >>> example_field().site
    Site: name Example field; boundary MultiPolygon of 1,568 m²; exclusions 0; guides 0; outlet none;
      crs EPSG:32633; findings 0; sources 0
    """

    name: str
    boundary: MultiPolygon
    exclusions: tuple[Exclusion, ...]
    guides: tuple[LineString, ...]
    crs: CRS
    findings: tuple[Finding, ...] = ()
    sources: tuple[SourceFile, ...] = ()
    outlet: Any | None = None
    areas: tuple[NamedArea, ...] = ()
    drawn: DrawnRows | None = None
    outlets: Any | None = None
    water_bodies: Any | None = None
    latitude_deg: float | None = None
    area_sd_m2: float = float("nan")

    @property
    def kept_free(self) -> Any:
        """Exclusions and tracks with their buffers, as one shape; empty where there are none."""
        return shapely.union_all([item.area for item in self.exclusions])

    @property
    def open_ground(self) -> MultiPolygon:
        """The field without what is kept free: as far as a row drawn by hand may reach."""
        parts = shapely.get_parts(shapely.difference(self.boundary, self.kept_free))
        return MultiPolygon([part for part in parts if part.geom_type == "Polygon"])

    def in_short(self) -> dict[str, str]:
        """Give name, size and what is drawn on the field."""
        return {
            "name": self.name,
            "boundary": brief(self.boundary),
            "exclusions": brief(self.exclusions),
            "guides": brief(self.guides),
            "outlet": brief(self.outlet),
            "crs": crs_name(self.crs),
            "findings": brief(self.findings),
            "sources": brief(self.sources),
        }

    def map_layers(self) -> tuple[Drawn, ...]:
        """Draw boundary, ground kept free and guides."""
        return (
            shape(self.boundary, "none", FIELD_INK, 1.5),
            *(shape(x.area, UNPLANTED_PAINT, FIELD_INK) for x in self.exclusions),
            *(shape(line, "none", ROW, 1.0) for line in self.guides),
        )
