"""What a layout would refuse and can be known before its rows are laid: asked by `check`, and by the layout itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import shapely

from geoagro.beds.widths import working_widths
from geoagro.errors import DesignError, GeoagroError, LayoutError
from geoagro.pipeline.places import known_zone, laid_for, planting_reaches, site_places, without_skipped
from geoagro.pipeline.planting import beds_of
from geoagro.pipeline.steps import tree_rows_of, window_of
from geoagro.pipeline.zone_rules import apart_grounds, bed_rule_of
from geoagro.places.resolve import check_drawn
from geoagro.plants.model_field import model_beds, model_ground, model_reach
from geoagro.plants.placement import place_plants
from geoagro.rows.by_hand.among import hand_rows
from geoagro.season.husbandry.names import refuse_unknown_names
from geoagro.values.base.remembering import remembered
from geoagro.values.design import BedRule, Design
from geoagro.values.ground import Ground
from geoagro.values.places import Places
from geoagro.values.recipe import Crop, Planting
from geoagro.values.site import Site
from geoagro.values.terrain import Terrain

_MODEL_M = 12.0
"""Length of the rows that a recipe is tried on: long enough for a few plants of every line."""


def refuse_before_rows(design: Design, site: Site, terrain: Terrain, ground: Ground, crops: Mapping[str, Crop]) -> None:
    """Raise what a layout would refuse anyway, before any row is laid; several faults in one error, a line each.

    Raises DesignError or LayoutError: rows by hand off the field, zones without ground or with widths that can't be,
    names of areas and zones that don't exist, methods and directions that need heights, plantings that contradict
    themselves or their beds.
    """
    asked: Sequence[Callable[[], None]] = (
        partial(_rows, design, site, terrain, ground),
        *(partial(_place, places, key, design, site, ground) for key, places in _addresses(design)),
        partial(_zones, design, site, ground),
        *(partial(known_zone, planting, design) for planting in design.plantings if planting.zone),
        partial(_recipe, design, terrain, crops),
    )
    refuse_together(asked)


def refuse_names(design: Design, crops: Mapping[str, Crop], library: Mapping[str, Crop]) -> None:
    """Raise DesignError for crops, plantings and families that the design names outside its plantings and nothing carries."""
    refuse_unknown_names(design, crops, library)


_AT_ONCE = ("straight", "guide")
"""Methods whose rows are laid in a second or two; on contour they take as long as the layout."""


def refuse_on_known_rows(design: Design, site: Site, terrain: Terrain, ground: Ground) -> None:
    """Resolve all addresses where rows and beds can be known: drawn by hand, or laid at once and named by number or id."""
    if design.rows.method == "drawn" or (design.rows.method in _AT_ONCE and _is_numbered(design)):
        rows = tree_rows_of(design, site, terrain, ground)
        laid = laid_for(design, site, beds_of(design, ground, rows, site=site))
        beds, _ = without_skipped(design, laid)
        planting_reaches(design, replace(laid, beds=beds))


def _is_numbered(design: Design) -> bool:
    """Say whether an address names rows, alleys or single beds."""
    pending = [place for _, places in _addresses(design) for place in places]
    while pending:
        place = pending.pop()
        if place.rows or place.alleys or place.beds:
            return True
        pending += place.but_not
    return False


def refuse_together(asked: Sequence[Callable[[], None]]) -> None:
    """Ask one thing after another, and raise all that is refused as one error of the first's class, each text once."""
    problems: list[GeoagroError] = []
    for ask in asked:
        try:
            ask()
        except GeoagroError as error:
            problems.append(error)
    texts = list(dict.fromkeys(line for problem in problems for line in str(problem).splitlines()))
    if problems:
        raise type(problems[0])("\n".join(texts)) from problems[0]


def _rows(design: Design, site: Site, terrain: Terrain, ground: Ground) -> None:
    window_of(design)
    if design.rows.method == "contour":
        terrain.need_heights("rows.method: contour")
    if site.drawn is not None:
        hand_rows(site.drawn, site.open_ground, ground.plantable, design.rows)


def _addresses(design: Design) -> Iterator[tuple[str, Places]]:
    """Every address of a design that must meet ground, with its key."""
    yield "beds.skip", design.beds.skip
    for number, zone in enumerate(design.zones, 1):
        yield f"zones[{number}].within", zone.within
    for planting in design.plantings:
        yield f"planting '{planting.label}': within", planting.within


def _place(places: Places, key: str, design: Design, site: Site, ground: Ground) -> None:
    """Refuse names that don't exist and areas off the ground that rows may stand on (bare zones have taken theirs)."""
    if not places:
        return
    found = site_places(design, site)
    bare = key.startswith("zones") and design.zones[int(key[6 : key.index("]")]) - 1].is_bare
    for shape, at in check_drawn(places, found, key):
        if not shapely.intersects(shape, site.boundary if bare else ground.plantable):
            where = "ground of the field" if bare else "plantable ground"
            raise DesignError(
                f"{at}: no {where} lies there. Draw it inside the field, off exclusions and access tracks."
            )


def _zones(design: Design, site: Site, ground: Ground) -> None:
    for number, zone in enumerate(design.zones, 1):
        if zone.has_own_widths:
            try:
                working_widths(bed_rule_of(zone, design), zone.spacing_m or design.rows.spacing_m)
            except LayoutError as error:
                raise LayoutError(f"zones[{number}].{error}") from error
    for apart in apart_grounds(design, site):
        inside = shapely.intersection(apart.ground, ground.plantable)
        corners = shapely.bounds(shapely.oriented_envelope(shapely.get_parts(inside)))
        across = np.hypot(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
        if design.rows.method != "drawn" and across.max(initial=0.0) < apart.min_row_length_m:
            raise LayoutError(apart.no_room())


def _recipe(design: Design, terrain: Terrain, crops: Mapping[str, Crop]) -> None:
    """Place the recipe on model rows with the field's own widths; zones with widths of their own on rows with theirs."""
    known = terrain.aspect_deg is not None
    _tried(design.beds, design.rows.spacing_m, known, crops, design.plantings)
    for zone in design.zones:
        own = [p for p in design.plantings if p.zone == zone.name]
        if own and zone.has_own_widths:
            rule, spacing = bed_rule_of(zone, design), zone.spacing_m or design.rows.spacing_m
            try:
                _tried(rule, spacing, known, crops, design.plantings)
            except GeoagroError as error:
                if any(str(error).startswith(f"planting '{p.label}'") for p in own):
                    raise


@remembered(8)
def _tried(
    rule: BedRule, spacing_m: float, is_fall_known: bool, crops: Mapping[str, Crop], plantings: Sequence[Planting]
) -> None:
    if not plantings:
        return
    beds = model_beds(rule, spacing_m, plantings, _MODEL_M)
    ground = model_ground(beds)
    if not is_fall_known:
        ground = replace(ground, aspect_deg=None, heights=None, smooth=None)
    place_plants(beds, ground, crops, plantings, reach=model_reach(plantings, beds))
