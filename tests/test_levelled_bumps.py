"""Bumps that will be levelled: grades are judged without them, and what that takes for granted is said."""

import numpy as np
import pytest
from builders import EAST, NORTH, UTM
from landforms import all_of
from shapely import MultiPolygon, box

from geoagro.rows.layout import lay_rows
from geoagro.rows.quality import chord_grade
from geoagro.rows.sampling import sample_rows
from geoagro.terrain.build import build_terrain
from geoagro.values.design import RowRule
from geoagro.values.grid import Grid
from geoagro.values.terrain import JUDGE_SIGMA_M, GroundSource, judging_scale

FIELD = MultiPolygon([box(EAST, NORTH, EAST + 80, NORTH + 60)])


def surveyed(height):
    grid = Grid(np.zeros((220, 260)), EAST - 25, NORTH + 85, 0.5, UTM)
    x, y = np.meshgrid(grid.x - EAST, grid.y - NORTH)
    heights = grid.with_values(100 + 0.1 * y + height(x, y))
    return GroundSource(heights=heights, contours=None, slope=None, aspect_deg=None, description="invented")


def bumps(x, y):
    """Half a metre high, 18 m long."""
    return 0.25 * np.sin(2 * np.pi * x / 18) * np.cos(2 * np.pi * y / 25)


@pytest.mark.parametrize("length_m", [9.0, 15.0, 25.0])
def test_a_wave_as_long_as_what_will_be_levelled_keeps_half_of_its_height(length_m):
    """A Gaussian of standard deviation s passes exp(-2 pi^2 s^2 / L^2) of a wave (its Fourier transform, from memory)."""
    terrain = build_terrain(
        surveyed(lambda x, y: 0.2 * np.sin(2 * np.pi * x / length_m)), FIELD, spacing_m=4.5, levelled_m=length_m
    )
    x = EAST + 40 + np.linspace(0, length_m, 200)
    z = terrain.judged.sample(x, np.full(200, NORTH + 30.0))
    assert np.ptp(z) == pytest.approx(0.2, rel=0.02)
    assert np.ptp(terrain.heights.sample(x, np.full(200, NORTH + 30.0))) == pytest.approx(0.4, rel=0.02)


def test_without_levelling_grades_are_judged_on_the_survey_smoothed_by_one_and_a_half_metres():
    assert judging_scale(0.0) == judging_scale(8.0) == JUDGE_SIGMA_M == 1.5
    assert judging_scale(8.1) > 1.5
    plain, asked = (
        build_terrain(surveyed(bumps), FIELD, spacing_m=4.5, **given) for given in ({}, {"levelled_m": 8.0})
    )
    np.testing.assert_array_equal(plain.judged.values, asked.judged.values)
    np.testing.assert_array_equal(plain.smooth.values, asked.smooth.values)


def test_no_surface_that_rows_are_laid_on_is_rougher_than_the_one_they_are_judged_on():
    terrain = build_terrain(surveyed(bumps), FIELD, spacing_m=4.5, smoothing_m=0.5, levelled_m=20.0)
    assert terrain.smoothing_m == pytest.approx(judging_scale(20.0))


def laid(levelled_m):
    rule = RowRule(levelled_m=levelled_m, thorough=False, max_grade_pct=2, preferred_grade_pct=1)
    terrain = build_terrain(surveyed(bumps), FIELD, spacing_m=4.5, levelled_m=levelled_m)
    return lay_rows(all_of(FIELD), terrain, rule), terrain


def test_nothing_is_said_of_bumps_so_short_that_they_are_smoothed_out_as_it_is():
    rows, _ = laid(8.0)
    assert not [finding for finding in rows.findings if finding.where == "rows.levelled_m"]


def test_bumps_that_will_be_levelled_end_no_rows_and_what_that_takes_for_granted_is_said():
    (bumpy, _), (rows, terrain) = laid(0.0), laid(20.0)
    assert not [finding for finding in bumpy.findings if finding.where == "rows.levelled_m"]
    assert rows.frame.geometry.length.sum() > 1.5 * bumpy.frame.geometry.length.sum()
    lines = list(rows.frame.geometry)
    samples = sample_rows(lines, 0.25)
    assert chord_grade(lines, samples, terrain.judged).max() <= 0.02 + 1e-3
    steep = chord_grade(lines, samples, terrain.heights) > 0.02
    (told,) = [finding for finding in rows.findings if finding.where == "rows.levelled_m"]
    assert told.level == "warning"
    assert "pipes and cables" in told.text
    assert told.text.values["length"] == 20.0
    assert told.text.values["share"] == pytest.approx(100 * np.average(steep, weights=samples.weight), abs=2)
    assert told.text.values["share"] > 5
