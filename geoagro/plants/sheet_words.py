"""Which beds a sheet is for, in words."""

from __future__ import annotations

from collections.abc import Sequence

from geoagro.plants.kinds import Kind
from geoagro.values.beds import Beds
from geoagro.values.rules.bed_kinds import BED_KINDS, STRIPS


def bed_words(kinds: Sequence[Kind]) -> str:
    """Name the kind of bed, and the mixture where it has a name of its own."""
    mixtures = sorted({k.mixture for k in kinds})
    kind = BED_KINDS[kinds[0].bed_kind].one
    named = [m for m in mixtures if m not in STRIPS]
    return f"{kind}, {' and '.join(named)}" if named else kind


def sides_of(members: list[str]) -> set[str]:
    """Sides of the row, U and D, that these beds lie on."""
    return {bed.split("-")[1][0] for bed in members} - {"T"}


def which_beds(members: list[str], beds: Beds) -> str:
    """Say which beds look like this one, out of those that the recipe plants."""
    if members[0].endswith("-T"):
        rows = [int(bed[1:4]) for bed in members]
        return _turn("tree beds", rows, len(beds.tree_beds))
    layer = beds.beds[beds.beds["bed"].isin(members)]
    side = {"U": "upslope side of their row", "D": "downslope side of their row"}
    sides = sides_of(members)
    text = "vegetable beds" + (f" on the {side[next(iter(sides))]}" if len(sides) == 1 else "")
    if (layer["facing_row"] == 0).all():
        return f"{text} at the edge of the field (no tree row beyond)"
    return _turn(text, list(layer["row"]), len(beds.tree_beds))


def _turn(what: str, rows: list[int], total: int) -> str:
    some = sorted(set(rows))
    return f"all {what}" if len(some) == total else f"{what} of rows {', '.join(str(row) for row in some[:4])}, ..."
