"""The kinds of beds: what a planting may ask for, which laid strips it means, and what people call it.

A new kind is written here; where its strips are laid in a way of their own, in `beds` too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from geoagro.arrays import Bools, Texts
from geoagro.values.words import say

BedCode = Literal["tree", "vegetable", "edge"]
"""What a planting writes under `bed`."""


@dataclass(frozen=True)
class BedKind:
    """A kind of bed.

    `strips` is the kind of strip that it is planted on (bed_kind of plants and tables); `lasts` says that what stands there
    stays for years: trees, never planted in rounds; `at_edge` that it means only strips with no row on their far side.
    """

    code: BedCode
    one: str
    many: str
    strips: BedCode
    lasts: bool = False
    at_edge: bool = False


def one_of(codes: Sequence[str]) -> str:
    """List codes as a choice.

    >>> one_of(["a", "b", "c"])
    "'a', 'b' or 'c'"
    """
    *first, last = (f"'{code}'" for code in codes)
    return f"{', '.join(first)} or {last}" if first else last


TREE = BedKind("tree", say("tree bed"), say("tree beds"), "tree", lasts=True)
VEGETABLE = BedKind("vegetable", say("vegetable bed"), say("vegetable beds"), "vegetable")
EDGE = BedKind("edge", say("edge bed"), say("edge beds"), "vegetable", at_edge=True)
BED_KINDS: dict[str, BedKind] = {kind.code: kind for kind in (TREE, VEGETABLE, EDGE)}
STRIPS: tuple[BedCode, ...] = tuple(dict.fromkeys(kind.strips for kind in BED_KINDS.values()))
"""Kinds of strips, as tables name them."""

STRIP_WORDS = f"{one_of(STRIPS)}."
KIND_WORDS = f"{one_of(tuple(BED_KINDS))}."


def lasts(code: str) -> bool:
    """Tell whether what stands in a kind of bed stays for years.

    >>> lasts("tree"), lasts("vegetable"), lasts("edge")
    (True, False, False)
    """
    return BED_KINDS[code].lasts


def lasting_kinds() -> tuple[str, ...]:
    """Kinds of bed in which plants stay for years.

    >>> lasting_kinds()
    ('tree',)
    """
    return tuple(kind.code for kind in BED_KINDS.values() if kind.lasts)


def lasting(codes: Texts) -> Bools:
    """Tell the same for many beds at once."""
    return np.isin(codes.astype(str), lasting_kinds())


def fitting(code: str, kind: Texts, edge: Bools, *, edge_apart: bool) -> Bools:
    """Tell which strips a planting for a kind of bed goes into.

    `kind` and `edge` are the strips' kind and whether no row lies on their far side; with `edge_apart` the strips at the edge
    are left to plantings that ask for them.
    """
    wanted = BED_KINDS[code]
    fits = kind == wanted.strips
    apart = edge_apart and any(other.at_edge and other.strips == wanted.strips for other in BED_KINDS.values())
    return np.asarray(fits & edge if wanted.at_edge else fits & ~(edge & apart), dtype=bool)
