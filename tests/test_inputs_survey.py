"""Surveys in every format, and the mistakes that people make with coordinates."""

from datetime import date

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from builders import UTM, square_site
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS
from shapely import LineString
from stakeout_builders import EAST, NORTH

from geoagro.crs import WGS84, transform_points
from geoagro.errors import CrsError, InputError
from geoagro.inputs.survey.file import read_survey
from geoagro.inputs.survey.fit import Known

SITE = square_site()
DAY = date(2026, 4, 30)
XY = np.column_stack([EAST + np.arange(5, 95, 10.0), NORTH + 20 + np.arange(9.0)])
NAMES = [f"1-{k:03d}" for k in range(0, 90, 10)]
MARKS = frozenset(NAMES)


def table(xy=XY, **columns):
    return pd.DataFrame({"name": NAMES[: len(xy)], "east": xy[:, 0], "north": xy[:, 1]} | columns)


def listed(tmp_path, frame, name="walk.csv", **options):
    path = tmp_path / name
    frame.to_csv(path, index=False, float_format="%.8f", **options)
    return path


def read(path, **options):
    return read_survey(path, SITE, **({"on": DAY, "what": "stakes"} | options))


def frame_in(crs, **columns):
    x, y = transform_points(XY[:, 0], XY[:, 1], UTM, crs)
    return gpd.GeoDataFrame({"name": NAMES} | columns, geometry=shapely.points(x, y), crs=crs)


@pytest.mark.parametrize("name", ["walk.gpkg", "walk.geojson", "walk.kml", "walk.gpx", "walk.shp"])
def test_points_come_from_any_vector_format(tmp_path, name):
    path = tmp_path / name
    frame = frame_in(UTM if name.endswith(("gpkg", "shp")) else WGS84)
    driver = {"kml": "LIBKML", "gpx": "GPX"}.get(name.split(".")[1])
    frame = frame.rename(columns={"name": "Name"}) if driver == "LIBKML" else frame
    frame.to_file(path, driver=driver, engine="pyogrio")
    survey = read(path)
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY, abs=0.02)
    assert survey.points["name"].tolist() == NAMES
    assert survey.findings == ()


def test_a_list_with_names_and_status_is_read(tmp_path):
    status = ["planted", "alive", "OK", "dead", "died", "missing", "", "gone", ""]
    survey = read(listed(tmp_path, table(status=status)))
    assert survey.points["status"].tolist() == [
        *["planted"] * 3, *["dead"] * 2, "missing", "", "missing", "",
    ]  # fmt: skip
    assert survey.points["x"].tolist() == pytest.approx(XY[:, 0].tolist())


def test_a_point_file_without_header_is_northing_before_easting(tmp_path):
    frame = pd.DataFrame({"p": NAMES, "n": XY[:, 1], "e": XY[:, 0], "z": 104.0, "d": "dead plant"})
    survey = read(listed(tmp_path, frame, header=False))
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY)
    assert survey.points["z"].tolist() == [104.0] * 9
    assert set(survey.points["status"]) == {"dead"}
    assert "no header" in survey.findings[0].text


def test_a_point_file_without_header_says_whose_crs_it_was_taken_in_unless_it_is_given(tmp_path):
    other = "EPSG:32632"
    x, y = transform_points(XY[:, 0], XY[:, 1], UTM, CRS.from_user_input(other))
    path = tmp_path / "walk.txt"
    for (east, north), crs, taken in ((XY.T, None, True), ((x, y), other, False)):
        lines = [f"{k},{n:.4f},{e:.4f},0.0,{NAMES[k]}" for k, (e, n) in enumerate(zip(east, north, strict=True))]
        path.write_text("\n".join(lines))
        survey = read(path, crs=crs)
        assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY, abs=0.01)
        told = [(f.where, str(f.text)) for f in survey.findings if "states no CRS" in str(f.text)]
        assert bool(told) == taken
        assert all(where == "survey (walk.txt)" and "32633" in text for where, text in told)


def test_heights_of_points_in_space_are_read_from_the_points(tmp_path):
    high = shapely.points(np.column_stack([XY, 100.0 + np.arange(9)]))
    gpd.GeoDataFrame({"name": NAMES}, geometry=high, crs=UTM).to_file(tmp_path / "a.gpkg", engine="pyogrio")
    assert read(tmp_path / "a.gpkg").points["z"].tolist() == pytest.approx(100.0 + np.arange(9))


def test_degrees_in_a_list_need_no_crs(tmp_path):
    lon, lat = transform_points(XY[:, 0], XY[:, 1], UTM, WGS84)
    survey = read(listed(tmp_path, pd.DataFrame({"name": NAMES, "lon": lon, "lat": lat})))
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY, abs=0.01)


def test_lines_are_traces_of_rows(tmp_path):
    lines = [LineString([(EAST, NORTH + y), (EAST + 90, NORTH + y)]) for y in (20, 25)]
    gpd.GeoDataFrame({"name": ["a", "b"]}, geometry=lines, crs=UTM).to_file(tmp_path / "rows.gpkg", engine="pyogrio")
    survey = read_survey(tmp_path / "rows.gpkg", SITE, on=DAY)
    assert survey.what == "rows"
    assert survey.traces["name"].tolist() == ["a", "b"]
    assert survey.traces.geometry.length.tolist() == pytest.approx([90, 90])


def walked(path):
    """GPX of a hand-held: two waypoints, a track and a route."""

    def points(tag, xy):
        lon, lat = transform_points(xy[:, 0], xy[:, 1], UTM, WGS84)
        return "".join(f'<{tag} lat="{b:.9f}" lon="{a:.9f}"></{tag}>' for a, b in zip(lon, lat, strict=True))

    track, route = f"<trk><trkseg>{points('trkpt', XY[:4])}</trkseg></trk>", f"<rte>{points('rtept', XY[4:7])}</rte>"
    head = '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
    path.write_text(f"{head}{points('wpt', XY[:2])}{route}{track}</gpx>")
    return path


@pytest.mark.parametrize(
    ("layer", "points", "starts"), [(None, 2, [0, 4]), ("tracks", 0, [0]), ("routes", 0, [4]), ("waypoints", 2, [])]
)
def test_waypoints_tracks_and_routes_of_one_file_are_all_read_or_only_what_is_said(tmp_path, layer, points, starts):
    what = "stakes" if layer == "waypoints" else "rows"
    survey = read(walked(tmp_path / "walk.gpx"), what=what, layer=layer)
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY[:points], abs=0.02)
    found = [line.coords[0] for line in survey.traces.geometry]
    assert np.array(found).reshape(-1, 2) == pytest.approx(XY[starts], abs=0.02)


def test_a_layer_that_no_gpx_has_is_refused_with_those_that_it_has(tmp_path):
    with pytest.raises(InputError, match="waypoints, tracks or routes"):
        read(walked(tmp_path / "walk.gpx"), layer="points")


@pytest.mark.parametrize(
    ("columns", "options", "expected"),
    [
        ({}, {"known_marks": MARKS}, "stakes"),
        ({"crop": "apple"}, {}, "plants"),
        ({"name": [str(k) for k in range(9)]}, {}, "plants"),
    ],
)
def test_what_was_surveyed_is_told_from_names_and_crops(tmp_path, columns, options, expected):
    assert read(listed(tmp_path, table(**columns)), what=None, **options).what == expected


def test_points_that_could_be_anything_are_asked_about(tmp_path):
    with pytest.raises(InputError, match="--what stakes or --what plants"):
        read(listed(tmp_path, table()), what=None)


def test_the_day_comes_from_the_file_or_is_asked_for(tmp_path):
    path = listed(tmp_path, table(date="2026-03-01"))
    assert read(path, on=None).date == date(2026, 3, 1)
    assert read(path).date == DAY
    with pytest.raises(InputError, match="--date 2026-04-30"):
        read(listed(tmp_path, table(), "b.csv"), on=None)


def test_places_without_a_day_do_not_hide_the_day_of_the_others(tmp_path):
    days = ["", "2026-03-01", "soon", "2026-03-01", "", "", "", "", ""]
    assert read(listed(tmp_path, table(date=days)), on=None).date == date(2026, 3, 1)
    empty = [""] * len(XY)
    assert read(listed(tmp_path, table(date=empty, time=days), "b.csv"), on=None).date == date(2026, 3, 1)


def test_an_unknown_status_is_refused(tmp_path):
    with pytest.raises(InputError, match="status 'wilting' isn't known"):
        read(listed(tmp_path, table(status="wilting")))


# mistakes


def mistaken(tmp_path, xy, crs=None):
    return listed(tmp_path, table(xy)), {"crs": crs} if crs else {}


FOOT = 0.3048
ZONE_34 = np.column_stack(transform_points(XY[:, 0], XY[:, 1], UTM, UTM.from_epsg(32634)))


@pytest.mark.parametrize(
    ("xy", "crs", "repair"),
    [
        (XY[:, ::-1], None, "swapped"),
        (XY / FOOT, None, "feet"),
        (XY * 3937 / 1200, None, "us-feet"),
        (XY, "EPSG:32632", "zone"),
        (ZONE_34, None, "zone"),
        (XY, "EPSG:32733", "zone"),
        (np.column_stack(transform_points(XY[:, 0], XY[:, 1], UTM, WGS84)), None, "degrees"),
        (np.column_stack(transform_points(XY[:, 0], XY[:, 1], UTM, WGS84)) * [-1, 1], "EPSG:4326", "east-west"),
        (np.column_stack(transform_points(XY[:, 0], XY[:, 1], UTM, WGS84)) * [1, -1], "EPSG:4326", "north-south"),
        (XY, "EPSG:4326", "working"),
    ],
)
def test_a_common_mistake_is_named_and_undone_only_when_asked(tmp_path, xy, crs, repair):
    path, options = mistaken(tmp_path, xy, crs)
    with pytest.raises((InputError, CrsError), match=f"--repair {repair}"):
        read(path, **options)
    survey = read(path, repair=repair, **options)
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY, abs=0.05)
    assert [f.level for f in survey.findings if "undone" in f.text] == ["repair"]


@pytest.mark.parametrize("named", [True, False])
@pytest.mark.parametrize(("unit", "metres"), [("feet", 0.3048), ("us-feet", 1200 / 3937)])
def test_feet_and_us_survey_feet_are_told_apart_by_places_of_the_design(tmp_path, named, unit, metres):
    """They differ by 2 parts in a million: 10 m at this northing (legal definitions of both feet)."""
    chance = np.random.default_rng(1)
    xy = XY + chance.uniform(-2, 2, XY.shape)
    path = listed(tmp_path, pd.DataFrame({"name": NAMES, "east": xy[:, 0] / metres, "north": xy[:, 1] / metres}))
    names = NAMES if named else [f"other {k}" for k in range(9)]
    with pytest.raises(InputError, match=rf"0\.00 m with {unit}, .* So it is {unit}\."):
        read(path, places=lambda: Known(np.array(names, dtype=object), xy))


def test_a_tally_by_name_needs_no_coordinates(tmp_path):
    path = listed(
        tmp_path, pd.DataFrame({"plant": range(1, 5), "status": ["ok", "replanted", "not looked at", "dead"]})
    )
    survey = read(path, what=None)
    assert survey.what == "plants"
    assert survey.points["status"].tolist() == ["planted", "replaced", "not looked at", "dead"]
    assert survey.points["x"].isna().all()
    assert not survey.points["far"].any()
    assert "4 lines taken by name" in survey.findings[0].text
    with pytest.raises(InputError, match="neither coordinates"):
        read(listed(tmp_path, pd.DataFrame({"status": ["ok"], "note": [1]})))


@pytest.mark.parametrize("name", ["book.csv", "book.geojson"])
def test_a_position_that_is_only_the_designs_is_no_measurement(tmp_path, name):
    lon, lat = transform_points(XY[:, 0], XY[:, 1], UTM, WGS84)
    columns = {"name": NAMES, "position": ["design"] * 4 + ["measured"] * 5}
    path = tmp_path / name
    if name.endswith("csv"):
        pd.DataFrame(columns | {"lon": lon, "lat": lat}).to_csv(path, index=False)
    else:
        gpd.GeoDataFrame(columns, geometry=shapely.points(lon, lat), crs=WGS84).to_file(path, driver="GeoJSON")
    survey = read(path)
    assert survey.points["x"].isna().tolist() == [True] * 4 + [False] * 5
    assert survey.points.geometry.is_empty.tolist() == [True] * 4 + [False] * 5


def test_what_is_not_so_is_not_taken_for_so(tmp_path):
    with pytest.raises(InputError, match="status 'not alive' isn't known"):
        read(listed(tmp_path, table(status="not alive")))


def test_a_survey_of_another_field_is_not_explained_away(tmp_path):
    with pytest.raises(InputError, match=r"0% of 9 points .* don't explain it"):
        read(listed(tmp_path, table(XY + 5000.0)))


def test_a_repair_that_does_not_help_is_refused(tmp_path):
    with pytest.raises(InputError, match="repair 'feet' doesn't bring"):
        read(listed(tmp_path, table(XY[:, ::-1])), repair="feet")


def test_names_used_twice_are_told(tmp_path):
    names = [*NAMES[:-1], NAMES[0]]
    survey = read(listed(tmp_path, table(name=names)))
    assert "used more than once: 1-000" in survey.findings[-1].text


def test_points_far_outside_are_told_and_marked(tmp_path):
    xy = XY.copy()
    xy[4] += 700
    survey = read(listed(tmp_path, table(xy)))
    assert survey.points["far"].tolist() == [k == 4 for k in range(9)]
    assert "more than 100 m outside the field: 1-040" in survey.findings[-1].text


def test_a_place_surveyed_twice_is_told(tmp_path):
    xy = XY.copy()
    xy[5] = xy[4] + 0.01
    assert "surveyed twice at one place: 1-040" in read(listed(tmp_path, table(xy))).findings[-1].text


@settings(max_examples=8, deadline=None)
@given(share=st.floats(0.55, 1.0), seed=st.integers(0, 999))
def test_a_survey_that_lies_mostly_in_the_field_is_taken_as_it_stands(tmp_path_factory, share, seed):
    chance = np.random.default_rng(seed)
    xy = np.column_stack([EAST + chance.uniform(0, 100, 40), NORTH + chance.uniform(0, 100, 40)])
    away = chance.permutation(40)[: int(40 * (1 - share))]
    xy[away] += 5000
    path = tmp_path_factory.mktemp("s") / "p.csv"
    pd.DataFrame({"east": xy[:, 0], "north": xy[:, 1]}).to_csv(path, index=False)
    assert read(path).points["far"].sum() == len(away)
