"""Constants of every room against the source that they name; those without one, against what we chose, and where it shows.

A changed value must be meant: change it here too, and its source beside it.
"""

import numpy as np
import pytest

from geoagro.beds import alleys, fit, layout, paths
from geoagro.light import bed_light, capture, growth, rays, spots, sun
from geoagro.planar import dents
from geoagro.plants import auto_direction, crowns, model_field, neighbours, root_harm, root_report
from geoagro.plants.together import same_place
from geoagro.reports import areas
from geoagro.reports.claim import by_year, eligible, indicators, parcels
from geoagro.rows import quality
from geoagro.season import harvest, tasks, weeding
from geoagro.season.husbandry import (
    field_tasks,
    free_ground,
    nutrients,
    orders,
    outlets,
    rotation,
    spans,
    tree_care,
)
from geoagro.stakeout import built_plants, built_rows, marks, places, procedure, receivers, registering, survival
from geoagro.terrain import difficulty, difficulty_zones, drainage, refining
from geoagro.values.rules.care import WEEKS_PER_YEAR
from geoagro.water.channels import permissible_velocity_m_s
from geoagro.water.soil_loss import contour_factor
from geoagro.yields import company, tables


def test_light_and_the_year_follow_their_handbooks():
    assert sun.SOLAR_CONSTANT == 0.0820  # FAO-56, equation 21, MJ/m2 and minute: 1,367 W/m2
    assert pytest.approx(1367, abs=1) == sun.SOLAR_CONSTANT * 1e6 / 60
    assert pytest.approx(365.25 / 7) == WEEKS_PER_YEAR
    assert pytest.approx(30.4375) == weeding.MONTH_DAYS
    assert pytest.approx(30.4375 / 7) == outlets.WEEKS_PER_MONTH
    assert growth.K_LAI == 0.5 * 3  # extinction .5 and a leaf area index of 3, from memory
    assert np.exp(-growth.K_LAI) == pytest.approx(0.223, abs=5e-4)
    assert rays.DIFFUSE_SHARE == 0.5  # mean of many climates, from memory


def test_prunings_hold_what_was_measured_on_leucaena():
    """5.3 t of leaf held 223 kg of N: 42 kg a tonne; the rest from memory."""
    (n, p, k) = nutrients.MULCH_KG_PER_T
    assert n[1] == pytest.approx(223 / 5.3, rel=2e-3)
    assert (n[0], p, k) == (20.0, (1.0, 2.5), (8.0, 25.0))
    assert nutrients.DRY_SHARE == 0.25  # from memory
    assert nutrients.SUPPRESSES_T_PER_HA == (15.0, 24.0)


def test_the_mean_days_of_months_are_those_of_klein():
    """Klein 1977, from memory: days of the year."""
    assert sun.MEAN_DAY == (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)


def test_families_come_back_after_the_years_that_practice_asks():
    """Penn State for the nightshades; the others common practice, no source."""
    years = {family: years for family, (years, _) in rotation.USUAL_YEARS.items()}
    assert {family for family, asked in years.items() if asked == 4} == {"Brassicaceae", "Amaryllidaceae"}
    assert {family for family, asked in years.items() if asked == 2} == {
        "Fabaceae", "Convolvulaceae", "Euphorbiaceae", "Asteraceae",
    }  # fmt: skip
    assert {family for family, asked in years.items() if asked == 3} == {
        "Solanaceae", "Apiaceae", "Cucurbitaceae", "Amaranthaceae", "Zingiberaceae", "Dioscoreaceae",
    }  # fmt: skip
    assert len(years) == 12


def test_covers_have_the_time_that_the_library_gives_them():
    """Least weeks by season, the longest first; our choice from harvest weeks of the library."""
    assert [(season, weeks) for season, weeks, _ in free_ground.COVERS] == [
        ("cool", 24), ("cool", 7), ("warm", 24), ("warm", 14), ("warm", 9),
    ]  # fmt: skip


def test_days_that_work_may_wait_are_those_that_were_chosen():
    """Common practice, no source."""
    assert (tree_care.PRUNE_SLACK_DAYS, tree_care.FELL_SLACK_DAYS) == (30, 60)
    assert (field_tasks.FENCE_SLACK_DAYS, field_tasks.FENCE_LEAD_DAYS) == (60, 28)
    assert (free_ground.CUT_SLACK_DAYS, free_ground.SOW_DAYS) == (28, 3)
    assert (orders.WAVE_DAYS, orders.ORDER_LEAD_DAYS, orders.RIPE_DAYS) == (28, 28, 180)
    assert (tasks.CARE_SLACK_DAYS, harvest.PICK_DAYS) == (14, 28)
    assert (rotation.TOGETHER_DAYS, outlets.SPOILS_DAYS, spans.LEAST_DAYS) == (28, 10, 7)
    assert crowns.WEEDING_WEEKS == 20


def test_errors_of_marking_are_those_of_their_sources_or_our_own_judgement():
    """A tube of water shows 1 cm (FAO Training Series 16/1, from memory); tape 3 cm and peg 5 cm are ours."""
    assert (procedure.TAPE_SD_M, procedure.LEVEL_SD_M, procedure.PEG_SD_M) == (0.03, 0.01, 0.05)
    assert (procedure.FARTHEST_ROWS, survival.CONFIDENCE) == (5, 0.95)
    # minutes for one stake; half of them as means of several minutes; by level or peg and tape: our own judgement
    assert receivers._MINUTES == {"points": 2.0, "points_and_tape": 4.0, "level_and_tape": 5.0, "pegs_and_tape": 4.0}
    assert receivers._OF_ERROR == 0.25
    assert pytest.approx(1.96 * np.sqrt(4 / 3), abs=4e-3) == receivers.SPACING_P95_IN_SIGMA
    assert (marks._SAME_M, places._BEND_WINDOW_M, built_rows._NEAR_END_M, built_plants._HALF) == (0.3, 4.0, 1.0, 0.5)
    assert (registering._DOUBT, registering._LEAST_JUDGED, registering.MOST_NAMED) == (6.0, 20, 12)


def test_limits_of_rows_are_measured_over_the_lengths_that_the_guide_names():
    assert (quality.CHORD_M, quality.SHORT_CHORD_M, quality.SHORT_CHORD_LIMITS, quality.BEND_WINDOW_M) == (
        10,
        6,
        1.5,
        5,
    )
    assert (quality.NEIGHBOUR_REACH, quality.SPACING_REACH, quality.JUDGE_STEP_M) == (1.6, 2.5, 0.5)
    assert difficulty.CLEAR == 1.5 and difficulty.EASY == 0.10 and difficulty_zones._SMALLEST_SPACINGS == 3.0
    assert drainage.EXPONENT == 1.1  # Freeman 1991
    assert (drainage.HALF_WIDTH_M, drainage.ROUNDING_M, drainage.SHORTEST_M, refining.WIDEST_M) == (0.5, 1.0, 10.0, 3.0)


def test_room_beside_beds_is_what_was_chosen():
    assert (fit.COMFORT_M, layout._WORTH, paths._DRIFT, paths._OVERLAP_M) == (0.05, 2.0, 1.1, 0.03)
    assert (alleys.FACING_REACH, alleys.STEP_M, alleys.SIMPLIFY_M, alleys.SHORTEST_STEP_M) == (2.2, 1.0, 0.002, 0.3)
    assert (dents.STEP_M, dents.RIPPLE_M, dents.DEEP_M) == (1.0, 0.02, 0.15)


def test_thresholds_of_plants_and_light_are_what_was_chosen():
    assert (same_place.SAME_M, neighbours.STRETCH_M, model_field.SLOPE) == (0.05, 10.0, 0.10)
    assert (root_harm._UNRIPE_WEEKS, root_harm._LASTING_WEEKS, root_harm._GAIN) == (4, 104, 0.10)
    assert root_harm._MOVES_M == (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5)
    assert (root_report._LEAST, root_report._JUDGES, auto_direction._SAME) == (0.005, 400, 0.005)
    assert bed_light._EDGES == (-0.85, -0.70, -0.50, -0.30)  # classes of light, as their names say
    assert (spots._STEP_M, spots._OPEN_M) == (10.0, 40.0)
    assert (capture._FINE_WEEKS, capture._COARSE_WEEKS, capture._FINE_UNTIL) == (2.0, 4.0, 156.0)
    assert (company.UNSURE, tables.TOO_DARK, tables._OVERFULL, tables._CROWDED, tables._GOOD) == (
        0.5,
        0.4,
        2.0,
        0.75,
        0.85,
    )


def test_thresholds_of_reports_are_what_was_chosen():
    assert (areas.LEAST_KNOWN_SHARE, parcels.LARGEST_MISFIT, indicators.LEAST_DBH_CM) == (0.95, 0.001, 5.0)
    assert (eligible.YEARS_WEEKS, by_year.YEARS) == (52, (1, 3, 5, 10, 20))


def test_water_on_bare_soil_and_at_the_ends_of_classes_is_as_tabled():
    """Bare soil .6 and .45 m/s (Fortier and Scobey 1926, from memory); TP-61 and handbook 537 count their limits in."""
    assert permissible_velocity_m_s(0.02, grass=False, erodible=False) == 0.6
    assert permissible_velocity_m_s(0.02, grass=False, erodible=True) == 0.45
    assert permissible_velocity_m_s(0.10, grass=True, erodible=True) == pytest.approx(3 * 0.3048)
    limits = np.array([0.02, 0.05, 0.08, 0.12, 0.16, 0.20, 0.25, 0.2501])
    assert contour_factor(limits).tolist() == [0.6, 0.5, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]
