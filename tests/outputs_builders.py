"""A small finished layout, bent rows and all, built by hand for tests of what comes after the design."""

from __future__ import annotations

import numpy as np
import shapely
from builders import EAST, NORTH, UTM, plane, square_site, straight_beds, straight_rows
from scipy.spatial import cKDTree
from shapely import LineString, MultiPolygon, Polygon, box

from geoagro.rows.quality_table import ROWS
from geoagro.values.design import Design
from geoagro.values.ground import UNPLANTED, Ground
from geoagro.values.layout import AREA_SUMMARY, CROP_SUMMARY, ROW_SUMMARY, Layout, Tables
from geoagro.values.measures import Measures
from geoagro.values.plants import PLANTS, Plants
from geoagro.values.site import Exclusion, Finding, Site, SourceFile
from geoagro.values.terrain import CONTOURS

CROPS = ("banana", "cassava", "eucalypt")


def small_layout(size_m: float = 60.0, *, name: str = "Invented field") -> Layout:
    """A square with a pond in a corner, rows 4.5 m apart, three crops."""
    site = _site(size_m, name)
    unplanted = _unplanted(site)
    plantable = MultiPolygon(shapely.get_parts(site.boundary.difference(unplanted.union_all())))
    rows = straight_rows(size_m=size_m)
    beds = straight_beds(rows)
    plants = plants_along(rows, step_m=1.5)
    return Layout(
        design=Design.model_validate(
            {"name": name, "inputs": {"boundary": {"file": "a.gpkg"}, "elevation": {"file": "b.tif"}}}
        ),
        site=site,
        terrain=plane(size_m=size_m),
        ground=Ground(site.boundary, plantable, unplanted),
        rows=rows,
        beds=beds,
        plants=plants,
        unplanted=unplanted,
        contours=_contours(size_m),
        tables=_tables(site, plants),
    )


def _site(size_m: float, name: str) -> Site:
    pond = Polygon([(EAST + 5, NORTH + 5), (EAST + 15, NORTH + 6), (EAST + 12, NORTH + 16)]).buffer(2)
    return Site(
        name,
        square_site(size_m).boundary,
        (Exclusion("pond", "exclusion", MultiPolygon([pond]), 2.0),),
        (),
        UTM,
        (Finding("repair", "a.gpkg", "One ring crossed itself; repaired, area changed by 0.2 m2."),),
        (SourceFile("boundary", "a.gpkg", "00ff"), SourceFile("elevation", "b.tif", "11ee")),
    )


def _unplanted(site: Site):
    pond = site.exclusions[0].area
    west = site.boundary.intersection(box(EAST, NORTH, EAST + 1, NORTH + 1000)).difference(pond)
    parts = [pond.geoms[0], west]
    columns = {"reason": ["exclusion", "setback"], "area_m2": [p.area for p in parts]}
    return UNPLANTED.frame(columns, geometry=parts, crs=UTM)


def _contours(size_m: float):
    heights = np.arange(100.5, 100 + 0.1 * size_m, 0.5)
    lines = [LineString([(EAST, NORTH + (h - 100) * 10), (EAST + size_m, NORTH + (h - 100) * 10)]) for h in heights]
    return CONTOURS.frame({"elevation_m": heights, "is_index": (heights * 2) % 5 == 0}, geometry=lines, crs=UTM)


def plants_along(rows, *, step_m: float) -> Plants:
    """Points along each row, every `step_m`, crops in turn."""
    lines = rows.frame.geometry.to_numpy()
    counts = np.floor(shapely.length(lines) / step_m).astype(int)
    row = np.repeat(rows.frame["row"].to_numpy(), counts)
    station = np.concatenate([np.arange(n) * step_m for n in counts])
    points = shapely.line_interpolate_point(np.repeat(lines, counts), station)
    n = len(row)
    crop = np.array(CROPS)[np.arange(n) % len(CROPS)]
    columns = {
        "plant": np.arange(1, n + 1),
        "crop": crop,
        "planting": crop,
        "mixture": np.full(n, "tree"),
        "bed_kind": np.full(n, "tree"),
        "row": row,
        "bed": np.char.add(np.char.add("R", np.char.zfill(row.astype(str), 3)), "-T"),
        "line": np.ones(n),
        "station_m": station,
        "x": shapely.get_x(points),
        "y": shapely.get_y(points),
        "nearest_m": _nearest(points),
        "z": np.full(n, 100.0),
        "bearing_deg": np.full(n, np.nan),
        "direction": np.full(n, "all_round"),
        "stratum": np.array(["medium", "low", "emergent"])[np.arange(n) % 3],
        "plant_week": np.zeros(n),
        "harvest_from_week": np.full(n, 40),
        "harvest_to_week": np.full(n, 50),
        "plant_date": np.full(n, np.datetime64("2031-03-03")),
        "harvest_from_date": np.full(n, np.datetime64("2031-12-08")),
        "harvest_to_date": np.full(n, np.datetime64("NaT", "D")),
    }
    return Plants(PLANTS.frame({k: v for k, v in columns.items() if k in PLANTS.columns}, geometry=points, crs=UTM))


def _nearest(points) -> np.ndarray:
    xy = shapely.get_coordinates(points)
    return cKDTree(xy).query(xy, k=[2])[0][:, 0]


def _tables(site: Site, plants: Plants) -> Tables:
    area = site.boundary.area
    counts = plants.frame["crop"].value_counts().sort_index()
    by_row = plants.frame.groupby(["row", "crop"]).size().reset_index(name="plants")
    areas = {
        "item": ["field"], "part_of": [""], "definition": ["All ground inside the boundary."],
        "area_m2": [area], "ground_area_m2": [area * 1.005], "geodesic_area_m2": [area * 1.0008],
    }  # fmt: skip
    return Tables(
        AREA_SUMMARY.frame({k: v for k, v in areas.items() if k in AREA_SUMMARY.columns}),
        CROP_SUMMARY.frame(
            {
                "crop": counts.index,
                "plants": counts.values,
                "standing_at_once": counts.values,
                "all_plantings": counts.values,
                "per_ha_field": counts / area * 1e4,
                "per_ha_plantable": counts / area * 1e4,
            }
        ),
        ROW_SUMMARY.frame({k: by_row[k] for k in ROW_SUMMARY.columns}),
        Measures((ROWS.is_(13),)),
    )
