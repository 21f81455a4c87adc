"""Constants of every room against the source that they name; those without one, against what we chose, and where it shows.

A changed value must be meant: change it here too, and its source beside it.
"""

import numpy as np
import pytest

from geoagro.beds.alleys import FACING_REACH, SHORTEST_STEP_M, SIMPLIFY_M
from geoagro.beds.alleys import STEP_M as STEP_M_OF_ALLEYS
from geoagro.beds.fit import COMFORT_M
from geoagro.beds.layout import _WORTH
from geoagro.beds.paths import _CRUMB_M, _CRUMB_M2, _DOOR_M, _TOUCH_M
from geoagro.beds.shares import _DRIFT, _OVERLAP_M
from geoagro.light.bed_light import _EDGES, ALLEY_STEPS_M, OPEN_M
from geoagro.light.capture import _COARSE_WEEKS, _FINE_UNTIL, _FINE_WEEKS
from geoagro.light.growth import K_LAI
from geoagro.light.rays import DIFFUSE_SHARE
from geoagro.light.spots import _STEP_M
from geoagro.light.sun import MEAN_DAY, SOLAR_CONSTANT
from geoagro.planar.dents import DEEP_M, RIPPLE_M
from geoagro.planar.dents import STEP_M as STEP_M_OF_DENTS
from geoagro.plants.auto_direction import _SAME
from geoagro.plants.crowns import WEEDING_WEEKS
from geoagro.plants.model_field import SLOPE
from geoagro.plants.neighbours import STRETCH_M
from geoagro.plants.root_harm import _GAIN, _LASTING_WEEKS, _MOVES_M, _UNRIPE_WEEKS
from geoagro.plants.root_report import _JUDGES, _LEAST
from geoagro.plants.section import _LENGTH_M
from geoagro.plants.section import _SAME_M as SAME_M_OF_SECTION
from geoagro.plants.together.same_place import SAME_M
from geoagro.reports.areas import LEAST_KNOWN_SHARE
from geoagro.reports.claim.by_year import YEARS
from geoagro.reports.claim.eligible import YEARS_WEEKS
from geoagro.reports.claim.indicators import LEAST_DBH_CM
from geoagro.reports.claim.parcels import LARGEST_MISFIT
from geoagro.rows.quality import (
    BEND_WINDOW_M,
    CHORD_M,
    JUDGE_STEP_M,
    NEIGHBOUR_REACH,
    SHORT_CHORD_LIMITS,
    SHORT_CHORD_M,
    SPACING_REACH,
    STRAIGHT_M,
)
from geoagro.season.harvest import PICK_DAYS
from geoagro.season.husbandry.field_tasks import FENCE_LEAD_DAYS, FENCE_SLACK_DAYS
from geoagro.season.husbandry.free_ground import COVERS, CUT_SLACK_DAYS, SOW_DAYS
from geoagro.season.husbandry.nutrients import DRY_SHARE, MULCH_KG_PER_T, SUPPRESSES_T_PER_HA
from geoagro.season.husbandry.orders import ORDER_LEAD_DAYS, RIPE_DAYS, WAVE_DAYS
from geoagro.season.husbandry.outlets import SPOILS_DAYS, WEEKS_PER_MONTH
from geoagro.season.husbandry.rotation import TOGETHER_DAYS, USUAL_YEARS
from geoagro.season.husbandry.spans import LEAST_DAYS
from geoagro.season.husbandry.tree_care import FELL_SLACK_DAYS, PRUNE_SLACK_DAYS
from geoagro.season.tasks import CARE_SLACK_DAYS
from geoagro.season.weeding import MONTH_DAYS
from geoagro.stakeout.built_plants import _HALF
from geoagro.stakeout.built_rows import _NEAR_END_M
from geoagro.stakeout.marks import _SAME_M
from geoagro.stakeout.places import _BEND_WINDOW_M
from geoagro.stakeout.procedure import FARTHEST_ROWS, LEVEL_SD_M, PEG_SD_M, TAPE_SD_M
from geoagro.stakeout.receivers import _MINUTES, _OF_ERROR, SPACING_P95_IN_SIGMA
from geoagro.stakeout.registering import _DOUBT, _LEAST_JUDGED, MOST_NAMED
from geoagro.stakeout.survival import CONFIDENCE
from geoagro.terrain.difficulty import CLEAR, EASY
from geoagro.terrain.difficulty_zones import _SMALLEST_SPACINGS
from geoagro.terrain.drainage import EXPONENT, HALF_WIDTH_M, ROUNDING_M, SHORTEST_M
from geoagro.terrain.refining import WIDEST_M
from geoagro.values.rules.care import WEEKS_PER_YEAR
from geoagro.water.channels import permissible_velocity_m_s
from geoagro.water.soil_loss import contour_factor
from geoagro.yields.company import UNSURE
from geoagro.yields.tables import _CROWDED, _GOOD, _OVERFULL, TOO_DARK


def test_light_and_the_year_follow_their_handbooks():
    assert SOLAR_CONSTANT == 0.0820  # FAO-56, equation 21, MJ/m2 and minute: 1,367 W/m2
    assert pytest.approx(1367, abs=1) == SOLAR_CONSTANT * 1e6 / 60
    assert pytest.approx(365.25 / 7) == WEEKS_PER_YEAR
    assert pytest.approx(30.4375) == MONTH_DAYS
    assert pytest.approx(30.4375 / 7) == WEEKS_PER_MONTH
    assert K_LAI == 0.5 * 3  # extinction .5 and a leaf area index of 3, from memory
    assert np.exp(-K_LAI) == pytest.approx(0.223, abs=5e-4)
    assert DIFFUSE_SHARE == 0.5  # mean of many climates, from memory


def test_prunings_hold_what_was_measured_on_leucaena():
    """5.3 t of leaf held 223 kg of N: 42 kg a tonne; the rest from memory."""
    (n, p, k) = MULCH_KG_PER_T
    assert n[1] == pytest.approx(223 / 5.3, rel=2e-3)
    assert (n[0], p, k) == (20.0, (1.0, 2.5), (8.0, 25.0))
    assert DRY_SHARE == 0.25  # from memory
    assert SUPPRESSES_T_PER_HA == (15.0, 24.0)


def test_the_mean_days_of_months_are_those_of_klein():
    """Klein 1977, from memory: days of the year."""
    assert MEAN_DAY == (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)


def test_families_come_back_after_the_years_that_practice_asks():
    """Penn State for the nightshades; the others common practice, no source."""
    years = {family: years for family, (years, _) in USUAL_YEARS.items()}
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
    assert [(season, weeks) for season, weeks, _ in COVERS] == [
        ("cool", 24), ("cool", 7), ("warm", 24), ("warm", 14), ("warm", 9),
    ]  # fmt: skip


def test_days_that_work_may_wait_are_those_that_were_chosen():
    """Common practice, no source."""
    assert (PRUNE_SLACK_DAYS, FELL_SLACK_DAYS) == (30, 60)
    assert (FENCE_SLACK_DAYS, FENCE_LEAD_DAYS) == (60, 28)
    assert (CUT_SLACK_DAYS, SOW_DAYS) == (28, 3)
    assert (WAVE_DAYS, ORDER_LEAD_DAYS, RIPE_DAYS) == (28, 28, 180)
    assert (CARE_SLACK_DAYS, PICK_DAYS) == (14, 28)
    assert (TOGETHER_DAYS, SPOILS_DAYS, LEAST_DAYS) == (28, 10, 7)
    assert WEEDING_WEEKS == 20


def test_errors_of_marking_are_those_of_their_sources_or_our_own_judgement():
    """A tube of water shows 1 cm (FAO Training Series 16/1, from memory); tape 3 cm and peg 5 cm are ours."""
    assert (TAPE_SD_M, LEVEL_SD_M, PEG_SD_M) == (0.03, 0.01, 0.05)
    assert (FARTHEST_ROWS, CONFIDENCE) == (5, 0.95)
    # minutes for one stake; half of them as means of several minutes; by level or peg and tape: our own judgement
    assert _MINUTES == {"points": 2.0, "points_and_tape": 4.0, "level_and_tape": 5.0, "pegs_and_tape": 4.0}
    assert _OF_ERROR == 0.25
    assert pytest.approx(1.96 * np.sqrt(4 / 3), abs=4e-3) == SPACING_P95_IN_SIGMA
    assert (_SAME_M, _BEND_WINDOW_M, _NEAR_END_M, _HALF) == (0.3, 4.0, 1.0, 0.5)
    assert (_DOUBT, _LEAST_JUDGED, MOST_NAMED) == (6.0, 20, 12)


def test_limits_of_rows_are_measured_over_the_lengths_that_the_guide_names():
    assert (CHORD_M, SHORT_CHORD_M, SHORT_CHORD_LIMITS, BEND_WINDOW_M) == (
        10,
        6,
        1.5,
        5,
    )
    assert (NEIGHBOUR_REACH, SPACING_REACH, JUDGE_STEP_M) == (1.6, 2.5, 0.5)
    assert STRAIGHT_M == 2e6
    assert CLEAR == 1.5 and EASY == 0.10 and _SMALLEST_SPACINGS == 3.0
    assert EXPONENT == 1.1  # Freeman 1991
    assert (HALF_WIDTH_M, ROUNDING_M, SHORTEST_M, WIDEST_M) == (0.5, 1.0, 10.0, 3.0)


def test_room_beside_beds_is_what_was_chosen():
    assert (COMFORT_M, _WORTH, _DRIFT, _OVERLAP_M) == (0.05, 2.0, 1.1, 0.03)
    assert (_CRUMB_M2, _CRUMB_M, _TOUCH_M, _DOOR_M) == (0.1, 0.06, 1e-4, 0.3)
    assert (FACING_REACH, STEP_M_OF_ALLEYS, SIMPLIFY_M, SHORTEST_STEP_M) == (2.2, 1.0, 0.002, 0.3)
    assert (STEP_M_OF_DENTS, RIPPLE_M, DEEP_M) == (1.0, 0.02, 0.15)


def test_thresholds_of_plants_and_light_are_what_was_chosen():
    assert (SAME_M, STRETCH_M, SLOPE) == (0.05, 10.0, 0.10)
    assert (_LENGTH_M, SAME_M_OF_SECTION) == (120.0, 0.01)
    assert (_UNRIPE_WEEKS, _LASTING_WEEKS, _GAIN) == (4, 104, 0.10)
    assert _MOVES_M == (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5)
    assert (_LEAST, _JUDGES, _SAME) == (0.005, 400, 0.005)
    assert _EDGES == (-0.85, -0.70, -0.50, -0.30)  # classes of light, as their names say
    assert (_STEP_M, OPEN_M) == (10.0, 40.0)
    assert ALLEY_STEPS_M == ((10.0, 0.5), (20.0, 1.0), (40.0, 2.5))
    assert (_FINE_WEEKS, _COARSE_WEEKS, _FINE_UNTIL) == (2.0, 4.0, 156.0)
    assert (UNSURE, TOO_DARK, _OVERFULL, _CROWDED, _GOOD) == (
        0.5,
        0.4,
        2.0,
        0.75,
        0.85,
    )


def test_thresholds_of_reports_are_what_was_chosen():
    assert (LEAST_KNOWN_SHARE, LARGEST_MISFIT, LEAST_DBH_CM) == (0.95, 0.001, 5.0)
    assert (YEARS_WEEKS, YEARS) == (52, (1, 3, 5, 10, 20))


def test_water_on_bare_soil_and_at_the_ends_of_classes_is_as_tabled():
    """Bare soil .6 and .45 m/s (Fortier and Scobey 1926, from memory); TP-61 and handbook 537 count their limits in."""
    assert permissible_velocity_m_s(0.02, grass=False, erodible=False) == 0.6
    assert permissible_velocity_m_s(0.02, grass=False, erodible=True) == 0.45
    assert permissible_velocity_m_s(0.10, grass=True, erodible=True) == pytest.approx(3 * 0.3048)
    limits = np.array([0.02, 0.05, 0.08, 0.12, 0.16, 0.20, 0.25, 0.2501])
    assert contour_factor(limits).tolist() == [0.6, 0.5, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0]
