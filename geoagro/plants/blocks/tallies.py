"""What placing finds, as numbers that add up over blocks of beds, and the finding that is told of their sum."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

import numpy as np

from geoagro.arrays import Floats, Ints
from geoagro.errors import DesignError
from geoagro.values.site import Finding
from geoagro.values.words import CropName, Sentence

T = TypeVar("T", bound="Tally")


class Tally(Protocol):
    """Numbers of one planting."""

    @property
    def label(self) -> str:
        """Name of the planting."""

    def more(self: T, other: T) -> T:
        """Add the numbers of another block."""

    def told(self) -> Finding | None:
        """Tell them; None where nothing is worth telling."""


@dataclass(frozen=True)
class Fitting:
    """How many beds take a planting."""

    label: str
    beds: int

    def more(self, other: Fitting) -> Fitting:
        """Add the beds of another block."""
        return replace(self, beds=self.beds + other.beds)

    def told(self) -> Finding | None:
        """Warn where there is none."""
        if self.beds:
            return None
        return Finding(
            "warning",
            Sentence("planting {planting}", planting=CropName(self.label)),
            Sentence("No bed of this design fits it; nothing planted."),
        )


@dataclass(frozen=True)
class LeftOut:
    """Plants beside others whose place would lie outside the bed."""

    label: str
    beside: str
    lost: int
    asked: int

    def more(self, other: LeftOut) -> LeftOut:
        """Add the plants of another block."""
        return replace(self, lost=self.lost + other.lost, asked=self.asked + other.asked)

    def told(self) -> Finding | None:
        """Tell how many; raises DesignError where it is all of them."""
        if self.lost and self.lost == self.asked:
            raise DesignError(
                f"planting '{self.label}': every place beside '{self.beside}' lies outside the bed. Make distance_m smaller, or "
                "move the other planting's lines toward the bed's middle."
            )
        if not self.lost:
            return None
        text = Sentence(
            "{lost} of {n} plants left out: their place beside the other planting lies outside the bed.",
            lost=self.lost,
            n=self.asked,
        )
        return Finding("note", Sentence("planting {planting}", planting=CropName(self.label)), text)


@dataclass(frozen=True)
class Taken:
    """Places that one crop takes over from another, and how near its plants come to stand in their lines, metres."""

    label: str
    crop: str
    instead_of: str
    places: int
    asked_m: float | None
    least_m: float

    def more(self, other: Taken) -> Taken:
        """Add the places of another block."""
        return replace(self, places=self.places + other.places, least_m=min(self.least_m, other.least_m))

    def told(self) -> Finding | None:
        """Warn where nothing is taken, or where the crop stands nearer than its own handbook range."""
        where = Sentence("planting {planting}", planting=CropName(self.label))
        if not self.places:
            return Finding(
                "warning", where, Sentence("No {instead_of} stands there; nothing planted.", instead_of=self.instead_of)
            )
        if self.asked_m is None or self.least_m >= self.asked_m - 1e-6:
            return None
        text = Sentence(
            "{code} stands {step:.2f} m apart on the places of {instead_of}; its own spacing is "
            "{wanted:g} m or more. Give spacing_m: {wanted:g} to leave places empty between them.",
            code=self.crop,
            step=self.least_m,
            instead_of=self.instead_of,
            wanted=self.asked_m,
        )
        return Finding("warning", where, text)


@dataclass(frozen=True, eq=False)
class Turned:
    """Directions that were tried on lines.

    Attributes
    ----------
    mean
        Share of root zones that others use, shape (directions, lines).
    best
        Direction chosen for each line.
    """

    label: str
    words: tuple[str, ...]
    mean: Floats
    best: Ints

    def more(self, other: Turned) -> Turned:
        """Add the lines of another block."""
        mean = np.concatenate([self.mean, other.mean], axis=1)
        return replace(self, mean=mean, best=np.concatenate([self.best, other.best]))

    def told(self) -> Finding | None:
        """Tell what was chosen and what it gains."""
        where = Sentence("planting {planting}", planting=CropName(self.label))
        if not len(self.best):
            return Finding("note", where, Sentence("Direction auto had no plants to turn."))
        counts = np.bincount(self.best, minlength=len(self.words))
        chosen = tuple(
            Sentence("{direction} on {n} of {all} lines", direction=self.words[k], n=counts[k], all=len(self.best))
            for k in np.argsort(-counts)
            if counts[k]
        )
        used = 100 * float(self.mean[self.best, np.arange(len(self.best))].mean())
        rest = ", ".join(f"{word} {100 * float(self.mean[k].mean()):.0f} %" for k, word in enumerate(self.words))
        text = Sentence(
            "Direction auto chose {chosen}: other plants use {used:.0f} % of its root zones (with all lines {rest}).",
            chosen=chosen,
            used=used,
            rest=rest,
        )
        return Finding("note", where, text)


def told(tallies: Iterable[Sequence[Tally]]) -> tuple[Finding, ...]:
    """Add up the tallies of blocks, which have them in the same order, and tell the sums."""
    total: list[Tally] = []
    for block in tallies:
        total = [a.more(b) for a, b in zip(total, block, strict=True)] if total else list(block)
    found = (tally.told() for tally in total)
    return tuple(finding for finding in found if finding is not None)
