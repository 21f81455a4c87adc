"""The planting recipe: crops, and which of them stands where in a bed, facing which way, and when."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from geoagro.values.crop_limits import FARTHEST_APART_M, length_slip, slips
from geoagro.values.model import Bearing, Count, Distance, Length, Metres, Model, Name, PercentShare, Spacing, Weeks
from geoagro.values.places import Places
from geoagro.values.rules.bed_kinds import BedCode, lasts

Stratum = Literal["emergent", "high", "medium", "low", "ground"]
REFERENCE_PCT: dict[Stratum, float] = {"emergent": 20.0, "high": 40.0, "medium": 60.0, "low": 80.0}
"""Shares of ground per stratum that a recipe can be set beside (from memory, no citable table was found)."""

Habit = Literal["tree", "shrub", "herb", "grass", "vine"]
HarvestKind = Literal["uproot", "cut", "pick"]
Material = Literal[
    "seed", "seedling", "grafted tree", "stem cutting", "slip", "sucker", "corm", "sett", "rhizome", "set"
]
Week = Weeks
Weight = Annotated[float, Field(ge=0, allow_inf_nan=False)]

Span = tuple[Weight, Weight]
LightYield = tuple[PercentShare, Annotated[float, Field(ge=0, allow_inf_nan=False)]]

OWN_VALUE = "design file"
"""Source of a value that the design gives itself."""
PERENNIAL_WEEKS = 104
"""Only crops that live longer than this bear year after year."""

EMPTY_PLACE = "-"
"""In a sequence: a place where nothing is planted."""


class Crop(Model):
    """A crop or tree; a value that is left out comes from the crop library, if the code is known there.

    Sizes are those of a grown plant; `sources` says where each value comes from.

    >>> from geoagro import read_crop_library
    >>> read_crop_library()["apple"].root_depth_m
    (1.0, 2.0)
    """

    name: Name | None = Field(None, description="Name on sheets and tables.")
    scientific: str | None = Field(None, description="Scientific name.")
    like: str | None = Field(None, description="Library crop that the values left out are taken from.")
    family: str | None = Field(None, description="Botanical family, for rotation.")
    habit: Habit | None = Field(None, description="How it grows: what its size may be, and how it is worked.")
    stratum: Stratum | None = Field(None, description="Height class by need of light; `height_m` is the height itself.")
    spacing_m: Spacing | None = Field(None, description="Distance in the line.")
    spacing_range_m: tuple[Length, Length] | None = Field(None, description="Distance in the line by handbooks.")
    usual_per_m2: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = Field(
        None, description="Places on a square metre where it is grown alone, by handbooks; yields hold at this density."
    )
    harvest_weeks: tuple[Week, Week] | None = Field(
        None, description="First and last week of harvest after planting; the last one ends the plant's life."
    )
    full_size_weeks: Annotated[float, Field(gt=0)] | None = Field(
        None, description="Weeks from planting to full canopy and root reach."
    )
    canopy_width_m: Distance | None = Field(None, description="Diameter of the crown.")
    height_m: Distance | None = Field(None, description="Height of a grown plant.")
    crown_base_pct: Annotated[float, Field(ge=0, lt=100)] | None = Field(
        None, description="Height at which the leaves begin, percent of the plant's height."
    )
    k_lai: Annotated[float, Field(gt=0, le=10)] | None = Field(
        None, description="Extinction coefficient x leaf area index of the crop grown alone, full-grown."
    )
    leafless_months: tuple[Annotated[int, Field(ge=1, le=12)], ...] | None = Field(
        None, description="Calendar months without leaves; the library's count north of the equator."
    )
    shade_response_pct: tuple[LightYield, ...] | None = Field(
        None,
        description="Points (light, yield), both in percent of open ground, rising in light; straight between them. "
        "Yield falls as light does if left out.",
    )
    pruned_width_m: Distance | None = Field(
        None, description="Diameter of the crown after pruning, `season.crops.<crop>.prune_rounds` times a year."
    )
    pruned_height_m: Distance | None = Field(None, description="Height after pruning.")
    root_reach_m: Distance | None = Field(None, description="Radius that holds most of the roots.")
    lifting_reach_m: Distance | None = Field(
        None, description="Radius of the storage roots that are lifted, where it differs from that of all roots."
    )
    root_depth_m: tuple[Distance, Distance] | None = Field(
        None, description="Deepest that most roots go, low and high."
    )
    kc_mid: Annotated[float, Field(gt=0)] | None = Field(
        None, description="Water need at full cover, as a multiple of reference evapotranspiration."
    )
    root_opening_deg: Annotated[float, Field(gt=0, le=360)] | None = Field(
        None,
        description="Opening of the sector in which digging harms the roots of a plant set facing a direction.",
    )
    harvest: HarvestKind | None = Field(None, description="How it is harvested.")
    material: Material | None = Field(None, description="What is planted.")
    plants_per_place: Annotated[int, Field(ge=1)] | None = Field(None, description="Seeds or plants at each place.")
    material_g: Weight | None = Field(None, description="Weight of what is planted at one place, grams.")
    stem_length_m: Distance | None = Field(None, description="Usable length of one stem that cuttings are cut from.")
    piece_length_m: Distance | None = Field(None, description="Length of one cutting.")
    nursery_weeks: Annotated[float, Field(ge=0)] | None = Field(None, description="Weeks in the nursery.")
    frost_tender: bool | None = Field(None, description="Killed by frost while it stands; held for tender if left out.")
    keeps_days: tuple[Week, Week] | None = Field(None, description="Days that the harvest keeps, low and high.")
    taken_kg_per_t: tuple[Span, Span, Span] | None = Field(
        None, description="Nitrogen, phosphorus and potassium (N, P, K) in a tonne of harvest: [low, high] each, kg."
    )
    yield_kg: tuple[Weight, Weight, Weight] | None = Field(
        None, description="Low, likely, high per place: whole harvest of a crop, one bearing year of a tree."
    )
    sole_yield_t_per_ha: Weight | None = Field(None, description="Own yield of this crop grown alone.")
    caution: str | None = Field(None, description="What can hurt people; printed on every sheet.")
    order_caution: str | None = Field(None, description="What to ask before ordering it, such as invasiveness.")
    sources: dict[str, str] = Field(default_factory=dict, description="Where each value comes from, by its name.")

    @property
    def inherited(self) -> list[str]:
        """Keys that this crop takes from the one it is `like`, in the record's order."""
        start = f"as in {self.like}: "
        return [key for key in type(self).model_fields if self.sources.get(key, "").startswith(start)]

    @property
    def bears_for_years(self) -> bool:
        """Harvested year after year, not once: it lives long, and longer after its first harvest than before."""
        first, last = self.harvest_weeks or (0, 0)
        return self.harvest != "uproot" and last > PERENNIAL_WEEKS and last - first >= first

    @property
    def pieces_per_stem(self) -> int | None:
        """Cuttings that one stem gives; None where no lengths are known."""
        if not self.stem_length_m or not self.piece_length_m:
            return None
        return max(int(self.stem_length_m / self.piece_length_m + 1e-9), 1)

    @model_validator(mode="after")
    def _ranges_rise(self) -> Crop:
        for key in ("spacing_range_m", "harvest_weeks", "yield_kg", "root_depth_m", "keeps_days"):
            values = getattr(self, key)
            if values is not None and list(values) != sorted(values):
                raise ValueError(f"{key} must rise from first to last (found {list(values)})")
        return self

    @model_validator(mode="after")
    def _can_be_meant(self) -> Crop:
        found = list(slips(self.__dict__, self.habit))
        if found:
            raise ValueError("; ".join(found))
        return self

    @model_validator(mode="after")
    def _shade_points_rise(self) -> Crop:
        if self.shade_response_pct is None:
            return self
        light = [point[0] for point in self.shade_response_pct]
        if len(light) < 2 or any(b <= a for a, b in pairwise(light)):
            raise ValueError("shade_response_pct needs at least two points (light, yield) that rise in light")
        if self.shade_response_pct[-1] != (100.0, 100.0):
            raise ValueError(
                "shade_response_pct must end at full light, full yield: [100, 100] "
                f"(found {list(self.shade_response_pct[-1])})"
            )
        return self

    def leafless(self, *, south: bool) -> tuple[int, ...]:
        """Calendar months without leaves at a place: what the library says holds six months later in the south.

        >>> Crop(leafless_months=(12, 1)).leafless(south=True)
        (6, 7)
        """
        months = self.leafless_months or ()
        if not south or self.sources.get("leafless_months") == OWN_VALUE:
            return months
        return tuple((month + 5) % 12 + 1 for month in months)


class Beside(Model):
    """A place relative to each plant of another planting."""

    planting: str = Field(description="Name of the other planting, in the same kind of bed.")
    distance_m: Length = Field(description="From the other plant.")
    where: Literal["behind", "ahead", "upslope", "downslope", "along", "against"] = Field(
        "behind", description="behind: on the side away from the other plant's roots; ahead: on the roots' side."
    )


class Thinning(Model):
    """One step of thinning a planting."""

    year: Annotated[int, Field(ge=1, le=200)] = Field(description="Years after planting.")
    keep_pct: Annotated[float, Field(gt=0, lt=100)] = Field(
        description="Percent of the plants first planted that stays, evenly."
    )
    crop: str | None = Field(None, description="Only this crop of a sequence.")


Direction = Literal["all_round", "along", "against", "uphill", "downhill", "away", "auto"]


class Planting(Model):
    """One crop's (or one sequence's) lines in one kind of bed.

    >>> from geoagro import Planting
    >>> Planting(crop="apple", bed="tree", spacing_m=3.5).label
    'apple'
    """

    crop: str | None = Field(None, description="Crop code; or give `sequence`.")
    sequence: tuple[str, ...] = Field(
        (), description="Crop codes that repeat along the line, one place each; '-' leaves a place empty."
    )
    bed: BedCode = Field(
        description="edge: vegetable beds with no tree row on their far side; they count as vegetable if none is given."
    )
    name: Name | None = Field(None, description="Own name of this planting; the crop's code if left out.")
    mixture: Name | None = Field(
        None, description="Name of the mixture it belongs to; the zone or the kind of bed if left out."
    )
    side: Literal["up", "down", "both"] = Field("both", description="Vegetable beds on which side of their row.")
    order: Count | None = Field(None, description="Only the 1st, 2nd, ... bed from the row.")
    every: Count = Field(1, description="Only in the beds of every n-th row ...")
    first_row: Count = Field(1, description="... counted from this row.")
    within: Places = Field((), description="Only there: rows, alleys, beds, side, area; everywhere if left out.")
    instead_of: str | None = Field(
        None, description="Stands on the places of this crop, in its stead; `spacing_m` then thins them."
    )
    zone: str | None = Field(None, description="Only in this zone; plantings listed in a zone have its name.")
    spacing_m: Spacing | None = Field(None, description="Distance in the line; the crop's own if left out.")
    lines: int = Field(1, ge=1, le=200, description="Lines across the bed, evenly spread.")
    offsets_m: tuple[Metres, ...] | None = Field(
        None, description="Instead of `lines`: distances from the bed's middle, upslope positive."
    )
    stagger: bool = Field(False, description="Shift every second line by half a step.")
    first_offset_m: Distance = Field(0.0, description="The first plant stands this far behind the end margin.")
    end_margin_m: Distance | None = Field(
        None, description="Kept free at both ends of the line; half the spacing if left out."
    )
    sequence_shift: int = Field(
        0, ge=-100_000, le=100_000, description="Places by which the sequence starts later from row to row."
    )
    beside: Beside | None = Field(None, description="Instead of lines: one plant beside each of another planting.")
    direction: Direction | Bearing = Field(
        "all_round", description="Where the roots of a slanted plant point; a number is a bearing."
    )
    root_opening_deg: Annotated[float, Field(gt=0, le=360)] | None = Field(
        None, description="Opening of the sector in which digging harms; the crop's own if left out."
    )
    week: Week = Field(0, description="Week of planting, counted from the start of the design.")
    after: str | None = Field(None, description="Planted when this other planting is harvested, instead of `week`.")
    after_harvest: Literal["last", "first"] = Field(
        "last", description="first: planted as soon as that other planting's harvest begins, between what still stands."
    )
    gap_weeks: Week = Field(0, description="Weeks between that harvest and this planting.")
    batches: Annotated[int, Field(ge=1, le=52)] = Field(
        1, description="Planted in so many batches, row after row in turn, so that it is ripe in turn ..."
    )
    batch_weeks: Annotated[int, Field(ge=1)] = Field(2, description="... so many weeks apart.")
    harvest_weeks: tuple[Week, Week] | None = Field(None, description="As in the crop; the crop's own if left out.")
    thin: tuple[Thinning, ...] = Field(
        (),
        description="Steps of thinning: year after planting, percent of the plants that stays; felled plants yield no more.",
    )
    turn: Annotated[int, Field(ge=1, le=20)] = Field(
        1,
        description="Round of the beds in which it stands: beds go through turns 1, 2, ... of `season.vegetables.every_weeks` "
        "and begin again, so the next round is another recipe; `week` counts from the start of its turn.",
    )
    measured_yield_kg: dict[str, tuple[Weight, Weight, Weight]] = Field(
        default_factory=dict,
        description="Low, likely, high per place by crop, measured in this very mixture; goes before the model of yields.",
    )

    @property
    def codes(self) -> tuple[str, ...]:
        """Crop codes by place in the line, '-' for an empty place."""
        return (self.crop,) if self.crop else self.sequence

    @property
    def crops(self) -> tuple[str, ...]:
        """The crops of this planting, each once, in order of first use."""
        return tuple(dict.fromkeys(code for code in self.codes if code != EMPTY_PLACE))

    @property
    def label(self) -> str:
        """Own name, or the crop's code (the codes, joined by +)."""
        return self.name or "+".join(self.crops)

    @property
    def mixture_name(self) -> str:
        """Own mixture, or the zone, or the kind of bed."""
        return self.mixture or self.zone or self.bed

    @model_validator(mode="after")
    def _takes_places_as_they_are(self) -> Planting:
        if self.instead_of is not None and (
            self.sequence or self.beside or self.offsets_m is not None or self.lines != 1 or self.stagger
        ):
            raise ValueError(
                "instead_of takes places as they are; leave out sequence, beside, lines, offsets_m, stagger"
            )
        if self.instead_of is not None and self.direction == "auto":
            raise ValueError("with instead_of give a direction other than auto")
        return self

    @model_validator(mode="after")
    def _steps_and_turns_fit(self) -> Planting:
        if lasts(self.bed) and self.turn > 1:
            raise ValueError("turn goes with vegetable and edge beds; trees stand through all turns")
        for before, step in pairwise(sorted(self.thin, key=lambda step: step.year)):
            if before.crop == step.crop and (step.year == before.year or step.keep_pct >= before.keep_pct):
                raise ValueError("thin: each later step must keep a smaller share of the plants first planted")
        if unknown := {step.crop for step in self.thin if step.crop is not None} - set(self.crops):
            raise ValueError(f"thin names {', '.join(sorted(unknown))}, which this planting doesn't hold")
        return self

    @model_validator(mode="after")
    def _one_way_each(self) -> Planting:
        if bool(self.crop) == bool(self.sequence):
            raise ValueError("give either crop or sequence")
        if not self.crops:
            raise ValueError("sequence names no crop, only empty places")
        if self.beside and (self.offsets_m is not None or self.lines != 1 or self.stagger or self.sequence):
            raise ValueError("beside already says where plants stand; leave out lines, offsets_m, stagger and sequence")
        if self.offsets_m is not None and (self.lines != 1 or not self.offsets_m):
            raise ValueError("give either lines or offsets_m (at least one distance)")
        if self.batches > 1 and (self.every > 1 or self.beside):
            raise ValueError("batches share out the rows themselves; leave out every and beside")
        if self.after is not None and self.week:
            raise ValueError("give either week or after")
        if lasts(self.bed) and (self.side != "both" or self.order is not None):
            raise ValueError("side and order go with vegetable and edge beds")
        if self.harvest_weeks is not None and self.harvest_weeks[0] > self.harvest_weeks[1]:
            raise ValueError("harvest_weeks must rise from first to last")
        if self.spacing_m is not None and (slip := length_slip("spacing_m", self.spacing_m, FARTHEST_APART_M)):
            raise ValueError(slip)
        return self


def in_batches(plantings: tuple[Planting, ...]) -> tuple[Planting, ...]:
    """Write each planting in batches as one planting per batch, in every n-th row and so many weeks later.

    >>> [(p.label, p.first_row, p.week) for p in in_batches((Planting(crop="kale", bed="vegetable", batches=2),))]
    [('kale 1', 1, 0), ('kale 2', 2, 2)]
    """
    return tuple(batch for planting in plantings for batch in _batches(planting))


def _batches(planting: Planting) -> Iterator[Planting]:
    if planting.batches == 1:
        yield planting
        return
    given = planting.model_dump(exclude_unset=True) | {"batches": 1, "every": planting.batches}
    for k in range(planting.batches):
        wait = planting.batch_weeks * k
        when = {"gap_weeks": planting.gap_weeks + wait} if planting.after else {"week": planting.week + wait}
        name = {"name": f"{planting.label} {k + 1}", "first_row": planting.first_row + k}
        yield Planting.model_validate(given | name | when)


class Recipe(Model):
    """A reusable recipe file: crops and plantings that several designs share."""

    name: Name
    note: str | None = None
    turn: Annotated[int, Field(ge=1, le=20)] = Field(
        1, description="Round of the beds in which its vegetable plantings stand, as a planting's `turn`."
    )
    crops: dict[str, Crop] = Field(default_factory=dict, description="Own crops, or changes to library crops.")
    plantings: Annotated[tuple[Planting, ...], AfterValidator(in_batches)] = ()

    def in_its_turn(self) -> Recipe:
        """Give its vegetable plantings the recipe's turn; their own ones count from there."""
        moved = (p if lasts(p.bed) else p.model_copy(update={"turn": p.turn + self.turn - 1}) for p in self.plantings)
        return self.model_copy(update={"plantings": tuple(moved), "turn": 1})
