"""Every plant of the recipe at its place, facing its way, with its times."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np
import shapely

from geoagro.arrays import Ints
from geoagro.errors import DesignError
from geoagro.plants.auto_direction import least_conflict
from geoagro.plants.blocks.tallies import Fitting, LeftOut, Tally, told
from geoagro.plants.crops import need
from geoagro.plants.directions import azimuths, beside_azimuths
from geoagro.plants.lines import lay_lines, lay_places
from geoagro.plants.plan import Plan
from geoagro.plants.plant_frame import plant_frame
from geoagro.plants.spots import Spots, bearing_deg, facing_of, no_spots, toward
from geoagro.plants.strips import Strips, beds_for, strips_of
from geoagro.plants.takeover import take_over
from geoagro.plants.timing import find, lives
from geoagro.plants.together.nearest import nearest_m
from geoagro.plants.together.same_place import same_places
from geoagro.plants.together.too_near import too_near
from geoagro.values.beds import Beds
from geoagro.values.places import Reach
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import EMPTY_PLACE, Crop, Planting
from geoagro.values.season import SeasonRule
from geoagro.values.terrain import Terrain
from geoagro.values.timeline import Timeline
from geoagro.values.words import CropName, Sentence


def place_plants(
    beds: Beds,
    terrain: Terrain,
    crops: Mapping[str, Crop],
    plantings: Sequence[Planting],
    *,
    reach: Mapping[int, Reach] | None = None,
    start: date | None = None,
    season: SeasonRule | None = None,
    progress: Progress = silent,
) -> Plants:
    """Place all plantings in all beds.

    Lines are parallels of the bed's axis; plants stand at equal arc length along the line's own curve. A plant
    beside another one keeps its distance and its side of that plant's roots on curved rows too.

    Parameters
    ----------
    beds
        Tree beds and vegetable beds with their axes, in the working CRS.
    terrain
        For heights, and for the directions uphill and downhill.
    crops
        Complete crops by code (`choose_crops`).
    plantings
        The recipe, in the design's order.
    reach
        What the addresses of plantings come to, by their index; those without one stand wherever they fit.
    start
        Day on which week 0 begins; without it plants carry no dates.
    season
        What is planted again, for the finding of two plants on one place; one round without it.

    Returns
    -------
    Plants
        Numbered from 1 by row, bed, planting, line and station; the same input gives the same numbers.

    Raises
    ------
    DesignError
        Where a planting asks for what its crop, its bed or another planting can't give.
    LayoutError
        Where a direction needs ground that isn't known.
    """
    plan = Plan(plantings, crops, lives(plantings, crops), strips_of(beds), terrain, reach or {})
    found, tallies = spots_of(plan, progress=progress)
    frame = plant_frame(plan, found, start)
    timeline = Timeline.of(frame, crops, season, start=start)
    frame["nearest_m"] = nearest_m(frame[["x", "y"]].to_numpy(), timeline)
    near = too_near(frame, timeline, plantings, crops)
    return Plants(frame, (*told([tallies]), *same_places(frame, crops, season), *near))


def spots_of(plan: Plan, *, progress: Progress = silent) -> tuple[list[Spots], list[Tally]]:
    """Place each planting of a plan: where its plants stand and face, and what was counted on the way.

    Raises DesignError and LayoutError as `place_plants` does.
    """
    plantings = plan.plantings
    found: dict[int, Spots] = {}
    tallies: list[Tally] = []
    _check_names(plantings)
    for index in _in_turn(plantings):
        progress(_placing(plantings[index]), index / len(plantings))
        found[index] = _place(plan, index, found, tallies)
    take_over(plan, found, tallies)
    return [found[k] for k in range(len(plantings))], tallies


def _placing(planting: Planting) -> str:
    return Sentence("placing {crop}", crop=CropName(planting.label))


def _check_names(plantings: Sequence[Planting]) -> None:
    seen: set[tuple[str, str, str]] = set()
    for planting in plantings:
        key = (planting.bed, planting.mixture_name, planting.label)
        if key in seen:
            raise DesignError(
                f"plantings: '{planting.label}' is given twice for bed: {planting.bed} in mixture '{planting.mixture_name}'. "
                "Give each of them a `name` of its own, so that counts and sheets can tell them apart."
            )
        seen.add(key)


def _in_turn(plantings: Sequence[Planting]) -> list[int]:
    """Order of placing: what stands by itself, then what turns to suit it (auto), then what stands beside that."""
    parents = [_parent(k, plantings) for k in range(len(plantings))]

    def chain(index: int) -> list[int]:
        found = [index]
        while (above := parents[found[-1]]) is not None:
            if above in found:
                label = plantings[index].label
                raise DesignError(f"planting '{label}': beside leads round in a circle; give one its own lines.")
            found.append(above)
        return found

    def key(index: int) -> tuple[int, int, int]:
        line = chain(index)
        return int(any(plantings[k].direction == "auto" for k in line)), len(line), index

    return sorted(range(len(plantings)), key=key)


def _parent(index: int, plantings: Sequence[Planting]) -> int | None:
    planting = plantings[index]
    if planting.beside is None:
        return None
    above = find(planting.beside.planting, plantings, f"planting '{planting.label}': beside.planting", planting)
    if plantings[above].instead_of is not None:
        raise DesignError(
            f"planting '{planting.label}': beside.planting '{planting.beside.planting}' stands instead of another crop; "
            f"name the planting of '{plantings[above].instead_of}', whose places these are."
        )
    return above


def _place(plan: Plan, index: int, found: Mapping[int, Spots], tallies: list[Tally]) -> Spots:
    planting, strips = plan.plantings[index], plan.strips
    beds = beds_for(planting, strips, plan.plantings, plan.reach.get(index))
    if planting.instead_of is not None:
        return no_spots()
    tallies.append(Fitting(planting.label, len(beds)))
    if planting.beside is None:
        spots = _in_lines(planting, plan.crops, strips, beds)
    else:
        parent = find(planting.beside.planting, plan.plantings, "beside", planting)
        spots, left_out = _beside(planting, found[parent], plan, beds)
        tallies.append(left_out)
    spots = _there(plan, index, spots)
    if planting.direction == "auto":
        spots, turned = least_conflict(plan, index, spots, found, lambda trial: _companions(plan, index, trial))
        tallies.append(turned)
        return spots
    facing = np.full(len(spots), facing_of(planting.direction))
    return spots.turned(azimuths(planting, planting.direction, spots, plan), facing)


def _there(plan: Plan, index: int, spots: Spots) -> Spots:
    """Only the plants that the planting's address holds."""
    reach = plan.reach.get(index)
    return spots if reach is None else spots.where(reach.holds(plan.strips.bed, spots.bed, spots.xy))


def _companions(plan: Plan, index: int, spots: Spots) -> dict[int, Spots]:
    """Plants that stand beside this planting, if it faced as in `spots`; those that are turned themselves too."""
    found = {}
    for k, planting in enumerate(plan.plantings):
        if planting.beside is None or find(planting.beside.planting, plan.plantings, "beside", planting) != index:
            continue
        beds = beds_for(planting, plan.strips, plan.plantings, plan.reach.get(k))
        near = _there(plan, k, _beside(planting, spots, plan, beds)[0])
        found[k] = near.turned(azimuths(planting, planting.direction, near, plan), near.facing)
    return found


def _spacing(planting: Planting, crops: Mapping[str, Crop]) -> float:
    if planting.spacing_m is not None:
        return planting.spacing_m
    if planting.sequence:
        raise DesignError(
            f"planting '{planting.label}': a sequence needs spacing_m, the distance between its places; give it there."
        )
    code = planting.crops[0]
    spacing: float = need(crops[code], code, "spacing_m", "placing it in lines")
    return spacing


def _in_lines(planting: Planting, crops: Mapping[str, Crop], strips: Strips, beds: Ints) -> Spots:
    lines = lay_lines(planting, strips, beds)
    places = lay_places(planting, lines, _spacing(planting, crops))
    xy, tangent = lines.shape.locate(places.line, places.station_m)
    bed = lines.bed[places.line]
    index = np.array([planting.crops.index(c) if c != EMPTY_PLACE else -1 for c in planting.codes])
    turn = (places.place + planting.sequence_shift * (strips.row[bed] - 1)) % len(index)
    spots = Spots(
        bed=bed,
        line=lines.number[places.line],
        piece=places.line,
        station_m=lines.start_m[places.line] + places.station_m,
        offset_m=lines.offset_m[places.line],
        xy=xy,
        along_deg=bearing_deg(tangent),
        bearing_deg=np.full(len(bed), np.nan),
        facing=np.zeros(len(bed), dtype=np.int64),
        code=index[turn],
    )
    return spots.where(spots.code >= 0) if EMPTY_PLACE in planting.codes else spots


def _beside(planting: Planting, parents: Spots, plan: Plan, beds: Ints) -> tuple[Spots, LeftOut]:
    rule = planting.beside
    assert rule is not None  # the caller's branch
    parents = parents.where(np.isin(parents.bed, beds))
    if rule.where in ("behind", "ahead") and np.any(np.isnan(parents.bearing_deg)):
        raise DesignError(
            f"planting '{planting.label}': beside.where {rule.where} needs roots that point somewhere, but "
            f"'{rule.planting}' grows all round. Give '{rule.planting}' a direction, or use along, against, "
            "upslope or downslope."
        )
    bearing = beside_azimuths(rule.where, parents)
    turn = np.radians(bearing - parents.along_deg)
    spots = Spots(
        bed=parents.bed,
        line=parents.line,
        piece=parents.piece,
        station_m=parents.station_m + rule.distance_m * np.cos(turn),
        offset_m=parents.offset_m - rule.distance_m * np.sin(turn),
        xy=parents.xy + rule.distance_m * toward(bearing),
        along_deg=parents.along_deg,
        bearing_deg=np.full(len(parents), np.nan),
        facing=np.zeros(len(parents), dtype=np.int64),
        code=np.zeros(len(parents), dtype=np.int64),
    )
    inside = shapely.intersects_xy(plan.strips.polygon[spots.bed], spots.xy[:, 0], spots.xy[:, 1])
    counted = plan.counted(spots.bed)
    left_out = LeftOut(planting.label, rule.planting, int(np.sum(~inside & counted)), int(counted.sum()))
    return spots.where(inside), left_out
