"""Sheets to plant from: one for each different bed that a recipe makes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from geoagro.errors import DesignError
from geoagro.plants.crops import need
from geoagro.plants.instructions import how_to_plant
from geoagro.plants.kinds import Kind, Stand, stand_of
from geoagro.plants.model_field import model_beds, model_ground
from geoagro.plants.placement import place_plants
from geoagro.values.bed_sheet import BedSheet, SheetKind, SheetLine
from geoagro.values.beds import Beds
from geoagro.values.design import BedRule
from geoagro.values.plants import Plants
from geoagro.values.recipe import Crop, Planting

_ALONG_DEG = 90.0
"""Bearing of the model's rows."""

_COUNT_M = 60.0
"""Length of bed that plants per 10 m are counted on."""


def model_stand(
    rule: BedRule, spacing_m: float, crops: Mapping[str, Crop], plantings: Sequence[Planting], length_m: float
) -> tuple[Beds, Plants]:
    """Place a recipe on straight rows on an even slope, without any field."""
    beds = model_beds(rule, spacing_m, plantings, length_m)
    return beds, place_plants(beds, model_ground(beds), crops, plantings)


def bed_sheets(
    name: str, rule: BedRule, spacing_m: float, crops: Mapping[str, Crop], plantings: Sequence[Planting]
) -> tuple[BedSheet, ...]:
    """One sheet for each different bed: tree bed, vegetable bed, edge, and every mixture of them.

    Beds on both sides of the row share a sheet unless they differ.
    """
    if not plantings:
        raise DesignError("plantings: there is nothing to plant; add at least one planting.")
    beds, plants = model_stand(rule, spacing_m, crops, plantings, _COUNT_M)
    stand = stand_of(plants.frame, plantings, crops)
    groups: dict[tuple[Any, ...], list[str]] = {}
    for bed, part in plants.frame.assign(kind=stand.kind).groupby("bed", sort=False):
        groups.setdefault(_likeness(part), []).append(str(bed))
    return tuple(_sheet(name, members, beds, (plants.frame, stand), crops) for members in groups.values())


def _likeness(part: Any) -> tuple[Any, ...]:
    """Tell what must be equal for two beds to share a sheet: kinds, and which way each faces."""
    facing = np.round(part["azimuth_deg"].fillna(-1.0)).astype(int)
    kind = part["bed_kind"].iloc[0]
    return (kind, *sorted(set(zip(part["kind"].astype(int), facing, strict=True))))


def _sheet(name: str, members: list[str], beds: Beds, placed: tuple[Any, Stand], crops: Mapping[str, Crop]) -> BedSheet:
    frame, stand = placed
    bed = members[0]
    layer = beds.tree_beds if bed.endswith("-T") else beds.beds
    strip = layer[layer["bed"] == bed].iloc[0]
    index = np.flatnonzero(frame["bed"] == bed)
    numbers = np.unique(stand.kind[index])
    kinds = [stand.kinds[k] for k in numbers]
    length = _length(kinds, crops)
    y0 = strip["axis"].coords[0][1]
    lines = _lines(frame.iloc[index], stand.kind[index], stand, y0)
    counts = [int(np.count_nonzero(stand.kind[index] == number)) for number in numbers]
    sheet_kinds = tuple(_kind(kind, crops, lines, count) for kind, count in zip(kinds, counts, strict=True))
    shown = index[stand.x[index] <= 0.985 * length]
    return BedSheet(
        title=f"{name}: {_what(kinds)}",
        bed_kind=kinds[0].bed_kind,
        beds=_which(members, beds),
        row_side={"up": "below", "down": "above"}.get(strip.get("side", ""), "") if len(_sides(members)) == 1 else "",
        width_m=float(strip["width_m"]),
        length_m=length,
        kinds=sheet_kinds,
        lines=lines,
        x=np.asarray(stand.x[shown], dtype=float),
        y=np.asarray(stand.y[shown] - y0, dtype=float),
        facing_deg=np.asarray((stand.azimuth_deg[shown] - _ALONG_DEG) % 360.0, dtype=float),
        kind=np.searchsorted(numbers, stand.kind[shown]),
    )


def _what(kinds: Sequence[Kind]) -> str:
    mixtures = sorted({k.mixture for k in kinds})
    kind = {"tree": "tree bed", "vegetable": "vegetable bed"}[kinds[0].bed_kind]
    named = [m for m in mixtures if m not in ("tree", "vegetable")]
    return f"{kind}, {' and '.join(named)}" if named else kind


def _sides(members: list[str]) -> set[str]:
    return {bed.split("-")[1][0] for bed in members} - {"T"}


def _which(members: list[str], beds: Beds) -> str:
    """Say which beds look like this one, out of those that the recipe plants."""
    if members[0].endswith("-T"):
        rows = [int(bed[1:4]) for bed in members]
        return _turn("tree beds", rows, len(beds.tree_beds))
    layer = beds.beds[beds.beds["bed"].isin(members)]
    side = {"U": "upslope side of their row", "D": "downslope side of their row"}
    sides = _sides(members)
    text = "vegetable beds" + (f" on the {side[next(iter(sides))]}" if len(sides) == 1 else "")
    if (layer["facing_row"] == 0).all():
        return f"{text} at the edge of the field (no tree row beyond)"
    return _turn(text, list(layer["row"]), len(beds.tree_beds))


def _turn(what: str, rows: list[int], total: int) -> str:
    some = sorted(set(rows))
    return f"all {what}" if len(some) == total else f"{what} of rows {', '.join(str(row) for row in some[:4])}, ..."


def _length(kinds: Sequence[Kind], crops: Mapping[str, Crop]) -> float:
    """Stretch that shows every repeat at least twice, 3 to 20 m."""
    repeats = [
        (k.rule.spacing_m or crops[k.crop].spacing_m or 1.0) * len(k.rule.codes) for k in kinds if k.rule.beside is None
    ]
    return float(np.clip(np.ceil(2.2 * max(repeats, default=1.0) * 2) / 2, 3.0, 20.0))


def _lines(part: Any, kind: Any, stand: Stand, middle_y: float) -> tuple[SheetLine, ...]:
    found = []
    for (planting, _), line in part.assign(kind=kind).groupby(["planting", "line"], sort=False):
        rule = stand.kinds[int(line["kind"].iloc[0])].rule
        x = np.sort(line["x"].to_numpy())
        step = float(np.min(np.diff(x))) if len(x) > 1 else 0.0
        offset = float(line["y"].iloc[0]) - middle_y
        found.append(SheetLine(str(planting), offset, float(x[0]), step, rule.beside.planting if rule.beside else ""))
    return tuple(found)


def _kind(kind: Kind, crops: Mapping[str, Crop], lines: Sequence[SheetLine], count: int) -> SheetKind:
    crop = crops[kind.crop]
    return SheetKind(
        crop=kind.crop,
        mark=sorted(crops).index(kind.crop),
        name=crop.name or kind.crop,
        planting=kind.planting,
        stratum=kind.stratum,
        habit=crop.habit or "herb",
        how=how_to_plant(kind, crop, [line for line in lines if line.planting == kind.planting]),
        per_10_m=count / _COUNT_M * 10,
        plant_week=kind.life.plant,
        harvest_from_week=kind.life.harvest_from,
        harvest_to_week=kind.life.harvest_to,
        height_m=need(crop, kind.crop, "height_m", "the side view"),
        crown_m=2 * kind.crown_m,
        reach_m=kind.reach_m,
        opening_deg=kind.opening_deg,
        full_size_weeks=kind.full_size_weeks,
        caution=crop.caution,
    )
