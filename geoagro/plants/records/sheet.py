"""What a field worker needs to plant one bed: lines, distances, directions, times, cautions."""

from __future__ import annotations

from dataclasses import dataclass

from geoagro.arrays import Floats, Ints
from geoagro.values.words import Sentence


@dataclass(frozen=True)
class SheetKind:
    """One crop of one planting in the bed; sizes of the grown plant, weeks from the start of the design.

    Attributes
    ----------
    how
        The instruction, sentence by sentence.
    standing
        True where it was planted earlier and still stands.
    per_10_m
        Plants in 10 m of bed.
    """

    crop: str
    name: str
    planting: str
    stratum: str
    habit: str
    how: tuple[Sentence, ...]
    standing: bool
    per_10_m: float
    plant_week: int
    harvest_from_week: int
    harvest_to_week: int
    height_m: float
    crown_m: float
    reach_m: float
    opening_deg: float
    full_size_weeks: float
    caution: str | None
    notes: str

    def size(self, week: float) -> float:
        """Share of the full size; 0 where the plant isn't there."""
        if not self.plant_week <= week <= self.harvest_to_week:
            return 0.0
        return min(1.0, (week - self.plant_week) / self.full_size_weeks)


@dataclass(frozen=True)
class SheetLine:
    """One line of one planting: `first_m` from the bed's end, then every `step_m`.

    Attributes
    ----------
    offset_m
        Distance from the bed's middle, upslope positive.
    beside
        Name of the planting that its plants stand beside; empty for a line of its own.
    """

    planting: str
    offset_m: float
    first_m: float
    step_m: float
    beside: str


@dataclass(frozen=True, eq=False)
class BedSheet:
    """A stretch of one bed, drawn with the row running to the right and uphill at the top.

    Attributes
    ----------
    beds
        Which beds of the field it is for, in words.
    row_side
        Where the bed's own tree row lies: "below", "above", or "" for the tree bed itself.
    x, y
        Distance along the bed from its start, and from its middle (upslope positive), metres.
    facing_deg
        Where roots point, clockwise from the row's direction; NaN all round.
    kind
        Index into `kinds`.
    """

    title: Sentence
    bed_kind: str
    beds: Sentence
    row_side: str
    width_m: float
    length_m: float
    kinds: tuple[SheetKind, ...]
    lines: tuple[SheetLine, ...]
    x: Floats
    y: Floats
    facing_deg: Floats
    kind: Ints
