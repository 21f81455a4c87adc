"""Published formulas for runoff and channels, against published tables and worked examples.

"Worked example" names where the numbers were seen; "computed" means from the formula by hand.
"""

import numpy as np
import pytest
from pydantic import ValidationError

from geoagro.values.rules.water import WaterRule
from geoagro.water.analysis import design_runoff_mm
from geoagro.water.channels import (
    Section,
    behind_ridge,
    flow_m3_s,
    manning_velocity_m_s,
    normal_depth_m,
    permissible_velocity_m_s,
)
from geoagro.water.runoff import (
    CURVE_NUMBERS,
    curve_number_runoff_mm,
    infiltration_runoff_mm,
    kirpich_minutes,
    rational_peak_m3_s,
    retention_mm,
)
from geoagro.water.soil_loss import contour_factor, longest_slope_m, off_grade_factor

INCH = 25.4


@pytest.mark.parametrize(
    ("inches", "number", "runoff"),
    [
        (6, 70, 2.81),  # TR-55 (1986), example 2-1
        (8, 80, 5.625),  # a solved textbook problem: S 2.5 in, (7.5)^2 / 10
        (3, 75, 0.961),  # computed
        (1.0, 60, 0.00),  # TR-55 table 2-1
        (2.0, 70, 0.24),  # TR-55 table 2-1
        (4.0, 80, 2.04),  # TR-55 table 2-1
        (5.0, 90, 3.88),  # TR-55 table 2-1
    ],
)
def test_curve_number_runoff_is_as_published(inches, number, runoff):
    assert curve_number_runoff_mm(inches * INCH, number) / INCH == pytest.approx(runoff, abs=0.006)


def test_curve_number_runoff_in_millimetres():
    assert curve_number_runoff_mm(100, 75) == pytest.approx(41.14, abs=0.01)  # computed
    assert retention_mm(100) == 0.0


def test_no_runoff_before_the_initial_loss_and_all_of_it_from_a_roof():
    assert curve_number_runoff_mm(0.2 * retention_mm(75), 75) == 0.0
    assert curve_number_runoff_mm(50, 100) == pytest.approx(50)


@pytest.mark.parametrize(
    ("cover", "numbers"),
    [  # USDA-NRCS, TR-55 table 2-2, as given in two hydrology texts
        ("bare", (77, 86, 91, 94)),
        ("row_crops", (65, 75, 82, 86)),
        ("row_crops_poor", (70, 79, 84, 88)),
        ("orchard_grass_poor", (57, 73, 82, 86)),
        ("orchard_grass", (43, 65, 76, 82)),
        ("orchard_grass_good", (32, 58, 72, 79)),
        ("meadow", (30, 58, 71, 78)),
    ],
)
def test_curve_numbers_are_those_of_the_published_table(cover, numbers):
    assert tuple(CURVE_NUMBERS[cover][group] for group in "ABCD") == numbers


def test_infiltration_takes_its_share_of_an_even_storm():
    assert infiltration_runoff_mm(80, 4, 15) == 20.0
    assert infiltration_runoff_mm(80, 24, 15) == 0.0


@pytest.mark.parametrize(
    ("coefficient", "intensity", "area_m2", "peak"),
    [
        (1.0, 45.48, 80e4, 10.11),  # a solved university problem: effective rain of 45.48 mm/h on 80 ha
        (1 / 3 * 0.5 + 2 / 3 * 0.3, 25.0, 35e6, 89.12),  # mixed cover, 35 km2, computed
        (0.4, 2.87 * INCH, 128 * 4046.856, 146.944 * 0.028317 * 1.0083),  # a solved problem in acres, in/h and ft3/s
    ],
)
def test_rational_peaks_are_as_in_worked_examples(coefficient, intensity, area_m2, peak):
    assert rational_peak_m3_s(coefficient, intensity, area_m2) == pytest.approx(peak, rel=2e-3)


def test_time_of_concentration_of_a_kilometre_at_one_percent():
    assert kirpich_minutes(np.array([1000.0]), np.array([0.01]))[0] == pytest.approx(23.44, abs=0.02)  # from memory


V_CHANNEL = Section(2.0, 0.0, 6.0, 6.0)


@pytest.mark.parametrize(
    ("depth", "flow"), [(0.25, 0.084), (0.5, 0.533), (0.75, 1.57), (1.0, 3.38), (1.25, 6.14)]
)  # a V channel, side slopes 6, fall 0.001, n 0.035: a published table of flows
def test_manning_flow_in_a_v_channel_is_as_tabled(depth, flow):
    found = flow_m3_s(V_CHANNEL, np.array([depth]), np.array([0.001]), 0.035)
    assert found[0] == pytest.approx(flow, rel=0.01)


def test_manning_flow_in_a_rectangle():
    """A worked example: 6 m wide, 1.6 m deep, fall 0.0025, n 0.015: 3.43 m/s and 32.9 m3/s."""
    canal = Section(3.0, 6.0, 0.0, 0.0)
    assert manning_velocity_m_s(canal, np.array([1.6]), np.array([0.0025]), 0.015)[0] == pytest.approx(3.43, abs=0.01)
    assert flow_m3_s(canal, np.array([1.6]), np.array([0.0025]), 0.015)[0] == pytest.approx(32.9, abs=0.1)


def test_normal_depth_undoes_flow_and_says_where_a_section_runs_over():
    depth = normal_depth_m(V_CHANNEL, np.array([0.533, 1e3]), np.array([0.001, 0.001]), 0.035)
    assert depth[0] == pytest.approx(0.5, abs=0.003)
    assert np.isnan(depth[1])


@pytest.mark.parametrize(
    ("slope", "feet"), [(0.02, 4.0), (0.05, 4.0), (0.08, 3.0)]
)  # USDA-SCS TP-61 table 7, grass mixtures on easily eroded soil, ft/s
def test_permissible_velocities_of_grass_are_as_tabled(slope, feet):
    assert permissible_velocity_m_s(slope, grass=True, erodible=True) == pytest.approx(feet * 0.3048)
    assert permissible_velocity_m_s(slope, grass=True, erodible=False) == pytest.approx((feet + 1) * 0.3048)


def test_grass_isn_t_meant_for_channels_steeper_than_a_tenth():
    assert permissible_velocity_m_s(0.12, grass=True, erodible=False) == 0.0


def test_a_ridge_of_a_published_example_holds_its_rain():
    """A solved contour bund: 4 % slope, bunds 25 m apart, 10 cm of rain held: 0.447 m high (bank left out)."""
    section = behind_ridge(0.447, 0.0, 0.04)
    assert section.area_m2(np.array([0.447]))[0] == pytest.approx(25 * 0.10, rel=0.002)


@pytest.mark.parametrize(
    ("slope", "factor", "longest"), [(0.015, 0.6, 122), (0.04, 0.5, 91), (0.07, 0.5, 61), (0.10, 0.6, 36), (0.15, 0.7, 24), (0.18, 0.8, 18), (0.23, 0.9, 15)]
)  # fmt: skip
def test_contour_factors_are_those_of_the_handbook(slope, factor, longest):
    """USDA Agriculture Handbook 537, table 13 (from memory; lengths of 400 to 50 ft)."""
    assert contour_factor(np.array([slope]))[0] == factor
    assert longest_slope_m(slope) == longest


def test_off_contour_the_factor_runs_from_the_handbook_s_to_one():
    slope = np.full(3, 0.08)
    factor = off_grade_factor(slope, np.array([0.0, 0.02, 0.08]))
    assert factor.tolist() == pytest.approx([0.5, 0.75, 1.0])  # computed: 0.5 + 0.5 sqrt(1/4)
    assert contour_factor(np.array([0.3]))[0] == 1.0


def test_the_design_storm_is_reckoned_by_soil_group_curve_number_or_intake():
    base = {"rows": "store", "rain_mm": 100}
    assert design_runoff_mm(WaterRule(**base, soil_group="B", cover="row_crops")) == pytest.approx(41.14, abs=0.01)
    assert design_runoff_mm(WaterRule(**base, curve_number=75)) == pytest.approx(41.14, abs=0.01)
    assert design_runoff_mm(WaterRule(**base, infiltration_mm_h=2, rain_hours=10)) == 80.0


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"rows": "store"}, "rain_mm"),
        ({"rows": "store", "rain_mm": 80}, "exactly one of soil_group"),
        ({"rows": "store", "rain_mm": 80, "soil_group": "A", "curve_number": 70}, "exactly one of soil_group"),
        ({"rows": "lead"}, "intensity_mm_h"),
        ({"rows": "lead", "intensity_mm_h": 60}, "runoff_coefficient"),
    ],
)
def test_no_climate_or_soil_is_invented(given, words):
    with pytest.raises(ValidationError, match=words):
        WaterRule(**given)
