"""Addresses and zones of a design, on the beds that were laid for it."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from typing import Any

import shapely

from geoagro.beds.skipping import Skipped, skip_beds
from geoagro.errors import DesignError
from geoagro.places.resolve import Laid, drawn_place, resolve
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.design import Design
from geoagro.values.places import Part, Reach
from geoagro.values.recipe import Planting
from geoagro.values.site import Site


def laid_for(design: Design, site: Site, beds: Beds) -> Laid:
    """Bring together what addresses of this design are resolved on."""
    return Laid(
        beds, site.boundary, site.areas, design.rows.spacing_m, design.ground.setback_m, design.beds.path_width_m
    )


def site_places(design: Design, site: Site) -> Laid:
    """Bring together what drawn addresses are resolved on, before there are beds."""
    nothing = Beds(TREE_BEDS.empty(site.crs), BEDS.empty(site.crs), PATHS.empty(site.crs))
    return Laid(nothing, site.boundary, site.areas, design.rows.spacing_m, design.ground.setback_m, 0.0)


def bare_ground(design: Design, site: Site) -> dict[str, Any]:
    """Ground of drawn zones without rows and beds, by reason."""
    found: dict[str, list[Any]] = {}
    for number, zone in enumerate(design.zones, 1):
        if zone.is_bare and zone.is_drawn:
            shape = drawn_place(zone.within, site_places(design, site), f"zones[{number}].within")
            found.setdefault(zone.reason, []).append(shape)
    return {reason: shapely.union_all(shapes) for reason, shapes in found.items()}


def without_skipped(design: Design, laid: Laid) -> tuple[Beds, Skipped]:
    """Take out the beds that `beds.skip` and bare zones name; raises DesignError for an address that meets nothing."""
    return skip_beds(laid.beds, list(_skips(design, laid)))


def _skips(design: Design, laid: Laid) -> Iterator[tuple[str, Reach]]:
    if design.beds.skip:
        yield "skipped", resolve(design.beds.skip, laid, "beds.skip")
    for number, zone in enumerate(design.zones, 1):
        if zone.is_bare and not zone.is_drawn:
            yield "skipped", resolve(zone.within, laid, f"zones[{number}].within")


def zone_reaches(design: Design, laid: Laid) -> dict[str, Reach]:
    """Resolve every zone that has beds, by name."""
    return {
        zone.name: resolve(zone.within, laid, f"zones[{number}].within")
        for number, zone in enumerate(design.zones, 1)
        if not zone.is_bare
    }


def planting_reaches(design: Design, laid: Laid) -> dict[int, Reach]:
    """Resolve where each planting may stand, by its index; those that may stand everywhere are left out.

    Plantings of a zone keep to it; all others keep out of zones with plantings or a purpose of their own.
    """
    if not design.zones and not any(p.within or p.zone for p in design.plantings):
        return {}
    zones = zone_reaches(design, laid)
    everything = Part(frozenset(laid.names.tolist()))
    closed = tuple(zones[zone.name] for zone in design.zones if zone.has_own and zone.name in zones)
    found: dict[int, Reach] = {}
    for index, planting in enumerate(design.plantings):
        key = f"planting '{planting.label}': within"
        own = resolve(planting.within, laid, key).parts if planting.within else (everything,)
        if planting.zone is not None:
            found[index] = Reach(own, inside=(_zone_of(planting, design, zones),))
        elif planting.within or closed:
            found[index] = Reach(own, outside=closed)
    return found


def _zone_of(planting: Planting, design: Design, zones: dict[str, Reach]) -> Reach:
    known_zone(planting, design)
    return zones[str(planting.zone)]


def known_zone(planting: Planting, design: Design) -> None:
    """Raise DesignError where a planting names a zone that doesn't exist or has no beds."""
    name = str(planting.zone)
    known = [zone.name for zone in design.zones]
    if name in known and not design.zones[known.index(name)].is_bare:
        return
    near = get_close_matches(name, known, n=1)
    problem = "is bare" if name in known else "doesn't exist"
    hint = f" Did you mean '{near[0]}'?" if near and name not in known else ""
    raise DesignError(
        f"planting '{planting.label}': zone '{name}' {problem} (zones: {', '.join(known) or 'none'}).{hint}"
    )
