"""The steps that a layout begins with, one room each: crops, terrain, plantable ground, rows, contours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from geoagro.frames import gpd
from geoagro.pipeline import rooms
from geoagro.pipeline.places import bare_ground
from geoagro.values.base.doors import door
from geoagro.values.base.findings import tell
from geoagro.values.design import Design
from geoagro.values.ground import Ground
from geoagro.values.plants import Plants
from geoagro.values.progress import Progress, silent
from geoagro.values.recipe import Crop
from geoagro.values.results.stored_plants import StoredPlants
from geoagro.values.rows import RowWindow, TreeRows
from geoagro.values.site import Site
from geoagro.values.terrain import CONTOURS, GroundSource, Terrain
from geoagro.values.timeline import Timeline


def crops_of(design: Design, library: Mapping[str, Crop]) -> dict[str, Crop]:
    """Crops that the design uses, by code: the library's values, changed by the design's own.

    Raises DesignError for one that neither describes completely.

    >>> from geoagro import crops_of, example_field, read_crop_library
    >>> sorted(crops_of(example_field().design, read_crop_library()))
    ['apple', 'lettuce']
    """
    return rooms.choose_crops(library, design.crops, design.plantings)


def timeline_of(design: Design, plants: Plants | StoredPlants, crops: Mapping[str, Crop]) -> Timeline:
    """Work out what stands where and when, in all rounds that the design's season asks for; one round without a season.

    >>> from geoagro import crops_of, example_layout, read_crop_library, timeline_of
    >>> laid, library = example_layout(), read_crop_library()
    >>> timeline_of(laid.design, laid.plants, crops_of(laid.design, library)).most_at_once()
    5490
    """
    return plants.timeline(crops, design.season, start=design.start_date)


@door
def terrain_of(design: Design, site: Site, source: GroundSource, *, progress: Progress = silent) -> Terrain:
    """Shape of the ground at the scale of the design's rows: grids in the working CRS, heights in metres.

    Raises LayoutError where heights don't cover the field or gaps are too wide.

    >>> from geoagro import example_field, terrain_of
    >>> terrain = terrain_of(*example_field())
    >>> round(float(terrain.slope.sample(*example_field().site.boundary.centroid.coords[0])), 3)
    0.08
    """
    return rooms.build_terrain(
        source,
        site.boundary,
        spacing_m=design.rows.spacing_m,
        smoothing_m=design.rows.smoothing_m,
        levelled_m=design.rows.levelled_m,
        max_gap_m=design.ground.max_gap_m,
        progress=progress,
    )


@door
def ground_of(design: Design, site: Site, terrain: Terrain) -> Ground:
    """Split the field into ground that may be planted and ground that may not, by reason; working CRS, m2.

    Gullies and ditches are marked (layer GULLIES) and told; only exclusions take them off the plantable ground.

    Raises LayoutError where nothing may be planted.

    >>> from geoagro import example_field, ground_of, terrain_of
    >>> field = example_field()
    >>> ground = ground_of(field.design, field.site, terrain_of(*field))
    >>> round(ground.plantable.area), list(ground.unplanted["reason"])
    (1404, ['setback'])
    """
    rule = design.rows
    lines = (
        rooms.drainage(terrain, least_ha=rule.drainage_area_ha, width_m=rule.spacing_m, strip_m=rule.drainage_width_m)
        if rule.break_at_drainage
        else None
    )
    ground = rooms.plantable_ground(site, terrain, design.ground, drainage=lines, bare=bare_ground(design, site))
    gullies = rooms.gullies(
        terrain, site.boundary, spacing_m=rule.spacing_m, max_grade_pct=rule.max_grade_pct, kept_free=site.kept_free
    )
    written = (design.output.folder / "rows.gpkg").as_posix()
    found = rooms.gully_findings(gullies, field_m2=site.boundary.area, file=written)
    ground = replace(ground, gullies=gullies, findings=(*ground.findings, *found))
    tell(ground.findings)
    return ground


@door
def tree_rows_of(
    design: Design, site: Site, terrain: Terrain, ground: Ground, *, progress: Progress = silent
) -> TreeRows:
    """Tree rows as section `rows` of the design asks, numbered from the top: layer TREE_ROWS in the working CRS.

    Raises LayoutError where the method needs what isn't known (heights, a guide) or no row is long enough.

    >>> from geoagro import example_field, ground_of, terrain_of, tree_rows_of
    >>> field = example_field()
    >>> terrain = terrain_of(*field)
    >>> rows = tree_rows_of(field.design, field.site, terrain, ground_of(field.design, field.site, terrain))
    >>> len(rows.frame)
    6
    """
    rows = rooms.lay_rows(
        ground,
        terrain,
        design.rows,
        guides=site.guides,
        outlet=site.outlet,
        drawn=site.drawn,
        open_ground=site.open_ground,
        apart=rooms.apart_grounds(design, site),
        window=window_of(design),
        longest_way_m=_longest_way_m(design),
        progress=progress,
    )
    tell(rows.findings)
    if rows.by_hand is not None:
        tell(rows.by_hand.findings)
    return rows


def _longest_way_m(design: Design) -> float | None:
    """Longest way of water along a row where the design itself says one; the default is no wish of the user's."""
    asked = design.water is not None and "max_way_m" in design.water.model_fields_set
    return design.water.max_way_m if asked and design.water is not None else None


def window_of(design: Design) -> RowWindow:
    """Tell what the design's beds ask of the rows' distance; raises LayoutError where tree beds of two rows would touch."""
    return rooms.row_window(design.beds, design.rows.spacing_m, design.rows.spacing_tolerance)


@door
def contours_of(design: Design, site: Site, terrain: Terrain) -> gpd.GeoDataFrame:
    """Layer CONTOURS over the field in the working CRS, heights in metres; empty where slope alone is known.

    >>> from geoagro import contours_of, example_layout
    >>> laid = example_layout()
    >>> contours_of(laid.design, laid.site, laid.terrain)["elevation_m"].max()
    np.float64(202.2)
    """
    if terrain.heights is None:
        return CONTOURS.empty(site.crs)
    return rooms.contour_lines(terrain, site.boundary, design.output.contour_interval_m)
