"""Small things that a reader trips over: names told twice, years left out, light without a sun, labels off their bands."""

from dataclasses import replace

import builders
import geopandas as gpd
import matplotlib.dates as mdates
import numpy as np
import pandas as pd
import pytest
import season_cases as cases
import shapely
import shapely.affinity
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar
from matplotlib.figure import Figure
from page_texts import page_texts
from report_builders import laid_out

from geoagro.outputs.drawing.lines import draw_contours, draw_row_numbers, draw_zones, zone_name_boxes
from geoagro.outputs.drawing.page import Page
from geoagro.outputs.report.counts import _decimals
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pdf import write_report_pdf
from geoagro.outputs.season.chart_money import spread
from geoagro.outputs.season.chart_style import month_axis
from geoagro.outputs.season.ics import season_calendar
from geoagro.outputs.season.names import Names
from geoagro.outputs.season.report_data import report_data
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.values.report import ReportRule
from geoagro.values.rows import TreeRows

PLAN = cases.standard_plan()


def test_a_planting_named_like_its_crop_is_named_once():
    for planting in ("sweet_potato", "sweet potato", "Sweet Potato"):
        assert Names(PLAN, Words("en")).planting("sweet_potato", planting) == "Sweet potato"
    recipe = (("sweet_potato", "sweet potato", "vegetable", 0.6, 0, 15, 18),)
    plan = cases.plan(size_m=14, recipe=recipe)
    titles = [str(event["summary"]) for event in Calendar.from_ical(season_calendar(plan).to_ical()).walk("VEVENT")]
    assert any("Sweet potato" in title for title in titles)
    assert not any("(sweet potato)" in title for title in titles)


def test_orders_of_another_year_say_so():
    plan = cases.standard_plan()
    days = {"needed_on": pd.Timestamp("2027-12-20"), "needed_to": pd.Timestamp("2028-01-05")}
    orders = plan.orders.head(1).assign(**days)
    cells = report_data(replace(plan, orders=orders))["orders"]["rows"][0]
    assert "Dec 20, 2027\u2009–\u2009Jan 5, 2028" in cells


@pytest.mark.parametrize("months", [2, 5, 11, 14, 24, 39, 41, 60, 240])
def test_an_axis_of_months_or_years_names_more_than_one_of_them(months):
    figure = Figure()
    axes = figure.add_subplot()
    first = pd.Timestamp("2026-03-01")
    month_axis(axes, first, first + pd.DateOffset(months=months))
    figure.draw_without_rendering()
    low, high = axes.get_xlim()
    texts = [t.get_text() for t, at in zip(axes.get_xticklabels(), axes.get_xticks(), strict=True) if low <= at <= high]
    assert len({text for text in texts if text}) >= 2, texts
    years = {mdates.num2date(at).year for at in axes.get_xticks() if low <= at <= high}
    assert any(str(year) in text for year in years for text in texts)


@given(st.lists(st.floats(-1e5, 1e5), min_size=2, max_size=6))
def test_names_beside_bands_keep_apart_inside_the_chart_and_where_there_is_room_on_their_band(values):
    ends = np.sort(np.array(values))
    step, low, high = 5_000.0, -1.5e5, 1.5e5
    spots = spread(ends, step, low, high)
    assert (np.diff(spots) >= step - 1e-6).all()
    assert spots[0] >= low - 1e-6 and spots[-1] <= high + 1e-6
    if (np.diff(ends) >= step).all():
        assert spots == pytest.approx(ends)
    assert np.abs(spots - ends).max() <= step * (len(ends) - 1) + 1e-6


@pytest.mark.parametrize(("known", "told"), [(True, "Light falls"), (False, "Darker ground is steeper")])
def test_light_has_a_side_only_where_the_ground_has_heights(tmp_path, known, told):
    laid, terrain = laid_out(size_m=30.0), builders.plane(size_m=30.0, slope=0.1)
    if not known:
        terrain = replace(terrain, heights=None, smooth=None, aspect_deg=None)
    rule = ReportRule()
    account = account_for(laid, rule, terrain=terrain)
    write_report_pdf(account, rule, MapData(laid, terrain, Words("en")), tmp_path / "a.pdf")
    text = " ".join(page_texts(tmp_path / "a.pdf")[0].split())
    assert told in text
    assert ("Light falls" in text) == known


def test_no_row_number_stands_on_ground_kept_free():
    """Rows begin at a track along their western ends: numbers move to the other end."""
    rows = builders.straight_rows(spacing_m=4.5, size_m=90)
    west, south, east, north = rows.frame.total_bounds
    track = shapely.box(west - 12, south - 5, west, north + 5)
    page = Page(False, (west - 20, south - 20, east + 20, north + 20), 1.0)
    for keep_off, on_track in ((None, True), (track, False)):
        axes = Figure().add_subplot()
        draw_row_numbers(axes, TreeRows(rows.frame, 4.5, rows.frame.iloc[:0]), page, keep_off)
        places = [text.get_position() for text in axes.texts]
        assert len(places) >= 5
        assert any(shapely.Point(p).within(track) for p in places) == on_track


def test_no_row_number_lies_on_the_name_of_a_zone():
    """A strip of grass along the rows' western ends, its name right where their numbers would stand."""
    rows = builders.straight_rows(spacing_m=4.5, size_m=90)
    west, south, east, north = rows.frame.total_bounds
    strip = shapely.box(west - 8, south, west, north + 4.5)  # its middle is level with a row
    zones = gpd.GeoDataFrame({"zone": ["west edge"]}, geometry=[strip], crs=rows.frame.crs)
    page = Page(False, (west - 20, south - 20, east + 20, north + 20), 2.0)
    size = [(hi - lo) * page.mm_per_m / 25.4 for lo, hi in ((west - 20, east + 20), (south - 20, north + 20))]
    figure = Figure(figsize=size)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(west - 20, east + 20), ylim=(south - 20, north + 20))
    draw_zones(axes, zones)
    draw_row_numbers(axes, TreeRows(rows.frame, 4.5, rows.frame.iloc[:0]), page, zone_name_boxes(zones, page))
    figure.draw_without_rendering()
    name, *numbers = (shapely.box(*text.get_window_extent().extents) for text in axes.texts)
    assert axes.texts[0].get_text() == "west edge" and len(numbers) > 20
    assert not any(number.intersects(name) for number in numbers)
    assert zone_name_boxes(None, page).is_empty


@pytest.mark.parametrize("turned_deg", [0, 30, 60, 90, 135])
def test_both_ends_of_every_row_are_numbered_where_there_is_room_and_no_number_covers_another(turned_deg):
    rows = builders.straight_rows(spacing_m=4.5, size_m=90)
    rows.frame.geometry = rows.frame.geometry.rotate(turned_deg, origin=rows.frame.union_all().centroid)
    for mm_per_m, all_have_room in ((1.2, True), (0.9, turned_deg == 0), (0.3, False)):
        west, south, east, north = rows.frame.total_bounds + np.array([-20, -20, 20, 20])
        figure = Figure(figsize=((east - west) * mm_per_m / 25.4, (north - south) * mm_per_m / 25.4))
        axes = figure.add_axes((0, 0, 1, 1), xlim=(west, east), ylim=(south, north))
        draw_row_numbers(
            axes, TreeRows(rows.frame, 4.5, rows.frame.iloc[:0]), Page(False, (west, south, east, north), mm_per_m)
        )
        figure.draw_without_rendering()
        told = [text.get_text() for text in axes.texts]
        both_ends = sorted(told) == sorted([str(row) for row in rows.frame["row"]] * 2)
        assert both_ends if all_have_room else told, (mm_per_m, told)
        boxes = [shapely.box(*text.get_window_extent().extents) for text in axes.texts]
        inked = [shapely.affinity.scale(box, 1.0, 0.7) for box in boxes]  # a line of type is higher than its digits
        assert not any(a.intersects(b) for k, a in enumerate(inked) for b in inked[:k]), (mm_per_m, told)


def test_small_negative_numbers_are_written_as_zero():
    words = Words("en")
    assert words.hectares(-0.2) == "0.00"
    assert words.number(-1.42e-14, 3) == "0.000"


@pytest.mark.parametrize(("language", "told"), [("en", "422.5"), ("fr", "422,5"), ("pt_BR", "422,5")])
def test_heights_on_contours_are_written_as_the_language_writes_numbers(language, told):
    lines = [shapely.LineString([(0, y), (100, y)]) for y in (0, 50)]
    contours = gpd.GeoDataFrame({"elevation_m": [420.0, 422.5], "is_index": [True, True]}, geometry=lines)
    axes = Figure().add_subplot()
    draw_contours(axes, contours, Page(False, (0.0, 0.0, 100.0, 100.0), 2.0), Words(language))
    assert told in [text.get_text() for text in axes.texts]


@pytest.mark.parametrize(
    ("value", "decimals"), [(np.nan, 0), (np.inf, 0), (0.0, 0), (883.0, 0), (4.646, 2), (58.88, 1), (883.2, 0)]
)
def test_measures_of_rows_have_three_digits_and_none_has_none(value, decimals):
    assert _decimals(float(value), "m") == decimals
