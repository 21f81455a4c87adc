"""From the layout's file to stakes, survey and account, as a user runs it."""

import hashlib
import shutil
from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import rasterio
from builders import UTM, plane
from click.testing import CliRunner
from outputs_builders import small_layout

from geoagro.cli.main import group
from geoagro.errors import GeoagroError
from geoagro.inputs.design.file import read_design
from geoagro.inputs.laid.evidence import read_evidence
from geoagro.inputs.laid.laid_out import read_survey_counts
from geoagro.outputs.layout.files import write_layout

DESIGN = """
name: Invented field
inputs:
  boundary: {file: a.gpkg}
  elevation: {file: b.tif}
rows: {smoothing_m: 0}
stakeout: {receiver: dgnss}
output: {folder: result}
"""


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory):
    """A written layout beside its design and elevation, as `geoagro layout` leaves it."""
    folder = tmp_path_factory.mktemp("laid out")
    layout = small_layout()
    (folder / "design.yaml").write_text(DESIGN)
    gpd.GeoDataFrame(geometry=[layout.site.boundary], crs=UTM).to_file(folder / "a.gpkg", engine="pyogrio")
    heights = plane(size_m=60).heights
    with rasterio.open(
        folder / "b.tif", "w", driver="GTiff", height=heights.values.shape[0], width=heights.values.shape[1], count=1,
        dtype="float64", crs=UTM.to_wkt(), transform=rasterio.Affine(1, 0, heights.west, 0, -1, heights.north),
    ) as file:  # fmt: skip
        file.write(heights.values, 1)
    write_layout(layout, folder / "result")
    return folder


@pytest.fixture
def field(laid_out, tmp_path):
    """A copy of it for each test."""
    return shutil.copytree(laid_out, tmp_path / "field")


def run(*arguments):
    result = CliRunner().invoke(group, [str(a) for a in arguments])
    if isinstance(result.exception, GeoagroError):
        return 1, f"{result.output}{result.exception}"
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result.exit_code, result.output


def test_stakes_are_set_surveyed_and_accounted_for(field):
    design = field / "design.yaml"
    code, text = run("stakes", design)
    assert code == 0
    assert "stakes," in text
    marks = pyogrio.read_dataframe(field / "result" / "stakes" / "stakes.gpkg", layer="stakes")
    assert marks["z"].notna().all()
    seen = marks[marks["row"] != 3]
    walk = pd.DataFrame(
        {"stake": seen["stake"], "east": seen["x"] + 0.1, "north": seen["y"] - 0.2, "date": "2026-05-02"}
    )
    walk.to_csv(field / "walk.csv", index=False)
    code, text = run("survey", design, field / "walk.csv")
    assert code == 0
    assert f"{len(seen)} of {len(marks)} stakes found; off by 0.22 m" in text
    assert "1 row missing in the survey: 3" in text
    built = field / "result" / "surveys" / "2026-05-02_walk.gpkg"
    table = pyogrio.read_dataframe(built, layer="stakes_asbuilt")
    assert table.loc[table["found"] == 1, "across_m"].to_numpy() == pytest.approx(-0.2, abs=1e-6)
    before = built.read_bytes()
    assert run("survey", design, field / "walk.csv")[0] == 0
    assert built.read_bytes() == before
    assert (built.parent / "2026-05-02_walk_2.gpkg").exists()


def test_plants_are_counted_in_plots_and_the_layout_stays_as_it_was(field):
    design = field / "design.yaml"
    layout = (field / "result" / "layout.gpkg").read_bytes()
    code, text = run("sample-plots", design, "--precision-pct", "10", "--radius", "4")
    assert code == 0
    assert "plots. Laid out:" in text
    plants = small_layout().plants.frame
    alive = np.random.default_rng(4).uniform(size=len(plants)) < 0.75
    frame = plants[alive].rename(columns={"plant": "id"})[["id", "crop", "geometry"]]
    frame.to_file(field / "count.gpkg", engine="pyogrio")
    code, text = run("survey", design, field / "count.gpkg", "--date", "2026-06-01", "--covers", "plots")
    assert code == 0
    assert "plots, Wilson with design effect" in text
    built = field / "result" / "surveys" / "2026-06-01_count.gpkg"
    states = pyogrio.read_dataframe(built, layer="plants_asbuilt")["state"].value_counts()
    assert set(states.index) == {"alive", "missing", "not_surveyed"}
    assert len(pyogrio.read_dataframe(built, layer="replant")) == states["missing"]
    assert (field / "result" / "layout.gpkg").read_bytes() == layout


def test_stakes_without_a_layout_say_what_to_run(field):
    (field / "result" / "layout.gpkg").unlink()
    code, text = run("stakes", field / "design.yaml")
    assert code == 1
    assert "Run `geoagro layout DESIGN` first" in text


def test_a_survey_of_stakes_before_any_are_set_says_what_to_run(field):
    pd.DataFrame({"stake": ["1-000"], "x": [500_010.0], "y": [5_000_010.0]}).to_csv(field / "w.csv", index=False)
    code, text = run("survey", field / "design.yaml", field / "w.csv", "--what", "stakes", "--date", "2026-05-02")
    assert code == 1
    assert "Run `geoagro stakes DESIGN` first" in text


def test_stakes_of_an_earlier_version_are_kept_and_their_new_names_told(field):
    design, path = field / "design.yaml", field / "result" / "stakes" / "stakes.gpkg"
    run("stakes", design, "--no-heights")
    stakes = pyogrio.read_dataframe(path, layer="stakes")
    for layer, was, told in [
        ("marks", "stake", "layer marks is now stakes"),
        ("stakes", "mark", "column mark is now stake"),
    ]:
        path.unlink()
        pyogrio.write_dataframe(stakes.rename(columns={"stake": was}), path, layer=layer)
        before = path.read_bytes()
        code, text = run("stakes", design, "--no-heights")
        assert code == 1
        assert told in " ".join(text.split())
        assert path.read_bytes() == before


def test_swapped_coordinates_are_told_and_undone_on_request(field):
    design = field / "design.yaml"
    run("stakes", design, "--no-heights")
    marks = pyogrio.read_dataframe(field / "result" / "stakes" / "stakes.gpkg", layer="stakes")
    assert marks["z"].isna().all()
    swapped = pd.DataFrame({"stake": marks["stake"], "east": marks["y"], "north": marks["x"]})
    swapped.to_csv(field / "s.csv", index=False)
    code, text = run("survey", design, field / "s.csv", "--date", "2026-05-02")
    assert code == 1
    assert "--repair swapped" in text
    code, text = run("survey", design, field / "s.csv", "--date", "2026-05-02", "--repair", "swapped")
    assert code == 0
    assert "repair: survey (s.csv): east and north are swapped; undone, as asked for." in text


def test_a_design_changed_since_the_layout_is_told(field):
    design = field / "design.yaml"
    design.write_text(DESIGN.replace("smoothing_m: 0", "smoothing_m: 0, spacing_m: 6"))
    code, text = run("stakes", design, "--no-heights")
    assert code == 0
    assert "rows of the design changed since the layout was written" in text


def test_stakes_of_rows_that_have_moved_are_not_compared(field):
    design = field / "design.yaml"
    run("stakes", design, "--no-heights")
    marks = pyogrio.read_dataframe(field / "result" / "stakes" / "stakes.gpkg", layer="stakes")
    pd.DataFrame({"stake": marks["stake"], "x": marks["x"], "y": marks["y"]}).to_csv(field / "w.csv", index=False)
    layout = small_layout()
    moved = layout.rows.frame.set_geometry(layout.rows.frame.translate(0, 1.0))
    write_layout(replace(layout, rows=replace(layout.rows, frame=moved)), field / "result")
    code, text = run("survey", design, field / "w.csv", "--date", "2026-05-02")
    assert code == 1
    assert "Run `geoagro stakes DESIGN` again" in text


def test_a_tally_by_number_is_counted_written_and_listed_for_planting_again(field):
    plants = small_layout().plants.frame
    status = ["dead" if k % 10 == 0 else "replaced" if k % 10 == 5 else "alive" for k in plants["plant"]]
    pd.DataFrame({"plant": plants["plant"], "status": status}).to_csv(field / "tally.csv", index=False)
    code, text = run("survey", field / "design.yaml", field / "tally.csv", "--date", "2026-06-01")
    assert code == 0, text
    assert "taken by name" in text
    assert "To plant again: " in text
    assert "plants 10, 20, 30" in text
    assert "nan%" not in text
    surveys = field / "result" / "surveys"
    points = pyogrio.read_dataframe(surveys / "2026-06-01_tally.gpkg", layer="survey_points")
    assert len(points) == len(plants)
    listed = pd.read_csv(surveys / "2026-06-01_tally_replant.csv")
    assert listed["plant"].tolist() == [k for k in plants["plant"] if k % 10 == 0]


def test_who_surveyed_with_what_and_photos_noted_in_the_field_stand_in_the_report(field):
    plants = small_layout().plants.frame
    tally = pd.DataFrame({"plant": plants["plant"], "status": "alive", "x": plants["x"], "y": plants["y"]})
    tally = tally.assign(photo=["31" if k == 3 else "" for k in range(len(tally))], note="")
    tally.to_csv(field / "tally.csv", index=False)
    asked = ("--date", "2026-06-01", "--by", "C. Counter", "--receiver", "invented receiver")
    code, text = run("survey", field / "design.yaml", field / "tally.csv", *asked)
    assert code == 0, text
    surveys = field / "result" / "surveys"
    seen = read_survey_counts(surveys)[0]
    assert (seen.day, seen.by, seen.receiver) == ("2026-06-01 tally", "C. Counter", "invented receiver")
    design = read_design(field / "design.yaml")
    files = sorted(surveys.glob("*.gpkg"))
    photos = read_evidence(design, boundary=design.inputs.boundary, crs=UTM, surveys=files).photos
    number = str(plants["plant"].iloc[3])
    assert photos[["photo", "shows", "source"]].to_numpy().tolist() == [["31", number, "2026-06-01 tally"]]
    assert photos[["x", "y"]].to_numpy() == pytest.approx(plants[["x", "y"]].to_numpy()[3:4], abs=1e-6)


def test_a_tally_in_several_files_is_counted_as_one_and_every_file_is_kept_with_its_checksum(field):
    design, surveys = field / "design.yaml", field / "result" / "surveys"
    plants = small_layout().plants.frame
    tally = pd.DataFrame(
        {"plant": plants["plant"], "status": ["dead" if k % 10 == 0 else "alive" for k in plants["plant"]]}
    )
    tally.to_csv(field / "all.csv", index=False)
    parts = [field / f"plants_{name}.csv" for name in ("A1", "A2", "B1")]
    for part, path in zip(np.array_split(np.arange(len(tally)), 3), parts, strict=True):
        tally.iloc[part].to_csv(path, index=False)
    asked = ("--date", "2026-06-01")
    code, whole = run("survey", design, field / "all.csv", *asked)
    assert code == 0, whole
    code, text = run("survey", design, *parts, *asked)
    assert code == 0, text
    counted = [line for line in whole.splitlines() if line.startswith(("all crops:", "To plant again:"))]
    assert len(counted) == 2
    assert [line for line in text.splitlines() if line in counted] == counted
    third = len(tally) - len(tally) // 3 + 1
    assert f"plants_B1.csv ({third}-{len(tally)})" in text
    built = surveys / "2026-06-01_plants_A1_and_2_more.gpkg"
    for layer in ("survey_points", "plants_asbuilt", "survival", "areas_asbuilt", "replant_counts"):
        one, many = (pyogrio.read_dataframe(path, layer=layer) for path in (surveys / "2026-06-01_all.gpkg", built))
        pd.testing.assert_frame_equal(pd.DataFrame(many), pd.DataFrame(one))
    about = pyogrio.read_dataframe(built, layer="survey_about")
    files = about[about["item"] == "file"]["value"].tolist()
    sums = about[about["item"] == "file_sha256"]["value"].tolist()
    assert files == [path.name for path in parts]
    assert sums == [hashlib.sha256(path.read_bytes()).hexdigest() for path in parts]
    assert about[about["item"] == "file_points"]["value"].iloc[-1] == f"{third}-{len(tally)}"
    alone = pyogrio.read_dataframe(surveys / "2026-06-01_all.gpkg", layer="survey_about")
    assert alone["item"].tolist()[:4] == ["date", "file", "file_sha256", "surveyed_by"]
    assert not alone["item"].str.startswith("file_p").any()
    assert [seen.day for seen in read_survey_counts(surveys)] == ["2026-06-01 all", "2026-06-01 plants A1 and 2 more"]


def test_a_survey_names_the_file_that_is_wrong_and_writes_nothing(field):
    design = field / "design.yaml"
    plants = small_layout().plants.frame
    good, bad = field / "good.csv", field / "bad.csv"
    pd.DataFrame({"plant": plants["plant"], "status": "alive"}).to_csv(good, index=False)
    bad.write_bytes(b"plant,status\n\xff\n")
    for files, told in [
        ((good, bad), "survey (bad.csv): isn't text"),
        ((good, good), "survey (good.csv): is named twice"),
    ]:
        code, text = run("survey", design, *files, "--date", "2026-06-01")
        assert code == 1
        assert told in text
    assert not (field / "result" / "surveys").exists()
    assert run("survey", design)[0] == 2


def test_a_shift_of_everything_is_said_and_undone_on_request(field):
    design = field / "design.yaml"
    plants = small_layout().plants.frame
    walk = pd.DataFrame({"plant": plants["plant"], "x": plants["x"] + 0.85, "y": plants["y"] + 0.85})
    walk.to_csv(field / "w.csv", index=False)
    code, text = run("survey", design, field / "w.csv", "--date", "2026-05-02")
    assert code == 0
    assert "all points lie alike: 1.20 m north-east of their places; check the base" in text
    code, text = run("survey", design, field / "w.csv", "--date", "2026-05-02", "--repair", "shift")
    assert "undone, as asked for" in text
    about = pyogrio.read_dataframe(field / "result" / "surveys" / "2026-05-02_w_2.gpkg", layer="survey_about")
    told = dict(zip(about["item"], about["value"], strict=True))
    assert (told["shift_undone"], told["median_off_m"], told["median_off_without_m"]) == ("yes", "1.202", "0.000")
    code, text = run("survey", design, field / "w.csv", "--repair", "feet", "--repair", "zone")
    assert code == 2
    assert "can't both be" in text
