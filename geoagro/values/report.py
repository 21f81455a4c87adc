"""The account of a field: what is asked of a report, what goes into it, and the numbers that come out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, ClassVar, Literal

from pydantic import Field as Setting
from pyproj import CRS
from shapely import MultiPolygon

from geoagro.frames import gpd, pd
from geoagro.values.base.value import Value
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS
from geoagro.values.ground import UNPLANTED
from geoagro.values.layers import Field, LayerSpec
from geoagro.values.model import Distance, Length, Model, Name
from geoagro.values.plants import PLANTS
from geoagro.values.results.evidence import Evidence
from geoagro.values.results.water import WaterLeft, WaterSeen
from geoagro.values.rows import TREE_ROWS
from geoagro.values.rules.claim import BoundarySurvey, EligibleRule, Native, PhotoSource
from geoagro.values.timeline import Timeline
from geoagro.values.zones import ZoneAccount


class LocalUnit(Model):
    """A customary unit of area, shown beside hectares."""

    name: str = Setting(min_length=1, max_length=20, description="What the unit is called.")
    m2: float = Setting(gt=0, allow_inf_nan=False, description="Square metres in one such unit.")


class ReportRule(Model):
    """Section `report` of the design file: for whom the account is, and how it is measured and written."""

    prepared_for: str | None = Setting(None, description="Funder or authority that the report goes to.")
    prepared_by: str | None = Setting(None, description="Who answers for it; named beside the signature.")
    holder: Name | None = Setting(None, description="Who holds the land or the contract; on the first page.")
    programme: Name | None = Setting(None, description="Programme or measure that it is claimed under.")
    parcels: str | None = Setting(
        None,
        description="Attribute of the boundary file that holds the parcels' ids; the account is then given by parcel.",
    )
    eligible: EligibleRule | None = Setting(
        None, description="The programme's rule on which ground counts; without it nothing is said about eligible area."
    )
    native: Native | None = Setting(None, description="List by which crops are reported as native or not.")
    provenance: dict[str, Name] = Setting(
        default_factory=dict, description="Where the planting material of a crop comes from, by its code."
    )
    wood_density: dict[str, Annotated[float, Setting(gt=0.05, le=1.5)]] = Setting(
        default_factory=dict,
        description="Basic density of a crop's wood, g/cm3, by its code; for biomass of surveyed stems.",
    )
    photos: PhotoSource | None = Setting(None, description="Points where photos were taken.")
    boundary_survey: BoundarySurvey | None = Setting(None, description="Who surveyed the boundary, when, with what.")
    as_of: date | None = Setting(None, description="Day that the report is written for, e.g. 2031-04-15.")
    note: str | None = Setting(None, description="A paragraph of your own on the first page.")
    local_unit: LocalUnit | None = Setting(None, description="Customary unit of area shown beside hectares.")
    boundary_error_m: Length | None = Setting(
        None, description="Standard deviation of a boundary point in east and in north, as surveyed."
    )
    boundary_correlation_m: Distance = Setting(
        25.0, description="Points of the boundary nearer than this err alike (one walk, one image)."
    )
    mixture_share: Literal["auto", "canopy", "plants"] = Setting(
        "auto", description="A bed is shared out to its crops by crown area at full size, or by number of plants."
    )
    paper: Literal["a4", "letter"] = Setting("a4", description="Paper of report and sheets.")
    block_scale: Literal["auto"] | Annotated[int, Setting(ge=100, le=5000)] = Setting(
        "auto", description="Scale number of the block sheets: 500 is 1:500."
    )


@dataclass(frozen=True)
class CropFacts:
    """What a report says about a crop beside its counts; None where the design and library don't know it."""

    name: str
    scientific: str | None = None
    habit: str | None = None
    stratum: str | None = None
    canopy_width_m: float | None = None
    caution: str | None = None
    notes: str = ""
    full_size_weeks: float | None = None
    pruned_width_m: float | None = None


@dataclass(frozen=True, eq=False, repr=False)
class SurveyCounts(Value):
    """One survey's tables `survival` and `areas_asbuilt` (geoagro.values.survey); None where it has no such table.

    `warnings` are what the survey's command warned of; `by_plots` tells that only sample plots were looked at. `by` and
    `receiver` are as stated by whoever surveyed, `receiver_m` the receiver's error as the survey itself shows it. `stems` are its
    points with a diameter: columns name, crop, dbh_cm and tree_height_m; None where it measured none.
    """

    day: str
    survival: pd.DataFrame | None
    areas: pd.DataFrame | None
    warnings: tuple[str, ...] = ()
    by_plots: bool = False
    what: str = ""
    by: str = ""
    receiver: str = ""
    receiver_m: float = float("nan")
    stems: pd.DataFrame | None = None


REPORTED = LayerSpec(
    PLANTS.name,
    PLANTS.title,
    "none",
    tuple(
        f
        for f in PLANTS.fields
        if f.name not in {"z", "bearing_deg", "direction", "harvest_from_date", "harvest_to_date"}
    ),
)
"""What a report reads of the plants."""


@dataclass(frozen=True, eq=False, repr=False)
class LaidOut(Value):
    """A layout as a report needs it: just computed, or read back from the approved `layout.gpkg`.

    Frames are the layers and tables of geoagro.values of the same name, in the working CRS `crs`.

    Attributes
    ----------
    plants
        Columns of REPORTED at least; what is more, and any geometry, no report asks for. In large layouts texts are categories
        and numbers narrow.
    sources
        Table SOURCES: program, working CRS, heights, design and input files.
    findings
        Table with `level`, `place`, `finding`: what reading the inputs found.
    surveys
        What was really planted, oldest survey first; empty where none was made.
    timeline
        All rounds on the places of `plants`; where None each is planted once.
    changed
        Sections of the design file that were changed after the layout was made.
    water
        What was found about water on these rows, or why there is nothing to show.
    zones
        Zones of the layout; None where its design has none.
    evidence
        Parcels, photos and list of native kinds.
    start
        Day on which week 0 begins; None where the design has none.

    >>> from pathlib import Path
    >>> from geoagro import crop_facts, example_layout, read_crop_library, read_laid_out, read_layout_file, write_layout
    >>> import tempfile
    >>> laid, library = example_layout(), read_crop_library()
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = read_layout_file(write_layout(laid, Path(folder))[0])
    ...     print(len(read_laid_out(file, crop_facts(laid.design, library), design=laid.design).tree_beds))
    6
    """

    LAYERS: ClassVar[Mapping[str, LayerSpec]] = {
        "tree_rows": TREE_ROWS,
        "tree_beds": TREE_BEDS,
        "beds": BEDS,
        "paths": PATHS,
        "unplanted": UNPLANTED,
        "plants": REPORTED,
    }

    name: str
    crs: CRS
    boundary: MultiPolygon
    tree_rows: gpd.GeoDataFrame
    tree_beds: gpd.GeoDataFrame
    beds: gpd.GeoDataFrame
    paths: gpd.GeoDataFrame
    unplanted: gpd.GeoDataFrame
    exclusions: gpd.GeoDataFrame
    contours: gpd.GeoDataFrame
    plants: pd.DataFrame
    area_summary: pd.DataFrame
    quality: pd.DataFrame
    sources: pd.DataFrame
    findings: pd.DataFrame
    crops: Mapping[str, CropFacts]
    spacing_m: float
    surveys: tuple[SurveyCounts, ...] = ()
    changed: tuple[str, ...] = ()
    timeline: Timeline | None = None
    water: WaterSeen | WaterLeft = "none"
    zones: ZoneAccount | None = None
    evidence: Evidence = field(default_factory=Evidence)
    start: date | None = None


SOURCES = LayerSpec(
    "account_sources",
    "Data sources",
    "none",
    (
        Field("item", "text", "program, working_crs, heights, or the role of an input file."),
        Field("value", "text", "Version, name or path."),
        Field("sha256", "text", "Checksum when the layout was made."),
        Field("now", "text", "unchanged, changed, missing, or empty where there is no file."),
    ),
)
