"""The design: what the user asks for. One section per room, each a small frozen record."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from geoagro.values.model import Bearing, Day, Distance, Length, Model, Name, Percent, Spacing
from geoagro.values.places import Places
from geoagro.values.recipe import REFERENCE_PCT, Crop, Planting, Stratum, in_batches
from geoagro.values.report import ReportRule
from geoagro.values.rules.water import WaterRule
from geoagro.values.season import SeasonRule
from geoagro.values.stakeout import StakeRule
from geoagro.values.zones import Zone

DRAINAGE_AREA_HA = 0.5
"""Our choice, no source: half a hectare is what a few rows of a hundred metres drain, so a hollow that carries more than
the field's own rows do is kept free and small dents aren't. Less where rain is heavy or soil washes easily."""


class VectorSource(Model):
    """A file of boundaries, lines or points."""

    file: Path = Field(description="The file, counted from the design file.")
    layer: str | None = Field(None, description="Layer inside the file; needed where there are several.")
    crs: str | None = Field(None, description="CRS of the file where it states none, e.g. 'EPSG:32633'.")
    where: str | None = Field(None, description="Takes only some features, e.g. \"name = 'north'\".")


class ExclusionSource(VectorSource):
    """Ground to keep free: polygons, or lines and points with a buffer."""

    name: Name = Field("exclusion", description="What sheets and tables call it.")
    buffer_m: Distance = Field(0.0, description="Kept free around it as well.")


class TrackSource(VectorSource):
    """Access tracks: lines with a width, or polygons."""

    name: Name = Field("track", description="What sheets and tables call it.")
    width_m: Length = Field(3.0, description="Full width of the track, for lines.")


class AreaSource(VectorSource):
    """Polygons with a name, for addresses and zones."""

    name: str = Field(min_length=1, description="What `area` of an address calls it.")


class WaterBodySource(VectorSource):
    """Open water and springs: polygons, lines or points; rows keep ground.water_setback_m away."""

    name: str = Field("water", description="What sheets and tables call it.")


class ContourSource(VectorSource):
    """Contour lines with their height in an attribute (or in the lines' z)."""

    height_field: str | None = Field(None, description="Attribute with the height; the lines' own z if left out.")
    unit: Literal["m", "ft"] = Field("m", description="Unit of the heights.")


class RasterSource(Model):
    """A raster of heights, slope or aspect."""

    file: Path = Field(description="The file, counted from the design file.")
    band: int = Field(1, ge=1, description="Band of the raster, from 1.")
    unit: str | None = Field(None, description="Heights: m, ft or us-ft. Slope: percent, degrees or ratio.")
    crs: str | None = Field(None, description="CRS of the file where it states none, e.g. 'EPSG:32633'.")
    nodata: float | None = Field(
        None, allow_inf_nan=True, description="Value that stands for no data where the file states none."
    )


GROUND_KEYS = ("elevation", "contours", "slope")
"""Where the ground's shape may come from; a further one is a key of `Inputs`, this list and a reader in `inputs/raster`."""


class Inputs(Model):
    """The files that describe the field."""

    boundary: VectorSource = Field(description="Polygons of the field.")
    elevation: RasterSource | None = Field(
        None, description="Raster of heights; one of elevation, contours, slope is needed."
    )
    contours: ContourSource | None = Field(None, description="Contour lines with heights, instead of elevation.")
    slope: RasterSource | None = Field(
        None, description="Raster of slope, instead of elevation: rows need an aspect too, or a bearing."
    )
    aspect: RasterSource | None = Field(
        None, description="Raster of the direction that the ground falls to, beside slope."
    )
    exclusions: tuple[ExclusionSource, ...] = Field(
        (), description="Ponds, rocks, buildings and other ground without rows."
    )
    tracks: tuple[TrackSource, ...] = Field((), description="Access tracks, kept free.")
    guides: tuple[VectorSource, ...] = Field((), description="Lines that rows follow (method guide), or start along.")
    areas: tuple[AreaSource, ...] = Field((), description="Named polygons that `area` of an address means.")
    water_bodies: tuple[WaterBodySource, ...] = Field(
        (), description="Streams, ponds, springs; ground.water_setback_m around them is kept free."
    )
    outlets: tuple[VectorSource, ...] = Field((), description="Where water may leave rows: points or lines.")
    rows: VectorSource | None = Field(
        None, description="Rows drawn or edited by hand, e.g. layer tree_rows of a layout."
    )
    working_crs: str | None = Field(None, description="Force a projected metric CRS, e.g. 'EPSG:32633'.")

    @model_validator(mode="after")
    def _one_ground_source(self) -> Inputs:
        given = [k for k in GROUND_KEYS if getattr(self, k) is not None]
        if len(given) != 1:
            raise ValueError(f"give exactly one of {', '.join(GROUND_KEYS)} (found: {', '.join(given) or 'none'})")
        if self.aspect is not None and self.slope is None:
            raise ValueError("aspect goes with slope; give `slope` too, or leave `aspect` out")
        return self

    def files(self) -> Iterator[tuple[str, VectorSource | RasterSource]]:
        """Give every file with its key, in the order of the keys: whoever reads or names files asks here."""
        for name in type(self).model_fields:
            given = getattr(self, name)
            if isinstance(given, VectorSource | RasterSource):
                yield f"inputs.{name}", given
            elif isinstance(given, tuple):
                yield from ((f"inputs.{name}[{number}]", source) for number, source in enumerate(given, start=1))

    def ground(self) -> tuple[str, VectorSource | RasterSource]:
        """Key and file of what the ground's shape is read from."""
        key = next(k for k in GROUND_KEYS if getattr(self, k) is not None)
        return key, getattr(self, key)


class GroundRule(Model):
    """Which ground is planted."""

    setback_m: Distance = Field(
        1.0, description="Kept free along the boundary; make it wide enough to turn your machine."
    )
    water_setback_m: Distance = Field(10.0, description="Kept free around inputs.water_bodies; local rules go first.")
    max_slope_pct: Percent = Field(60.0, description="Ground steeper than this isn't planted.")
    min_part_m2: Distance = Field(50.0, description="Separate parts smaller than this aren't planted.")
    max_gap_m: Distance = Field(10.0, description="Gaps in the elevation up to this wide are filled.")


class RowRule(Model):
    """How tree rows are laid."""

    method: Literal["contour", "straight", "guide", "drawn"] = Field(
        "contour",
        description="contour: by the ground; straight: parallel on one bearing; guide: beside drawn lines; drawn: exactly the rows of inputs.rows.",
    )
    spacing_m: Spacing = Field(4.5, description="Distance between tree rows.")
    spacing_tolerance_pct: float = Field(
        10.0, description="Percent of the spacing that a row may drift off.", gt=0, le=40
    )
    max_grade_pct: Percent = Field(4.0, description="Hard limit over any 10 m along a row.", gt=0)
    preferred_grade_pct: Percent = Field(2.0, description="Grade that is aimed below where it costs no ground.")
    target_grade_pct: float = Field(0.0, description="Wanted fall along the row; 0 keeps to the contour.", ge=0)
    fall_toward: Literal["none", "outlet", "ridge"] = Field(
        "none", description="Where rows with a wanted fall lead water."
    )
    outlet: VectorSource | None = Field(None, description="Point or line that rows fall toward.")
    min_row_length_m: Length = Field(20.0, description="Shorter rows are left out.")
    turning_cost_m: Distance = Field(
        8.0,
        description="For method contour: what a row's two turns cost, as metres of row within limits; more gives fewer, longer rows and less ground within limits.",
        le=200,
    )
    min_turn_radius_m: Distance = Field(3.0, description="Tightest bend of a row.")
    bearing_deg: Literal["auto", "guide"] | Bearing = Field(
        "auto", description="For method straight; guide: rows start at the longest line of inputs.guides, along it."
    )
    smoothing_m: Literal["auto"] | Distance = Field(
        "auto",
        description="Scale at which the ground is smoothed before rows are laid; auto: 0.7 of spacing_m, a cell at least.",
    )
    levelled_m: Distance = Field(
        0.0,
        description="Bumps up to about this long will be levelled before rows are made: grades are judged without them; up to 8 m they always are.",
        le=40,
    )
    thorough: bool | Literal["auto"] = Field("auto", description="Look longer for better rows; false: a quick look.")
    avoid_low_points: bool = Field(
        False, description="For method contour: prefer rows with fewer inner low points, at some cost of ground."
    )
    break_at_drainage: bool = Field(False, description="Rows end where water gathers.")
    drainage_area_ha: float = Field(
        DRAINAGE_AREA_HA, description="Ground that drains through a line before rows end at it.", gt=0, le=1000
    )
    only_where: VectorSource | None = Field(
        None, description="Polygons: rows are laid anew inside them, those of inputs.rows stay elsewhere."
    )
    drainage_width_m: Length = Field(1.0, description="Strip kept free along such a line, e.g. for grass.")

    @property
    def spacing_tolerance(self) -> float:
        """Share of the spacing that a row may drift off."""
        return self.spacing_tolerance_pct / 100

    @model_validator(mode="after")
    def _limits_fit(self) -> RowRule:
        if self.preferred_grade_pct > self.max_grade_pct:
            raise ValueError("preferred_grade_pct must not be above max_grade_pct")
        if self.target_grade_pct > self.max_grade_pct:
            raise ValueError("target_grade_pct must not be above max_grade_pct")
        if self.target_grade_pct > 0 and self.fall_toward == "none":
            raise ValueError("target_grade_pct needs fall_toward: outlet or ridge")
        if self.fall_toward == "outlet" and self.outlet is None:
            raise ValueError("fall_toward: outlet needs `outlet` with a file")
        return self


class BedRule(Model):
    """Working widths between two tree rows."""

    tree_bed_width_m: Length = Field(1.0, description="Width of the bed under each tree row.")
    bed_width_m: Length = Field(1.0, description="Width of a vegetable bed.")
    path_width_m: Length = Field(0.3, description="Narrowest path; the slack of the alley widens it.")
    narrowest_path_m: Length | None = Field(
        None, description="What the path in an alley's middle may narrow to at pinches; path_width_m if left out."
    )
    min_bed_length_m: Length = Field(3.0, description="Shorter beds are left out.")
    skip: Places = Field((), description="Beds that are not laid: rows, alleys, beds, side, area.")

    @model_validator(mode="after")
    def _pinches_are_narrower(self) -> BedRule:
        if self.narrowest_path_m is not None and self.narrowest_path_m > self.path_width_m:
            raise ValueError("narrowest_path_m must not be above path_width_m")
        return self


class OutputRule(Model):
    """Where results go."""

    folder: Path = Field(Path("result"), description="Folder for results, counted from the design file.")
    contour_interval_m: Literal["auto"] | Length = Field(
        "auto", description="Height between drawn contours; auto: by the relief."
    )


class Design(Model):
    """A whole design file.

    `folder` is where the design file lies; relative paths count from there (set by the reader).

    >>> from geoagro import example_layout
    >>> example_layout().design.rows.spacing_m
    5.0
    """

    name: Name = Field(description="Name of the field, on every page.")
    locale: str = Field(
        "en", description="Language and number format of all that is written for people, e.g. en, en_GB, es, pt_BR, fr."
    )
    inputs: Inputs = Field(description="The files that describe the field.")
    ground: GroundRule = Field(GroundRule(), description="Which ground is planted.")
    rows: RowRule = Field(RowRule(), description="How tree rows are laid.")
    beds: BedRule = Field(BedRule(), description="Widths of beds and paths.")
    crops: dict[str, Crop] = Field(default_factory=dict, description="Own crops, or changes to library crops.")
    plantings: Annotated[tuple[Planting, ...], AfterValidator(in_batches)] = Field(
        (), description="What is planted where, crop by crop."
    )
    zones: tuple[Zone, ...] = Field((), description="Parts of the field with a recipe or purpose of their own.")
    recipes: tuple[Path, ...] = Field((), description="Recipe files whose crops and plantings are added.")
    reference_cover_pct: Literal["default"] | dict[Stratum, Annotated[float, Field(ge=0, le=100)]] | None = Field(
        None,
        description="Shares of ground per stratum to set the recipe beside, or default: emergent 20, high 40, medium 60, "
        "low 80 (from memory); nothing is set beside it if left out.",
    )
    start_date: Day | None = Field(None, description="Day on which week 0 begins; without it plants carry no dates.")
    stakeout: StakeRule = Field(StakeRule(), description="How the field is marked out.")
    water: WaterRule | None = Field(None, description="What rows are for in a storm; `geoagro water` asks for it.")
    season: SeasonRule | None = Field(None, description="Season plan; `geoagro season` needs it.")
    output: OutputRule = Field(OutputRule(), description="Where results go.")
    report: ReportRule = Field(ReportRule(), description="For whom the field is accounted for, and how.")
    folder: Path = Field(Path("."), exclude=True)

    @property
    def reference_shares(self) -> dict[Stratum, float] | None:
        """Reference shares of ground per stratum, percent; None where the design doesn't ask for them."""
        return dict(REFERENCE_PCT) if self.reference_cover_pct == "default" else self.reference_cover_pct

    @model_validator(mode="after")
    def _names_are_told_apart(self) -> Design:
        for key, names in (
            ("zones", [z.name for z in self.zones]),
            ("inputs.areas", [a.name for a in self.inputs.areas]),
        ):
            if twice := next((n for n in names if names.count(n) > 1), None):
                raise ValueError(f"{key}: '{twice}' is given twice; give each a name of its own")
        return self

    @model_validator(mode="after")
    def _method_has_its_lines(self) -> Design:
        rule, drawn = self.rows, self.inputs.rows is not None
        if rule.method == "guide" and not (self.inputs.guides or drawn):
            raise ValueError("rows.method: guide needs a line to follow; give `inputs.guides` with a file")
        if self.rows.bearing_deg == "guide" and not self.inputs.guides:
            raise ValueError("rows.bearing_deg: guide needs a line to start at; give `inputs.guides` with a file")
        if rule.method == "drawn" and not drawn:
            raise ValueError("rows.method: drawn takes rows from a file; give `inputs.rows` with a file and layer")
        if rule.only_where is not None and not drawn:
            raise ValueError(
                "rows.only_where keeps earlier rows elsewhere; give `inputs.rows` with their file and layer"
            )
        if rule.only_where is not None and rule.method == "drawn":
            raise ValueError("rows.method: drawn lays nothing anew; take out rows.only_where, or choose another method")
        return self

    def __repr__(self) -> str:
        return (
            f"Design: {self.name}; rows {self.rows.method}, every {self.rows.spacing_m:g} m; "
            f"plantings {', '.join(planting.label for planting in self.plantings[:8]) or 'none'}"
            f"{' ...' if len(self.plantings) > 8 else ''}"
        )
