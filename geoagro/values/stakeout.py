"""Stakes: how rows are marked in the field, and the layers and tables that come of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pydantic import Field as Setting
from pydantic import model_validator

from geoagro.values.layers import Field, LayerSpec
from geoagro.values.model import Distance, Length, Model
from geoagro.values.words import say

Receiver = Literal["phone", "phone_under_trees", "sbas", "dgnss", "rtk"]
Paper = Literal["a4", "letter"]
Point = tuple[float, float]


class StakeRule(Model):
    """How rows are marked out (section `stakeout` of the design file)."""

    tolerance_m: Length = Setting(
        0.05,
        description="Farthest that a tape between two stakes may lie off the row; more for a coarse receiver if not given.",
    )
    min_spacing_m: Length = Setting(2.0, description="Stakes aren't set nearer than this unless a curve needs it.")
    max_spacing_m: Length = Setting(25.0, description="Longest tape between two stakes.")
    step_m: Length = Setting(
        1.0, description="Stakes stand on whole multiples of this from the row's start where that costs no stake."
    )
    merge_m: Distance = Setting(0.5, description="Bed ends and bends this near to another stake share it.")
    bend_deg: float = Setting(20.0, gt=0, le=180, description="Turn within 4 m of row that gets a stake of its own.")
    walk_from: Literal["auto"] | Point = Setting("auto", description="Easting, northing where the walk begins.")
    baseline: Literal["auto"] | tuple[Point, Point] = Setting(
        "auto", description="Two pegged points (easting, northing each) that offsets are measured from."
    )
    marking_crews: int = Setting(1, ge=1, description="Crews that mark at the same time.")
    marking_hours_per_day: float = Setting(
        6.0,
        gt=0,
        le=24,
        description="Hours of marking in a day: less than the working hours of season.crew, as the way there and setting up aren't in it.",
    )
    walking_kmh: float = Setting(2.5, gt=0, description="Walking speed with tools over rough ground.")
    minutes_per_stake: float = Setting(
        2.0, ge=0, description="Time to find, set and write one stake; by the receiver's way if not given."
    )
    receiver: Receiver = Setting("phone", description="What the stakes are found with.")
    accuracy_m: Length | None = Setting(
        None, description="The receiver's own standard deviation in east and north each, instead of the class's."
    )
    a_frame_m: Length = Setting(2.0, description="Distance between the feet of the A-frame.")
    crs: str | None = Setting(None, description="CRS of the stake-out files, e.g. 'EPSG:32633'; else the working CRS.")
    paper: Paper = Setting("a4", description="Paper of the printed sheets.")
    scale: Literal["auto"] | int = Setting("auto", description="Scale number of the sheets, e.g. 500 for 1:500.")

    @model_validator(mode="after")
    def _limits_fit(self) -> StakeRule:
        if self.min_spacing_m > self.max_spacing_m:
            raise ValueError("min_spacing_m must not be above max_spacing_m")
        if self.step_m > self.min_spacing_m:
            raise ValueError("step_m must not be above min_spacing_m")
        if self.scale != "auto" and not 100 <= self.scale <= 5000:
            raise ValueError("scale must lie between 100 and 5000")
        return self


@dataclass(frozen=True)
class StakeKind:
    """A kind of stake, with all that any product says or draws of it.

    Attributes
    ----------
    code
        As in column `kind` of layer MARKS.
    words
        For files and legends with room.
    brief
        For printed sheets and pocket lists.
    rank
        Where two places share a stake, it takes the kind of the lower rank.
    shape, is_filled
        Symbol on screens and sheets; hollow ones are white inside.
    size_mm, size_pt
        Of the symbol on screens, and on sheets.
    drawing_colour
        Number in the palette of the drawing format.
    """

    code: str
    words: str
    brief: str
    rank: int
    shape: Literal["square", "diamond", "triangle", "circle"]
    is_filled: bool
    size_mm: float
    size_pt: float
    drawing_colour: int


TAPE = "tape"
"""Code of a stake that stands only because the tape is long enough."""

# A further kind is one more record; the rule that finds such places then names its code. In the order of legends, which
# is also that in which names go before one another on a crowded sheet.
STAKE_KINDS: dict[str, StakeKind] = {
    kind.code: kind
    for kind in (
        StakeKind("row_end", say("row end"), say("row end"), 2, "square", True, 2.4, 5.2, 1),
        StakeKind(
            "exclusion_edge", say("edge of ground kept free"), say("edge, kept free"), 1, "square", False, 2.4, 5.2, 6
        ),
        StakeKind("gap", say("gap"), say("gap"), 3, "diamond", False, 2.4, 4.8, 6),
        StakeKind("bed_end", say("bed end"), say("bed end"), 4, "triangle", False, 2.2, 4.8, 30),
        StakeKind("bend", say("bend"), say("bend"), 5, "diamond", True, 2.4, 4.8, 5),
        StakeKind(TAPE, say("along the row"), say("on the row"), 6, "circle", True, 1.6, 4.0, 2),
    )
}


MARKS = LayerSpec(
    "stakes",
    "Stakes",
    "Point",
    (
        Field(
            "stake",
            "text",
            "Name on the stake: row and metres along it (12-035), with a decimal where two stakes share a metre.",
        ),
        Field("row", "int", "Tree row in the layout."),
        Field("label", "text", "Row as written on stakes; keeps its first number when the layout is changed."),
        Field("number", "int", "1 for the first stake of the row."),
        Field("kind", "text", f"{', '.join(list(STAKE_KINDS)[:-1])} or {list(STAKE_KINDS)[-1]}."),
        Field("station_m", "float", "Distance along the row from its start.", "m"),
        Field(
            "station_on_stake_m", "float", "The same, counted as on the stakes: from where the row first began.", "m"
        ),
        Field("tape_m", "float", "Straight distance from the stake before; empty at the first.", "m"),
        Field("why_short", "text", "Why that tape is shorter than stakeout.min_spacing_m; empty if it isn't."),
        Field("off_tape_m", "float", "Farthest that the row lies off the tape from the stake before.", "m"),
        Field("x", "float", "Easting in the working CRS.", "m"),
        Field("y", "float", "Northing in the working CRS.", "m"),
        Field("z", "float", "Height read from the elevation source; empty where heights are unknown.", "m"),
        Field("bearing_deg", "float", "Direction of the row, clockwise from grid north.", "deg"),
        Field("walk", "int", "Place in the walking order, 1 first."),
        Field("day_trip", "int", "Crew and day: part of the walk."),
        Field("note", "text", "What else is here: bed ends, gap, exclusion."),
    ),
)


def name_in_row(mark: str, label: str) -> str:
    """Part of a stake's name that follows its row's label and the sign between them; all of it where it has another label.

    >>> name_in_row("12-035", "12"), name_in_row("12/035", "12")
    ('035', '035')
    """
    return mark[len(label) + 1 :] if mark.startswith(label) else mark


PLOTS = LayerSpec(
    "plots",
    "Sample plots",
    "Polygon",
    (
        Field("plot", "text", "Name of the plot (P01)."),
        Field("x", "float", "Easting of the centre.", "m"),
        Field("y", "float", "Northing of the centre.", "m"),
        Field("radius_m", "float", "Radius, level distance.", "m"),
        Field("area_m2", "float", "Area of the whole circle.", "m2"),
        Field("plants", "int", "Plants planned in it."),
    ),
)
