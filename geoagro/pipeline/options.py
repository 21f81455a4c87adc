"""Laying out options and reading off what they are compared by."""

from __future__ import annotations

import hashlib
import math
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geoagro.beds.room import BED_SHARE
from geoagro.errors import GeoagroError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.inputs.site import read_site
from geoagro.pipeline.season import season_of
from geoagro.pipeline.steps import crops_of, timeline_of
from geoagro.pipeline.whole_layout import layout
from geoagro.planar.dents import deep_dents, heights_along, longest_ways
from geoagro.planar.polylines import Polylines
from geoagro.rows import quality_table as q
from geoagro.season.records.figures import Key
from geoagro.season.records.tables import SeasonPlan
from geoagro.values.design import Design
from geoagro.values.layout import Layout
from geoagro.values.progress import Progress, silent
from geoagro.values.results import options as o
from geoagro.values.results.options import Compared, OptionResult
from geoagro.version import __version__

COMPARED: tuple[Compared, ...] = (
    o.FIELD_HA,
    o.PLANTABLE_HA,
    Compared(q.ROWS),
    Compared(q.ROW_LENGTH),
    Compared(q.MEAN_ROW_LENGTH, "high"),
    Compared(q.COVERED, "high"),
    o.IN_OWN_LIMITS,
    Compared(q.SPACING_WITHIN, "high"),
    Compared(q.GRADE_MAX, "low"),
    o.ENDS_PER_PLANTED_HA,
    o.BED_SHARE_OF_FIELD,
    Compared(BED_SHARE, "high"),
    o.INNER_LOW_POINTS,
    o.LONGEST_ONE_WAY,
    o.PLANTS_AT_ONCE,
    o.PLANTS_IN_ALL,
    o.WORK_FIRST_YEAR,
    o.NET_VALUE,
    o.DEEPEST_BALANCE,
)


def figures_compared() -> tuple[Compared, ...]:
    """Figures that options are compared by, in the order of the table, each with its unit and its better side.

    >>> [one.key for one in figures_compared()][:2]
    ['field_ha', 'plantable_ha']
    """
    return COMPARED


_SEASON = {
    Key.FIRST_YEAR_WORK: o.WORK_FIRST_YEAR,
    Key.WORTH: o.NET_VALUE,
    Key.DEEPEST_BALANCE: o.DEEPEST_BALANCE,
}
_MAP_M = 0.1
_FORM = "shares in percent"
"""Changes when figures are kept in another way, so that those of an earlier form aren't taken for today's."""


def option_state(design: Design) -> str:
    """Checksum of all that an option depends on: design, input files, program version.

    Raises InputError or CrsError where the files can't be read.

    >>> from pathlib import Path
    >>> from geoagro import option_state, read_design, write_example
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     design = read_design(write_example(Path(folder)))
    ...     before, again = option_state(design), option_state(design)
    ...     heights = Path(folder, "heights.asc")
    ...     _ = heights.write_text(heights.read_text().replace("200", "201"))
    ...     after = option_state(design)
    >>> before == again, before == after
    (True, False)
    """
    parts = [_FORM, __version__, design.model_dump_json(), *(f"{s.role} {s.sha256}" for s in read_site(design).sources)]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def option_of(
    name: str, design: Design, *, design_file: Path, settings: dict[str, str], progress: Progress = silent
) -> OptionResult:
    """Lay out one option and read off its figures; an option that can't be laid out keeps its line, with the reason.

    >>> from pathlib import Path
    >>> from geoagro import option_of, read_design, write_example
    >>> import tempfile
    >>> options = []
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = write_example(Path(folder))
    ...     for spacing in ("5", "6"):
    ...         changed = {"rows.spacing_m": spacing}
    ...         design = read_design(file, changes=changed)
    ...         options.append(option_of(spacing, design, design_file=file, settings=changed))
    >>> [(option.name, option.figures["rows"]) for option in options]
    [('5', 9.0), ('6', 8.0)]
    """
    state = ""
    try:
        state = option_state(design)
        laid = layout(design, progress=progress)
        plan = _season(design, laid, progress)
    except GeoagroError as error:
        return OptionResult(name, str(design_file), settings, state, problem=str(error))
    return OptionResult(
        name,
        str(design_file),
        settings,
        state,
        figures=_figures(design, laid, plan),
        currency=plan.rule.currency if plan else "",
        outline=[_points(ring) for ring in shapely.get_rings(shapely.get_parts(laid.site.boundary))],
        rows=[_points(line) for line in laid.rows.frame.geometry],
    )


def _season(design: Design, laid: Layout, progress: Progress) -> SeasonPlan | None:
    if design.season is None or laid.plants.count == 0:
        return None
    area_ha = laid.site.boundary.area / 1e4
    return season_of(
        design,
        laid.plants.whole(),
        laid.beds,
        read_crop_library(),
        area_ha=area_ha,
        zones=laid.zones,
        progress=progress,
    )


def _figures(design: Design, laid: Layout, plan: SeasonPlan | None) -> dict[str, float]:
    measures = laid.tables.layout_quality
    found = {m.quantity.key: m.quantity.written(m.value) for m in measures if math.isnan(m.at)}
    found |= {f"{m.quantity.key}_at_{m.at:g}": m.quantity.written(m.value) for m in measures if not math.isnan(m.at)}
    beds = laid.beds
    strips = float(beds.tree_beds.area.sum() + beds.beds.area.sum())
    field_m2, planted = laid.site.boundary.area, strips + float(beds.paths.area.sum())
    timeline = timeline_of(design, laid.plants, crops_of(design, read_crop_library()))
    found |= {
        o.FIELD_HA.key: field_m2 / 1e4,
        o.IN_OWN_LIMITS.key: 100 * measures.at(q.IN_LIMITS).get(design.rows.max_grade_pct, math.nan),
        o.PLANTABLE_HA.key: laid.ground.plantable.area / 1e4,
        o.BED_SHARE_OF_FIELD.key: 100 * strips / field_m2,
        o.ENDS_PER_PLANTED_HA.key: 2 * len(laid.rows.frame) / (planted / 1e4) if planted else math.nan,
        o.PLANTS_AT_ONCE.key: timeline.most_at_once(),
        o.PLANTS_IN_ALL.key: timeline.all_plantings(),
    }
    found |= _along_rows(laid) | _by_zone(laid)
    if plan is not None:
        told = dict(zip(plan.figures["key"], plan.figures["value"], strict=True))
        found |= {compared.key: float(told.get(name, math.nan)) for name, compared in _SEASON.items()}
    return {key: float(value) for key, value in found.items()}


def _by_zone(laid: Layout) -> dict[str, float]:
    """Ground, beds and plants of each zone."""
    if laid.zones is None:
        return {}
    return {
        f"zone {zone['zone']}: {name}": float(zone[name])
        for zone in laid.zones.zones.to_dict("records")
        for name in ("area_m2", "bed_area_m2", "rows", "plants")
    }


def _along_rows(laid: Layout) -> dict[str, float]:
    """Low points and ways of water along rows, read off the surface that rows are judged on; unknown without heights."""
    surface, lines = laid.terrain.judged, laid.rows.frame.geometry.to_numpy()
    if surface is None or len(lines) == 0:
        return {o.INNER_LOW_POINTS.key: math.nan, o.LONGEST_ONE_WAY.key: math.nan}
    heights = heights_along(Polylines.read(lines), surface.sample)
    ways = longest_ways(heights)
    return {
        o.INNER_LOW_POINTS.key: deep_dents(heights) if len(ways) else math.nan,
        o.LONGEST_ONE_WAY.key: float(ways.max()) if len(ways) else math.nan,
    }


def _points(line: BaseGeometry) -> list[tuple[float, float]]:
    """Corners of a line as far as a small map shows them."""
    xy = np.round(shapely.get_coordinates(shapely.simplify(line, _MAP_M)), 1)
    return [(float(x), float(y)) for x, y in xy]
