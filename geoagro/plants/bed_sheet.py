"""Sheets to plant from: one for each different bed that a recipe makes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from geoagro.arrays import Ints
from geoagro.errors import DesignError
from geoagro.plants.crops import need
from geoagro.plants.instructions import how_to_plant
from geoagro.plants.kinds import Kind, Stand, stand_of
from geoagro.plants.model_field import model_beds, model_ground, model_reach
from geoagro.plants.placement import place_plants
from geoagro.plants.records.sheet import BedSheet, SheetKind, SheetLine
from geoagro.plants.sheet_words import bed_words, sides_of, which_beds
from geoagro.plants.timing import Life
from geoagro.values.beds import Beds
from geoagro.values.design import BedRule
from geoagro.values.plants import Plants
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.crop_notes import notes_of
from geoagro.values.season import SeasonRule
from geoagro.values.timeline import Stay, Timeline
from geoagro.values.words import CropName, Sentence

_ALONG_DEG = 90.0
"""Bearing of the model's rows."""

_ROUND_WEEKS = 4
"""Plantings no farther apart than this share a sheet."""

_MOST_AGAIN = 6
"""So many later weeks are named on a sheet."""

_COUNT_M = 60.0
"""Length of bed that plants per 10 m are counted on."""


def model_stand(
    rule: BedRule, spacing_m: float, crops: Mapping[str, Crop], plantings: Sequence[Planting], length_m: float
) -> tuple[Beds, Plants]:
    """Place a recipe on straight rows on an even slope, without any field."""
    beds = model_beds(rule, spacing_m, plantings, length_m)
    return beds, place_plants(beds, model_ground(beds), crops, plantings, reach=model_reach(plantings, beds))


def bed_sheets(
    name: str,
    rule: BedRule,
    spacing_m: float,
    crops: Mapping[str, Crop],
    plantings: Sequence[Planting],
    *,
    season: SeasonRule | None = None,
) -> tuple[BedSheet, ...]:
    """One sheet for each different bed: tree bed, vegetable bed, edge, and every mixture of them.

    Beds on both sides of the row share a sheet unless they differ. A bed gets a sheet for its first planting and for each
    later state, with what stands there already; rounds of the season that are planted like an earlier one are named on
    that one's sheet.
    """
    if not plantings:
        raise DesignError("plantings: there is nothing to plant; add at least one planting.")
    beds, plants = model_stand(rule, spacing_m, crops, plantings, _COUNT_M)
    stand = stand_of(plants.frame, plantings, crops, Timeline.of(plants.frame, crops, season))
    groups: dict[tuple[Any, ...], list[str]] = {}
    for bed, part in plants.frame.assign(kind=stand.kind).groupby("bed", sort=False):
        groups.setdefault(_likeness(part), []).append(str(bed))
    return tuple(
        sheet for members in groups.values() for sheet in _sheets(name, members, beds, (plants.frame, stand), crops)
    )


def _likeness(part: pd.DataFrame) -> tuple[Any, ...]:
    """Tell what must be equal for two beds to share a sheet: kinds, and which way each faces."""
    facing = np.round(part["bearing_deg"].fillna(-1.0)).astype(int)
    kind = part["bed_kind"].iloc[0]
    return (kind, *sorted(set(zip(part["kind"].astype(int), facing, strict=True))))


@dataclass
class _State:
    """What is planted in a bed at one time, and what stands there: kinds with their stay, weeks in which it comes again."""

    first: int
    stays: dict[int, Stay]
    again: list[int] = field(default_factory=list)


def _sheets(
    name: str, members: list[str], beds: Beds, placed: tuple[Any, Stand], crops: Mapping[str, Crop]
) -> Iterator[BedSheet]:
    """One sheet for each different state in which the bed is planted."""
    frame, stand = placed
    index = np.flatnonzero(frame["bed"] == members[0])
    states = _states(stand, np.unique(stand.kind[index]))
    for state in states:
        part = index[np.isin(stand.kind[index], list(state.stays))]
        bed = bed_words([stand.kinds[k] for k in state.stays])
        title = Sentence("{name}: {parts}", name=name, parts=(*bed, *_when(state, alone=len(states) == 1)))
        yield _sheet((title, which_beds(members, beds)), _strip(members, beds), part, placed, (crops, state))


def _states(stand: Stand, numbers: Ints) -> list[_State]:
    """States of a bed in order of time, equal ones once."""
    found: dict[Any, _State] = {}
    weeks = [stay.plant_week for k in numbers for stay in stand.kinds[k].standing.stays]
    for first, last in _rounds(weeks):
        stays = {}
        for k in numbers:
            here = [s for s in stand.kinds[k].standing.stays if s.plant_week <= last and s.end_week > first]
            if here:
                stays[int(k)] = here[-1]
        new = frozenset((k, s.plant_week - first) for k, s in stays.items() if s.plant_week >= first)
        key = (new, frozenset(stays))
        if key in found:
            found[key].again.append(first)
        else:
            found[key] = _State(first, stays)
    return list(found.values())


def _when(state: _State, *, alone: bool) -> tuple[Sentence, ...]:
    """Weeks of a sheet in words; nothing where there is one planting only."""
    if alone and not state.again:
        return ()
    first = Sentence("to plant in week {week}", week=state.first) if state.first else Sentence("to plant first")
    weeks = ", ".join(str(week) for week in state.again[:_MOST_AGAIN])
    more = len(state.again) - _MOST_AGAIN
    if more > 0:
        return first, Sentence("again in weeks {weeks} and later (further times: {more})", weeks=weeks, more=more)
    return (first, Sentence("again in {n:week|weeks} {weeks}", weeks=weeks, n=len(state.again))) if weeks else (first,)


def _rounds(weeks: Sequence[int]) -> list[tuple[int, int]]:
    """First and last week of each round of planting; rounds are more than a month apart."""
    found: list[tuple[int, int]] = []
    for week in sorted(set(weeks)):
        if found and week - found[-1][1] <= _ROUND_WEEKS:
            found[-1] = (found[-1][0], week)
        else:
            found.append((week, week))
    return found


def _strip(members: list[str], beds: Beds) -> tuple[Any, str]:
    """Record of the first bed, and the side on which its tree row lies on the sheet."""
    layer = beds.tree_beds if members[0] in set(beds.tree_beds["bed"]) else beds.beds
    strip = layer[layer["bed"] == members[0]].iloc[0]
    one_side = len(sides_of(members)) == 1
    return strip, {"up": "below", "down": "above"}.get(strip.get("side", ""), "") if one_side else ""


def _sheet(
    words: tuple[Sentence, Sentence],
    strip: tuple[Any, str],
    index: Ints,
    placed: tuple[Any, Stand],
    at: tuple[Mapping[str, Crop], _State],
) -> BedSheet:
    frame, stand = placed
    crops, first_week = at[0], at[1].first
    numbers = np.unique(stand.kind[index])
    kinds = [_in_stay(stand.kinds[k], at[1].stays[int(k)]) for k in numbers]
    length = _length(kinds, crops)
    y0 = strip[0]["axis"].coords[0][1]
    planted = [k for k, kind in zip(numbers, kinds, strict=True) if kind.life.plant >= first_week]
    new = index[np.isin(stand.kind[index], planted)]
    lines = _lines(frame.iloc[new], stand.kind[new], stand, y0)
    sheet_kinds = []
    for number, kind in zip(numbers, kinds, strict=True):
        some = index[stand.kind[index] == number]
        facing = sorted(set(frame["direction"].iloc[some]))
        of = (len(some), facing, kind.life.plant < first_week)
        sheet_kinds.append(_kind(kind, crops, lines, of, _neighbour(kind, kinds, crops)))
    shown = index[stand.x[index] <= 0.985 * length]
    return BedSheet(
        title=words[0],
        bed_kind=kinds[0].bed_kind,
        beds=words[1],
        row_side=strip[1],
        width_m=float(strip[0]["width_m"]),
        length_m=length,
        kinds=tuple(sheet_kinds),
        lines=lines,
        x=np.asarray(stand.x[shown], dtype=float),
        y=np.asarray(stand.y[shown] - y0, dtype=float),
        facing_deg=np.asarray((stand.bearing_deg[shown] - _ALONG_DEG) % 360.0, dtype=float),
        kind=np.searchsorted(numbers, stand.kind[shown]),
    )


def _in_stay(kind: Kind, stay: Stay) -> Kind:
    return replace(kind, life=Life(stay.plant_week, stay.harvest_from_week, stay.end_week))


def _length(kinds: Sequence[Kind], crops: Mapping[str, Crop]) -> float:
    """Stretch that shows every repeat at least twice, 3 to 20 m."""
    repeats = [
        (k.rule.spacing_m or crops[k.crop].spacing_m or 1.0) * len(k.rule.codes) for k in kinds if k.rule.beside is None
    ]
    return float(np.clip(np.ceil(2.2 * max(repeats, default=1.0) * 2) / 2, 3.0, 20.0))


def _lines(part: Any, kind: Ints, stand: Stand, middle_y: float) -> tuple[SheetLine, ...]:
    found = []
    for (planting, _), line in part.assign(kind=kind).groupby(["planting", "line"], sort=False):
        rule = stand.kinds[int(line["kind"].iloc[0])].rule
        x = np.sort(line["x"].to_numpy())
        step = float(np.min(np.diff(x))) if len(x) > 1 else 0.0
        offset = float(line["y"].iloc[0]) - middle_y
        found.append(SheetLine(str(planting), offset, float(x[0]), step, rule.beside.planting if rule.beside else ""))
    return tuple(found)


def _neighbour(kind: Kind, kinds: Sequence[Kind], crops: Mapping[str, Crop]) -> str | tuple[CropName, ...]:
    """Name the plants that a kind stands beside: by crop, but by planting where that crop stands in two of them here."""
    if kind.rule.beside is None:
        return ""
    code = kind.rule.beside.planting
    beside = tuple(dict.fromkeys(one.crop for one in kinds if one.planting == code))
    if not beside or any(one.crop in beside and one.planting != code for one in kinds):
        return code.replace("_", " ")
    return tuple(CropName((crops[crop].name or crop).replace("_", " ")) for crop in beside)


def _kind(
    kind: Kind,
    crops: Mapping[str, Crop],
    lines: Sequence[SheetLine],
    of: tuple[int, list[str], bool],
    neighbour: str | tuple[CropName, ...],
) -> SheetKind:
    count, facing, standing = of
    crop = crops[kind.crop]
    how = (
        how_to_plant(
            kind, crop, [line for line in lines if line.planting == kind.planting], facing, neighbour=neighbour
        )
        if not standing
        else (Sentence("Already there since week {week}; leave it.", week=kind.life.plant),)
    )
    return SheetKind(
        crop=kind.crop,
        name=crop.name or kind.crop,
        planting=kind.planting,
        stratum=kind.stratum,
        habit=crop.habit or "herb",
        how=how,
        standing=standing,
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
        notes=notes_of(crop),
    )
