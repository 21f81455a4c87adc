"""What the first steps ask of the rooms, each function loaded with its room when it is first called for.

A program that imports a step then waits for no solver, no compiled loops and no statistics before it uses them. Steps name
this module and ask it (`rooms.lay_rows(...)`); the imports below are for readers and type checkers.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # written twice, so that type checkers let other modules have them
    # ruff: noqa: PLC0414
    from geoagro.beds.widths import row_window as row_window
    from geoagro.ground.leftover import ground_without_rows as ground_without_rows
    from geoagro.ground.limit_costs import limit_costs as limit_costs
    from geoagro.ground.plantable import plantable_ground as plantable_ground
    from geoagro.pipeline.zone_rules import apart_grounds as apart_grounds
    from geoagro.pipeline.zone_rules import outside as outside
    from geoagro.pipeline.zone_rules import spacings_of as spacings_of
    from geoagro.plants.crops import choose_crops as choose_crops
    from geoagro.rows.layout import lay_rows as lay_rows
    from geoagro.rows.quality_table import row_quality as row_quality
    from geoagro.terrain.build import build_terrain as build_terrain
    from geoagro.terrain.contours import contour_lines as contour_lines
    from geoagro.terrain.difficulty import terrain_difficulty as terrain_difficulty
    from geoagro.terrain.difficulty_zones import difficulty_zones as difficulty_zones
    from geoagro.terrain.drainage import drainage as drainage
    from geoagro.terrain.gullies import gullies as gullies
    from geoagro.terrain.gully_findings import gully_findings as gully_findings
else:
    _HOMES = {
        "row_window": "beds.widths",
        "ground_without_rows": "ground.leftover",
        "limit_costs": "ground.limit_costs",
        "plantable_ground": "ground.plantable",
        "apart_grounds": "pipeline.zone_rules",
        "outside": "pipeline.zone_rules",
        "spacings_of": "pipeline.zone_rules",
        "choose_crops": "plants.crops",
        "lay_rows": "rows.layout",
        "row_quality": "rows.quality_table",
        "build_terrain": "terrain.build",
        "contour_lines": "terrain.contours",
        "terrain_difficulty": "terrain.difficulty",
        "difficulty_zones": "terrain.difficulty_zones",
        "drainage": "terrain.drainage",
        "gullies": "terrain.gullies",
        "gully_findings": "terrain.gully_findings",
    }

    def __getattr__(name):
        if name not in _HOMES:
            raise AttributeError(f"module {__name__} has no attribute {name}")
        return getattr(import_module(f"geoagro.{_HOMES[name]}"), name)
