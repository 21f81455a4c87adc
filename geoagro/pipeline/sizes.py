"""How large the work will be, estimated before any of it is done; what can't fit is refused with the figure and the key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt

from geoagro.errors import DesignError, MemoryShortError
from geoagro.pipeline.memory import free_bytes
from geoagro.plants.timing import lives
from geoagro.terrain.reach import TRUNCATE
from geoagro.values.base.doors import door
from geoagro.values.design import Design
from geoagro.values.recipe import Crop, Planting
from geoagro.values.results.stored_plants import AT_ONCE, BYTES_EACH, IN_MEMORY
from geoagro.values.rules.bed_kinds import lasts
from geoagro.values.site import Site
from geoagro.values.terrain import GroundSource, judging_scale

MOST_NODES = 1_000_000
"""Places at which the rows' field is solved: about one per square of the row spacing. A thousand times what a usual
field has; beyond it a run takes hours. Our own choice, as are the following."""

MOST_PLANTS = 100_000_000
MOST_CELLS = 60_000_000

_BYTES_PER_CELL = 120
_BYTES_PER_PLANT = 1300
_BYTES_PER_NARROW_PLANT = 200
_BYTES_PER_NODE = 9000
_BYTES_AT_REST = 700_000_000
"""Measured as the peak of a whole `layout` (Linux, x86-64), a tenth added. 74 and 96 bytes per cell: 60 m field with cells
of 0.25 and 0.1 m, 824 and 898 MB; 200 m with 2 and 0.25 m, 826 and 918 MB. 890 and 1,180 bytes per plant: 200 m field
with 1,066, 174,894 and 870,962 plants, 826, 980 and 1,852 MB. At rest: 811 MB at the peak of the smallest field less the
317 MB that are taken when this is asked; since another process draws, 640 and 420 MB less what both have taken by then, which differs. Narrow: 181 bytes per plant, the report of 1,000 ha (51.6 million plants, 9,892 MB). More than AT_ONCE plants come in blocks and take no more memory, but for the blocks themselves up to IN_MEMORY. Rows: 8,300 bytes per
node, made ground of 100 ha (408 MB above the ground for 49,400 nodes); they are laid before plants are placed, so that the larger
of both counts."""


@dataclass(frozen=True)
class Sizes:
    """Estimates: metres of row, number of rows, nodes of the rows' field, plants by planting.

    >>> from geoagro import crops_of, example_layout, read_crop_library, refuse_what_cannot_fit
    >>> laid, library = example_layout(), read_crop_library()
    >>> type(refuse_what_cannot_fit(laid.design, laid.site, crops_of(laid.design, library))).__name__
    'Sizes'
    """

    row_m: float
    rows: float
    nodes: float
    plants: dict[str, float]

    @property
    def all_plants(self) -> float:
        """Plants of all plantings, each planted once."""
        return sum(self.plants.values())


def estimate(design: Design, site: Site, crops: Mapping[str, Crop]) -> Sizes:
    """Estimate from areas and distances alone; real counts are a little lower (row ends, exclusions, paths)."""
    spacing, area = design.rows.spacing_m, site.boundary.area
    row_m = area / spacing
    plants: dict[str, float] = {}
    for planting in design.plantings:
        plants[planting.label] = plants.get(planting.label, 0.0) + _plants(planting, design, crops, row_m, plants)
    return Sizes(row_m, sqrt(area) / spacing, area / spacing**2, plants)


def _plants(
    planting: Planting, design: Design, crops: Mapping[str, Crop], row_m: float, known: Mapping[str, float]
) -> float:
    if planting.beside is not None:
        return known.get(planting.beside.planting, 0.0)
    beds = 1.0
    if not lasts(planting.bed):
        room = design.rows.spacing_m - design.beds.tree_bed_width_m
        beds = max(room / (design.beds.bed_width_m + design.beds.path_width_m), 0.0)
        beds = min(beds, 2.0) if planting.order is not None else beds
    lines = len(planting.offsets_m) if planting.offsets_m is not None else planting.lines
    step = planting.spacing_m or max((crops[code].spacing_m or 1.0 for code in planting.crops), default=1.0)
    return row_m * beds * lines / (step * planting.every)


def _refuse_fine_zones(design: Design, site: Site) -> None:
    """Raise DesignError where a zone's own row spacing asks for more rows than can be worked with."""
    drawn = {area.name: float(area.shape.area) for area in site.areas}
    for number, zone in enumerate(design.zones, 1):
        if zone.spacing_m is None:
            continue
        names = {name for place in zone.within for name in place.area}
        area = sum(drawn.get(name, 0.0) for name in names) if names else site.boundary.area
        if min(area, site.boundary.area) / zone.spacing_m**2 > MOST_NODES:
            raise DesignError(
                f"zones[{number}].spacing_m: {zone.spacing_m:g} m gives more rows in zone '{zone.name}' than can be worked "
                "with. Widen it, or draw the zone smaller."
            )


def refuse_what_cannot_fit(design: Design, site: Site, crops: Mapping[str, Crop] | None) -> Sizes:
    """Raise DesignError where rows, plants or months are more than can be worked with; else tell the sizes.

    Without crops, rows alone are looked at.

    >>> from geoagro import crops_of, example_layout, read_crop_library, refuse_what_cannot_fit
    >>> laid, library = example_layout(), read_crop_library()
    >>> sizes = refuse_what_cannot_fit(laid.design, laid.site, crops_of(laid.design, library))
    >>> sorted(sizes.plants)
    ['apple', 'lettuce']
    """
    if crops is None:
        design, crops = design.model_copy(update={"plantings": ()}), {}
    lives(design.plantings, crops)
    _refuse_fine_zones(design, site)
    sizes = estimate(design, site, crops)
    hectares = site.boundary.area / 1e4
    if sizes.nodes > MOST_NODES:
        raise DesignError(
            f"rows.spacing_m: {design.rows.spacing_m:g} m on {hectares:,.1f} ha gives about {sizes.rows:,.0f} rows, "
            f"{sizes.row_m / 1000:,.0f} km in all; at most {MOST_NODES * design.rows.spacing_m / 1000:,.0f} km at this "
            "spacing can be worked with. Widen the spacing, or pick a smaller field with `where` under inputs.boundary."
        )
    if sizes.all_plants > MOST_PLANTS:
        name, count = max(sizes.plants.items(), key=lambda item: item[1])
        raise DesignError(
            f"plantings: about {sizes.all_plants / 1e6:,.0f} million plants on {hectares:,.1f} ha, {count / 1e6:,.0f} "
            f"million of them '{name}'; at most {MOST_PLANTS / 1e6:.0f} million can be worked with. Look at its "
            "spacing_m and lines, or pick a smaller field."
        )
    return sizes


@door
def refuse_short_memory(design: Design, site: Site, source: GroundSource, sizes: Sizes) -> None:
    """Raise DesignError where the ground's grid with its margin is too large, MemoryShortError where memory is too short.

    >>> from geoagro import crops_of, example_field, example_layout, read_crop_library, refuse_short_memory, refuse_what_cannot_fit
    >>> laid, library = example_layout(), read_crop_library()
    >>> refuse_short_memory(*example_field(), refuse_what_cannot_fit(laid.design, laid.site, crops_of(laid.design, library)))
    """
    cells, cell_m = _cells(design, site, source)
    if cells > MOST_CELLS:
        raise DesignError(
            f"rows.smoothing_m and rows.spacing_m: ground is looked at {_margin_m(design):,.0f} m beyond the field, "
            f"{cells / 1e6:,.0f} million cells of {cell_m:g} m; at most {MOST_CELLS / 1e6:.0f} million can be worked "
            "with. Make them smaller, or give a coarser raster."
        )
    rows_or_plants = max(sizes.nodes * _BYTES_PER_NODE, min(sizes.all_plants, AT_ONCE) * _BYTES_PER_PLANT)
    blocks = min(sizes.all_plants, IN_MEMORY) * BYTES_EACH if sizes.all_plants > AT_ONCE else 0
    need = _BYTES_AT_REST + cells * _BYTES_PER_CELL + rows_or_plants + blocks
    free = free_bytes()
    if need > free:
        raise MemoryShortError(
            f"about {need / 1e9:.1f} GB of memory are needed ({cells / 1e6:.1f} million cells of {cell_m:g} m, "
            f"{sizes.all_plants / 1e6:.2f} million plants) and {free / 1e9:.1f} GB are free. Close other programs, "
            "give a coarser raster under inputs, or pick a smaller field with `where` under inputs.boundary."
        )


def refuse_reading(plants: int, *, narrow: bool = False) -> None:
    """Raise MemoryShortError where plants of a layout are more than this machine can read at once, as frame or as `narrow` table."""
    each = _BYTES_PER_NARROW_PLANT if narrow else _BYTES_PER_PLANT
    need, free = _BYTES_AT_REST + plants * each, free_bytes()
    if plants > AT_ONCE and need > free:
        raise MemoryShortError(
            f"the layout holds {plants / 1e6:.1f} million plants; working with all of them takes about {need / 1e9:.0f} GB of memory "
            f"and {free / 1e9:.1f} GB are free. Close other programs, take a larger machine, or lay out parts of the field (`where` "
            "under inputs.boundary). `layout`, `verify` and `export` work in parts and need no more memory for more plants."
        )


def _margin_m(design: Design) -> float:
    """Reach and smoothing beyond the field, as the terrain takes them."""
    smoothing = design.rows.smoothing_m
    sigma = max(
        0.7 * design.rows.spacing_m if smoothing == "auto" else smoothing, judging_scale(design.rows.levelled_m)
    )
    return 2 * design.rows.spacing_m + TRUNCATE * sigma


def _cells(design: Design, site: Site, source: GroundSource) -> tuple[float, float]:
    grid = source.heights if source.heights is not None else source.slope
    cell = design.rows.spacing_m / 3 if grid is None else grid.cell_m
    west, south, east, north = site.boundary.bounds
    margin = _margin_m(design)
    return (east - west + 2 * margin) * (north - south + 2 * margin) / cell**2, cell
