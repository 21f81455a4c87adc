"""Several files that are one survey: as if they stood in one, each read by itself, and every message names its file."""

import os
import shutil
from datetime import date
from itertools import pairwise

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pandas.testing import assert_frame_equal
from shapely import LineString
from stakeout_builders import EAST, NORTH
from test_inputs_survey import MARKS, NAMES, SITE, UTM, XY, frame_in, listed, table

from geoagro.crs import WGS84, transform_points
from geoagro.errors import CrsError, InputError
from geoagro.inputs.survey.file import read_survey
from geoagro.inputs.survey.several import labels_of, survey_name
from geoagro.values.survey import SurveyFile

DAY = date(2026, 6, 1)
HEAD = ["name", "status", "crop", "row", "bed", "lon", "lat", "position", "accuracy_m", "date", "photo", "note"]
"""Columns of the notes that the map saves, as they stand in its script."""


def read(*paths, **options):
    return read_survey(paths, SITE, **({"on": DAY, "what": "stakes"} | options))


def notes(count, seed=0):
    """Notes as the map saves them: numbers in order, some measured, some with a photo."""
    chance = np.random.default_rng(seed)
    xy = np.column_stack([EAST + chance.uniform(1, 99, count), NORTH + chance.uniform(1, 99, count)])
    lon, lat = transform_points(xy[:, 0], xy[:, 1], UTM, WGS84)
    told = {
        "name": [str(k) for k in range(1, count + 1)],
        "status": chance.choice(["alive", "dead", "missing", "replaced", "not looked at"], count),
        "crop": chance.choice(["apple", "currant"], count),
        "row": 1, "bed": "R001-T",
        "lon": [f"{v:.8f}" for v in lon], "lat": [f"{v:.8f}" for v in lat],
        "position": chance.choice(["design", "measured"], count),
        "accuracy_m": "", "date": [f"2026-06-{k % 9 + 1:02d}T08:00:00.000Z" for k in range(count)],
        "photo": np.where(np.arange(count) % 4 == 0, np.arange(count).astype(str), ""), "note": "",
    }  # fmt: skip
    return pd.DataFrame(told)[HEAD]


def told(survey, level=None):
    return [(f.where, str(f.text)) for f in survey.findings if level in (None, f.level)]


# as if they stood in one file


@settings(max_examples=15, deadline=None)
@given(count=st.integers(3, 40), seed=st.integers(0, 99), data=st.data())
def test_notes_saved_part_by_part_are_the_survey_that_their_one_file_would_be(tmp_path_factory, count, seed, data):
    folder = tmp_path_factory.mktemp("parts")
    whole = notes(count, seed)
    cuts = sorted(data.draw(st.sets(st.integers(1, count - 1), min_size=1, max_size=4)))
    ends = [0, *cuts, count]
    parts = [listed(folder, whole[a:b], f"plants_B{a}.csv") for a, b in pairwise(ends)]
    one = read(listed(folder, whole, "all.csv"), on=None, what=None)
    many = read(*parts, on=None, what=None)
    assert_frame_equal(many.points, one.points)
    assert (many.what, many.date, len(many.traces)) == (one.what, one.date, 0)
    assert [f.points for f in many.files] == np.diff(ends).tolist()
    assert [text for where, text in told(many) if where != "survey"] == [text for _, text in told(one)]


def test_one_file_in_a_list_is_what_the_file_alone_is(tmp_path):
    path = listed(tmp_path, table(status="dead"))
    assert read_survey([path], SITE, on=DAY, what="stakes") == read_survey(path, SITE, on=DAY, what="stakes")
    assert read_survey(str(path), SITE, on=DAY, what="stakes").name == "walk"


def test_a_survey_of_no_file_is_refused():
    with pytest.raises(InputError, match="no file is given"):
        read_survey([], SITE)


def test_waypoints_and_a_list_are_each_read_in_their_own_crs(tmp_path):
    x, y = transform_points(XY[:4, 0], XY[:4, 1], UTM, WGS84)
    frame = gpd.GeoDataFrame({"name": NAMES[:4]}, geometry=shapely.points(x, y), crs=WGS84)
    frame.to_file(tmp_path / "phone.gpx", driver="GPX", engine="pyogrio")
    rest = listed(tmp_path, table()[4:], "rtk.csv")
    survey = read(tmp_path / "phone.gpx", rest, what=None, known_marks=MARKS)
    assert survey.what == "stakes"
    assert survey.name == "phone_and_rtk"
    assert survey.points["name"].tolist() == NAMES
    assert survey.points["point"].tolist() == list(range(1, 10))
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY, abs=0.02)
    assert ("survey", "2 files taken as one survey, numbered through: phone.gpx (1-4), rtk.csv (5-9)") in told(survey)
    assert [where for where, text in told(survey) if "states no CRS" in text] == ["survey (rtk.csv)"]


def test_traces_of_several_files_are_numbered_through(tmp_path):
    for k in range(2):
        lines = [LineString([(EAST, NORTH + y), (EAST + 90, NORTH + y)]) for y in (20 + 30 * k, 25 + 30 * k)]
        gpd.GeoDataFrame(geometry=lines, crs=UTM).to_file(tmp_path / f"rows{k}.gpkg", engine="pyogrio")
    survey = read(tmp_path / "rows0.gpkg", tmp_path / "rows1.gpkg", what=None)
    assert (survey.what, survey.traces["trace"].tolist(), len(survey.points)) == ("rows", [1, 2, 3, 4], 0)
    assert survey.traces.geometry.iloc[2].coords[0][1] == NORTH + 50
    assert [(f.points, f.traces) for f in survey.files] == [(0, 2), (0, 2)]


# what must agree


def test_files_of_different_things_are_refused_unless_it_is_said_what_they_hold(tmp_path):
    stakes = listed(tmp_path, table(), "s.csv")
    plants = listed(tmp_path, table(name=[str(k) for k in range(9)]), "p.csv")
    with pytest.raises(InputError, match=r"survey \(p\.csv\): holds plants, but survey \(s\.csv\) stakes.*--what"):
        read(stakes, plants, what=None, known_marks=MARKS)
    assert len(read(stakes, plants, what="plants").points) == 18


def test_each_file_must_hold_what_the_survey_is_of(tmp_path):
    lines = [LineString([(EAST, NORTH + 20), (EAST + 90, NORTH + 20)])]
    gpd.GeoDataFrame(geometry=lines, crs=UTM).to_file(tmp_path / "track.gpkg", engine="pyogrio")
    with pytest.raises(InputError, match=r"survey \(track\.gpkg\): holds no points to take as stakes"):
        read(listed(tmp_path, table()), tmp_path / "track.gpkg")


def test_the_file_that_could_be_anything_is_asked_about(tmp_path):
    plain = listed(tmp_path, table(name=[f"post {k}" for k in range(9)]), "b.csv")
    with pytest.raises(InputError, match=r"survey \(b\.csv\): can't tell whether"):
        read(listed(tmp_path, table()[:4], "a.csv"), plain, what=None, known_marks=MARKS)


def test_the_day_is_the_median_of_all_dates_and_files_of_other_days_are_told(tmp_path):
    early = listed(tmp_path, table(date="2026-05-01")[:3], "a.csv")
    late = listed(tmp_path, table(time="2026-05-09T10:00:00Z")[3:], "b.csv")
    survey = read(early, late, on=None)
    assert survey.date == date(2026, 5, 9)
    assert ("survey", "the files are of 2026-05-01 to 2026-05-09; taken as of 2026-05-09") in told(survey)
    undated = listed(tmp_path, table()[:2], "c.csv")
    assert read(early, undated, on=None).date == date(2026, 5, 1)
    stated = read(early, late)
    assert stated.date == DAY
    assert not any("taken as of" in text for _, text in told(stated))
    with pytest.raises(InputError, match=r"survey \(c\.csv, d\.csv\): none of them has dates in it"):
        read(undated, listed(tmp_path, table()[2:], "d.csv"), on=None)


# the same twice


def test_a_file_named_twice_and_a_copy_of_one_are_refused(tmp_path):
    path = listed(tmp_path, table())
    with pytest.raises(InputError, match="is named twice"):
        read(path, tmp_path / "." / ".." / tmp_path.name / "walk.csv")
    shutil.copy(path, tmp_path / "walk (1).csv")
    with pytest.raises(InputError, match=r"survey \(walk \(1\)\.csv\): holds the very same as walk\.csv"):
        read(path, tmp_path / "walk (1).csv")


@pytest.mark.skipif(os.name == "nt", reason="making links needs rights there")
def test_a_link_to_a_file_is_that_file(tmp_path):
    path = listed(tmp_path, table())
    (tmp_path / "link.csv").symlink_to(path)
    with pytest.raises(InputError, match=r"survey \(link\.csv\): is named twice"):
        read(path, tmp_path / "link.csv")


def test_a_plant_noted_in_two_files_is_warned_of_with_the_files_that_hold_it(tmp_path):
    xy = XY + np.array([0, 0.5])
    files = [listed(tmp_path, table()[:3], "a.csv"), listed(tmp_path, table()[3:6], "b.csv")]
    again = listed(tmp_path, table(xy)[5:], "c.csv")
    survey = read(*files, again)
    warned = [(where, text) for where, text in told(survey, "warning") if "more than once" in text]
    assert [where for where, _ in warned] == ["survey (b.csv, c.csv)"]
    assert "1-050" in warned[0][1]


def test_points_on_one_place_and_points_far_off_name_their_files(tmp_path):
    off = table(XY[:4] + np.array([0, 0.005]))[3:]
    far = table(np.vstack([XY[4:], XY[8:] + 700]))
    survey = read(
        listed(tmp_path, table()[:4], "a.csv"), listed(tmp_path, off, "b.csv"), listed(tmp_path, far, "c.csv")
    )
    where = {text.split(":")[0][2:20]: where for where, text in told(survey, "warning")}
    assert where["point surveyed twi"] == "survey (a.csv, b.csv)"
    assert where["point lies more th"] == "survey (c.csv)"


def test_files_of_one_name_are_told_apart_by_their_folders(tmp_path):
    for k, name in enumerate("ab"):
        (tmp_path / name).mkdir()
        listed(tmp_path / name, table()[4 * k : 4 * k + 4])
    survey = read(tmp_path / "a" / "walk.csv", tmp_path / "b" / "walk.csv")
    assert [file.path for file in survey.files] == ["a/walk.csv", "b/walk.csv"]
    assert survey.name == "walk_and_1_more"
    for name in "ab":
        (tmp_path / name / "walk.gpkg").write_bytes(b"no such thing" if name == "b" else b"")
    with pytest.raises(InputError, match=r"a/walk\.gpkg is empty"):
        read(tmp_path / "b" / "walk.gpkg", tmp_path / "a" / "walk.gpkg")
    frame_in(UTM).to_file(tmp_path / "a" / "walk.gpkg", engine="pyogrio")
    with pytest.raises(InputError, match=r"survey \(b/walk\.gpkg\)"):
        read(tmp_path / "a" / "walk.gpkg", tmp_path / "b" / "walk.gpkg")


def test_shapefiles_of_the_same_places_with_other_states_are_no_copies(tmp_path):
    for k, status in enumerate(["alive", "dead"]):
        frame_in(UTM, status=status).to_file(tmp_path / f"day{k}.shp", engine="pyogrio")
    assert (tmp_path / "day0.shp").read_bytes() == (tmp_path / "day1.shp").read_bytes()
    survey = read(tmp_path / "day0.shp", tmp_path / "day1.shp")
    assert survey.points["status"].tolist() == ["planted"] * 9 + ["dead"] * 9


@settings(max_examples=50, deadline=None)
@given(
    st.sets(st.lists(st.sampled_from(["a", "b", "c.csv"]), min_size=1, max_size=4).map(tuple), min_size=1, max_size=6)
)
def test_no_two_files_have_one_label(tmp_path_factory, found):
    root = tmp_path_factory.getbasetemp()
    paths = [root.joinpath(*parts, "n.csv") for parts in sorted(found)]
    labels = labels_of(paths)
    assert len(set(labels)) == len(paths)
    assert all(path.as_posix().endswith(label) for path, label in zip(paths, labels, strict=True))


def test_a_survey_of_many_files_has_a_name_of_bearable_length(tmp_path):
    assert survey_name([tmp_path / f"{'n' * 90}{k}.csv" for k in range(3)]) == f"{'n' * 60}_and_2_more"


# files that can't be read, and mistakes in one of them


def test_the_file_that_cannot_be_read_is_named(tmp_path):
    good, bad = listed(tmp_path, table()[:4], "a.csv"), tmp_path / "b.gpx"
    bad.write_text("<gpx", encoding="utf-8")
    with pytest.raises(InputError, match=r"survey \(b\.gpx\): "):
        read(good, bad)
    with pytest.raises(InputError, match=r"c\.csv isn't there"):
        read(good, tmp_path / "c.csv")
    with pytest.raises(InputError, match=r"survey \(d\.csv\): status 'wilting' isn't known"):
        read(good, listed(tmp_path, table(status="wilting"), "d.csv"))


def test_a_mistake_is_named_with_its_file_and_undone_there_only(tmp_path):
    good, swapped = listed(tmp_path, table()[:4], "a.csv"), listed(tmp_path, table(XY[:, ::-1])[4:], "b.csv")
    with pytest.raises(InputError, match=r"survey \(b\.csv\): 0% of 5 points .*--repair swapped"):
        read(good, swapped)
    survey = read(good, swapped, repair="swapped")
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY)
    assert told(survey, "repair") == [("survey (b.csv)", "east and north are swapped; undone, as asked for.")]
    assert ("survey (a.csv)", "lies at the field as it stands; nothing undone") in told(survey, "note")


def test_files_with_mistakes_of_their_own_are_each_put_right(tmp_path):
    good, swapped = listed(tmp_path, table()[:3], "a.csv"), listed(tmp_path, table(XY[:, ::-1])[3:6], "b.csv")
    feet = listed(tmp_path, table(XY / 0.3048)[6:], "c.csv")
    with pytest.raises(InputError, match=r"survey \(c\.csv\): .*--repair feet"):
        read(good, swapped, feet, repair="swapped")
    survey = read(good, swapped, feet, repair=["swapped", "feet"])
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY, abs=1e-6)
    assert [where for where, _ in told(survey, "repair")] == ["survey (b.csv)", "survey (c.csv)"]


def test_a_repair_that_no_file_needs_and_two_that_fit_one_file_are_refused(tmp_path):
    good, feet = listed(tmp_path, table()[:3], "a.csv"), listed(tmp_path, table(XY / 0.3048)[3:], "b.csv")
    with pytest.raises(InputError, match=r"survey \(a\.csv, b\.csv\): repair 'swapped' brings no file to the field"):
        read(good, feet, repair=["feet", "swapped"])
    with pytest.raises(InputError, match=r"survey \(b\.csv\): repair 'feet' brings .* and so does 'us-feet'"):
        read(good, feet, repair=["feet", "us-feet"])


# CRS and layers


def test_a_crs_that_is_said_is_for_the_files_that_state_none(tmp_path):
    beside = np.column_stack(transform_points(XY[:, 0], XY[:, 1], UTM, UTM.from_epsg(32634)))
    degrees = np.column_stack(transform_points(XY[:, 0], XY[:, 1], UTM, WGS84))
    stated = gpd.GeoDataFrame({"name": NAMES[:3]}, geometry=shapely.points(degrees[:3]), crs=WGS84)
    stated.to_file(tmp_path / "a.geojson", driver="GeoJSON")
    lonlat = pd.DataFrame({"name": NAMES[3:6], "lon": degrees[3:6, 0], "lat": degrees[3:6, 1]})
    files = [tmp_path / "a.geojson", listed(tmp_path, lonlat, "b.csv"), listed(tmp_path, table(beside)[6:], "c.csv")]
    survey = read(*files, crs="EPSG:32634")
    assert survey.points[["x", "y"]].to_numpy() == pytest.approx(XY, abs=0.02)
    with pytest.raises(CrsError, match="states"):
        read(files[0], crs="EPSG:32634")


def test_a_layer_that_is_said_is_looked_for_in_every_file(tmp_path):
    for name, layer in (("a.gpkg", "points"), ("b.gpkg", "others")):
        frame = gpd.GeoDataFrame({"name": NAMES}, geometry=shapely.points(XY + len(layer)), crs=UTM)
        frame.to_file(tmp_path / name, layer=layer, engine="pyogrio")
    with pytest.raises(InputError, match=r"survey \(b\.gpkg\).*points"):
        read(tmp_path / "a.gpkg", tmp_path / "b.gpkg", layer="points")


def test_every_file_is_told_with_its_checksum(tmp_path):
    survey = read(listed(tmp_path, table()[:4], "a.csv"), listed(tmp_path, table()[4:], "b.csv"))
    assert [(f.path, f.points, f.traces, len(f.sha256)) for f in survey.files] == [
        ("a.csv", 4, 0, 64),
        ("b.csv", 5, 0, 64),
    ]
    assert all(isinstance(file, SurveyFile) for file in survey.files)
