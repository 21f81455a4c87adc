"""What laying out one of many fields came to, and the tables of all of them."""

from __future__ import annotations

import dataclasses
from dataclasses import asdict, dataclass
from typing import Any, Literal

from geoagro.values.layers import Field, LayerSpec

Status = Literal["done", "failed", "died"]
"""done; failed: told in words why; died: its process ended twice without a word (memory, killed)."""

FIELD_FIGURES = (
    Field("field_m2", "float", "Gross field on the map plane.", "m2"),
    Field("field_geodesic_m2", "float", "Gross field on the ellipsoid.", "m2"),
    Field("plantable_m2", "float", "Plantable ground on the map plane.", "m2"),
    Field("planted_m2", "float", "Beds that carry plants, on the map plane.", "m2"),
    Field("trees", "int", "Planting points of trees."),
    Field("plants", "int", "All planting points."),
    Field("crops", "int", "Crops in the field."),
    Field("rows", "int", "Tree rows."),
    Field("row_length_m", "float", "Length of the tree rows.", "m"),
    Field("trees_per_ha_planted", "float", "Trees per hectare of planted beds.", "1/ha"),
)
"""What is counted of a laid-out field, one by one and in a portfolio."""
FIGURES = tuple(figure.name for figure in FIELD_FIGURES)

FIELD_RESULTS = LayerSpec(
    "field_results",
    "Fields and what laying them out came to",
    "MultiPolygon",
    (
        Field("field", "text", "Name of the field."),
        Field("folder", "text", "Folder of its design and result, below that of all fields."),
        Field("status", "text", "Whether it was laid out.", values=("done", "failed", "died")),
        Field("problem", "text", "Why it wasn't; empty if it was."),
        Field("warnings", "int", "Warnings among its findings."),
        Field("finding", "text", "The first warning; all are in its layout."),
        *(dataclasses.replace(figure, kind="float") for figure in FIELD_FIGURES),  # empty where nothing was laid out
        Field("crs", "text", "Working CRS of the field."),
        Field("seconds", "float", "Time that it took.", "s"),
        Field("processor_s", "float", "Processor time that it took.", "s"),
        Field("memory_mb", "float", "Most memory that its process had held until then.", "MB"),
    ),
)

FIELD_CROPS = LayerSpec(
    "field_crops",
    "Crops by field",
    "none",
    (
        Field("field", "text", "Name of the field."),
        Field("crop", "text", "Crop code."),
        Field("name", "text", "Name of the crop."),
        Field("habit", "text", "tree, shrub, herb, grass or vine."),
        Field("plants", "int", "Planting points."),
        Field("share_area_m2", "float", "Its share of the planted beds.", "m2"),
    ),
)


@dataclass(frozen=True, eq=False)
class FieldResult:
    """What one field came to.

    Attributes
    ----------
    field
        Name.
    folder
        Of its design and result, relative to that of all fields, with forward slashes.
    state
        Checksum of all that it depends on; empty where the inputs can't be read.
    figures
        By the names of FIGURES; empty where nothing was laid out.
    crops
        Rows of FIELD_CROPS without the field's name.
    outline
        Boundary in longitude and latitude (WGS 84) as WKB in hexadecimal; empty where it is unknown.
    """

    field: str
    folder: str
    state: str
    status: Status
    problem: str = ""
    warnings: int = 0
    finding: str = ""
    figures: dict[str, float] = dataclasses.field(default_factory=dict)
    crops: tuple[dict[str, Any], ...] = ()
    crs: str = ""
    outline: str = ""
    seconds: float = 0.0
    processor_s: float = 0.0
    memory_mb: float = 0.0

    def data(self) -> dict[str, Any]:
        """Give all of it as data for JSON."""
        return asdict(self)

    @classmethod
    def of(cls, data: dict[str, Any]) -> FieldResult:
        """Take what `data` gave; TypeError or KeyError where it is something else."""
        return cls(**data | {"crops": tuple(data["crops"])})
