"""Fields laid out by hand, with plants, for tests of tables, reports and maps. All of it is invented."""

from __future__ import annotations

import builders
import numpy as np
import pandas as pd
import shapely

from geoagro.reports.tables import layout_tables
from geoagro.rows.quality_table import SPACING_WITHIN
from geoagro.values.beds import Beds
from geoagro.values.ground import UNPLANTED, Ground
from geoagro.values.layout import LAYOUT_QUALITY
from geoagro.values.measures import Measures
from geoagro.values.plants import PLANTS, Plants
from geoagro.values.report import SOURCES, CropFacts, LaidOut
from geoagro.values.site import EXCLUSIONS
from geoagro.values.terrain import CONTOURS

CROPS = {
    "hill_plum": CropFacts("Hill plum", "Prunus inventa", "tree", "high", 4.0),
    "shade_alder": CropFacts("Shade alder", None, "tree", "emergent", 6.0),
    "salad": CropFacts("Salad", None, "herb", "low", 0.3),
    "bitter_root": CropFacts("Bitter root", None, "shrub", "medium", 1.2, "Poisonous raw; peel and boil."),
}


def grid_of_plants(beds, *, spacing_m: float, crop: str = "tree", stratum: str = "high", first: int = 1) -> Plants:
    """Points at half a spacing, one spacing, ... along the middle of each bed."""
    steps = [np.arange(spacing_m / 2, axis.length, spacing_m) for axis in beds["axis"]]
    points = np.concatenate([shapely.line_interpolate_point(a, s) for a, s in zip(beds["axis"], steps, strict=True)])
    n = len(points)
    owner = np.repeat(np.arange(len(beds)), [len(s) for s in steps])
    columns = {name: [None] * n for name in PLANTS.columns}
    columns |= {
        "plant": np.arange(first, n + first),
        "crop": [crop] * n,
        "planting": [crop] * n,
        "bed_kind": ["tree" if "side" not in beds else "vegetable"] * n,
        "row": beds["row"].to_numpy()[owner],
        "bed": beds["bed"].to_numpy()[owner],
        "line": np.ones(n),
        "station_m": np.concatenate(steps),
        "x": shapely.get_x(points),
        "y": shapely.get_y(points),
        "z": np.full(n, 100.0),
        "bearing_deg": np.full(n, np.nan),
        "stratum": [stratum] * n,
        **{name: np.zeros(n) for name in ("plant_week", "harvest_from_week", "harvest_to_week")},
    }
    return Plants(PLANTS.frame(columns, geometry=points, crs=builders.UTM))


def together(*plants: Plants) -> Plants:
    frame = pd.concat([p.frame for p in plants], ignore_index=True)
    return Plants(frame.assign(plant=np.arange(1, len(frame) + 1)))


def field(size_m: float = 90.0, spacing_m: float = 4.5, setback_m: float = 0.0, slope: float = 0.1):
    """A square field with straight rows; what the strips leave is row margin."""
    site = builders.square_site(size_m)
    inside = shapely.MultiPolygon([site.boundary.geoms[0].buffer(-setback_m, join_style="mitre")])
    ring = site.boundary.difference(inside)
    before = UNPLANTED.empty(builders.UTM)
    if setback_m:
        before = UNPLANTED.frame({"reason": ["setback"], "area_m2": [ring.area]}, geometry=[ring], crs=builders.UTM)
    rows = builders.straight_rows(spacing_m=spacing_m, size_m=size_m)
    beds = builders.straight_beds(rows)
    beds = Beds(*(_clipped(layer, inside) for layer in (beds.tree_beds, beds.beds, beds.paths)))
    strips = shapely.union_all([*beds.tree_beds.geometry, *beds.beds.geometry, *beds.paths.geometry])
    rest = shapely.MultiPolygon(shapely.get_parts(inside.difference(strips.buffer(1e-9))).tolist())
    margin = UNPLANTED.frame(
        {"reason": ["row_margin"] * len(rest.geoms), "area_m2": [p.area for p in rest.geoms]},
        geometry=list(rest.geoms),
        crs=builders.UTM,
    )
    ground = Ground(site.boundary, inside, before)
    return site, builders.plane(slope=slope, size_m=size_m), ground, rows, beds, pd.concat([before, margin])


def _clipped(layer, inside):
    """Cut strips to the inside; one that only touches it is left out."""
    layer = layer.assign(geometry=layer.geometry.intersection(inside))
    layer = layer[layer.geometry.geom_type == "Polygon"]
    layer = layer[layer.geometry.area > 1e-6].reset_index(drop=True)
    return layer.assign(area_m2=layer.geometry.area)


def planting(beds) -> Plants:
    """Plums and alders in tree beds, salad and bitter root in vegetable beds."""
    tree, veg = beds.tree_beds, beds.beds
    return together(
        grid_of_plants(tree, spacing_m=3.0, crop="hill_plum", stratum="high"),
        grid_of_plants(tree, spacing_m=12.0, crop="shade_alder", stratum="emergent", first=10_000),
        grid_of_plants(veg, spacing_m=0.5, crop="salad", stratum="low", first=100_000),
        grid_of_plants(veg[veg["side"] == "up"], spacing_m=1.0, crop="bitter_root", stratum="medium", first=500_000),
    )


def laid_out(*, plants=planting, crops=None, surveys=(), name: str = "Invented Hill", **shape) -> LaidOut:
    """A whole layout as a report takes it."""
    site, terrain, ground, rows, beds, unplanted = field(**shape)
    frame = plants(beds).frame
    chosen = Plants(frame[frame.intersects(site.boundary)].reset_index(drop=True))
    quality = Measures((SPACING_WITHIN.is_(1.0),))
    tables = layout_tables(site, terrain, ground, beds, chosen, unplanted, quality=quality)
    sources = {
        "item": ["program", "working_crs", "heights", "boundary"],
        "value": ["geoagro 0.1.0", "EPSG:32633", "a plane built by a test", "boundary.gpkg"],
        "sha256": [None, None, None, "ab" * 32],
        "now": ["", "", "", "unchanged"],
    }
    return LaidOut(
        name=name,
        crs=site.crs,
        boundary=site.boundary,
        tree_rows=rows.frame,
        tree_beds=beds.tree_beds,
        beds=beds.beds,
        paths=beds.paths,
        unplanted=unplanted,
        exclusions=EXCLUSIONS.empty(site.crs),
        contours=CONTOURS.empty(site.crs),
        plants=chosen.frame,
        area_summary=tables.area_summary,
        quality=quality.frame(LAYOUT_QUALITY),
        sources=SOURCES.frame(sources),
        findings=pd.DataFrame({"severity": ["note"], "about": ["boundary.gpkg"], "finding": ["1 polygon."]}),
        crops=CROPS if crops is None else crops,
        spacing_m=rows.spacing_m,
        surveys=surveys,
    )
