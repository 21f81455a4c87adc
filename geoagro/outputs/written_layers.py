"""Every layer and table that goes into a GeoPackage: what viewers show of them is collected for translators from here."""

from __future__ import annotations

from geoagro.ground.records.limit_costs import LIMIT_COSTS
from geoagro.outputs.layout.layers import LAYOUT_SPECS
from geoagro.outputs.season.map import BED_MAP
from geoagro.outputs.tables.cells import WORKBOOK_TABLES
from geoagro.rows.records.plan import ROW_CUTS
from geoagro.season.records.tables import SEASON_TABLES
from geoagro.stakeout.records.accuracy import ROW_OFFSETS
from geoagro.stakeout.records.as_built import (
    MARKS_ASBUILT,
    PLANTS_ASBUILT,
    REPLANT,
    REPLANT_COUNTS,
    ROWS_ASBUILT,
    ROWS_FOUND,
)
from geoagro.stakeout.records.procedure import STEPS
from geoagro.stakeout.records.stakes import (
    BASELINE_OFFSETS,
    LEVELS,
    RECEIVERS,
    STAKE_SUMMARY,
    TAPE_OFFSETS,
    WALK,
)
from geoagro.terrain.records.difficulty import DIFFICULTY_ZONES
from geoagro.values.layers import LayerSpec
from geoagro.values.results.field_result import FIELD_CROPS, FIELD_RESULTS
from geoagro.values.results.water import WATER_FINDINGS, WATER_SOURCE
from geoagro.values.stakeout import MARKS, PLOTS
from geoagro.values.survey import AREAS_ASBUILT, SURVEY_ABOUT, SURVEY_POINTS, SURVEY_TRACES, SURVIVAL
from geoagro.values.terrain import TERRAIN_DIFFICULTY
from geoagro.water.records.tables import WATER_SPECS

WRITTEN_LAYERS: tuple[LayerSpec, ...] = (
    *LAYOUT_SPECS, DIFFICULTY_ZONES, ROW_CUTS, LIMIT_COSTS, TERRAIN_DIFFICULTY,
    MARKS, WALK, TAPE_OFFSETS, BASELINE_OFFSETS, LEVELS, RECEIVERS, STEPS, STAKE_SUMMARY, PLOTS,
    SURVEY_TRACES, ROWS_ASBUILT, SURVEY_POINTS, MARKS_ASBUILT, PLANTS_ASBUILT, REPLANT, ROWS_FOUND, ROW_OFFSETS, SURVIVAL,
    REPLANT_COUNTS, AREAS_ASBUILT, SURVEY_ABOUT,
    *WATER_SPECS, WATER_FINDINGS, WATER_SOURCE, BED_MAP, *SEASON_TABLES, *WORKBOOK_TABLES, FIELD_RESULTS, FIELD_CROPS,
)  # fmt: skip
DRAWN_LAYERS = tuple(spec for spec in (*LAYOUT_SPECS, MARKS, WALK) if spec.geometry != "none")
"""Layers of a layout and of its stakes that are drawn: of these, translators get what each column means, too."""
