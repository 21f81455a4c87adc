"""Which beds a sheet is for, in words."""

from __future__ import annotations

from collections.abc import Sequence

from geoagro.plants.kinds import Kind
from geoagro.values.beds import Beds
from geoagro.values.rules.bed_kinds import BED_KINDS, STRIPS
from geoagro.values.words import Sentence, say


def bed_words(kinds: Sequence[Kind]) -> tuple[Sentence | str, ...]:
    """Name the kind of bed, and after it the mixtures that have a name of their own."""
    named = sorted({k.mixture for k in kinds} - set(STRIPS))
    return (Sentence(BED_KINDS[kinds[0].bed_kind].one), *named)


def sides_of(members: list[str]) -> set[str]:
    """Sides of the row, U and D, that these beds lie on."""
    return {bed.split("-")[1][0] for bed in members} - {"T"}


def which_beds(members: list[str], beds: Beds) -> Sentence:
    """Say which beds look like this one, out of those that the recipe plants."""
    if members[0].endswith("-T"):
        return _turn(_TREE_BEDS, [int(bed[1:4]) for bed in members], len(beds.tree_beds))
    layer = beds.beds[beds.beds["bed"].isin(members)]
    sides = sides_of(members)
    side = next(iter(sides)) if len(sides) == 1 else ""
    if (layer["facing_row"] == 0).all():
        return Sentence(_EDGE_BEDS[side])
    return _turn(_VEGETABLE_BEDS[side], list(layer["row"]), len(beds.tree_beds))


def _turn(messages: tuple[str, str], rows: list[int], total: int) -> Sentence:
    some = sorted(set(rows))
    return (
        Sentence(messages[0])
        if len(some) == total
        else Sentence(messages[1], rows=", ".join(str(row) for row in some[:4]))
    )


# for all rows, and for some of them
_TREE_BEDS = say("For all tree beds."), say("For tree beds of rows {rows}, ...")
_VEGETABLE_BEDS = {
    "": (say("For all vegetable beds."), say("For vegetable beds of rows {rows}, ...")),
    "U": (
        say("For all vegetable beds on the upslope side of their row."),
        say("For vegetable beds on the upslope side of rows {rows}, ..."),
    ),
    "D": (
        say("For all vegetable beds on the downslope side of their row."),
        say("For vegetable beds on the downslope side of rows {rows}, ..."),
    ),
}
_EDGE_BEDS = {
    "": say("For vegetable beds at the edge of the field (no tree row beyond)."),
    "U": say("For vegetable beds at the edge of the field (no tree row beyond), on the upslope side of their row."),
    "D": say("For vegetable beds at the edge of the field (no tree row beyond), on the downslope side of their row."),
}
