"""Options side by side, as the command does it; and where the old commands point."""

import csv
import json

import pytest
import yaml
from click.testing import CliRunner
from input_files import FIELD, slope_north, write_raster, write_vector

from geoagro import pipeline
from geoagro.cli.hand.compare import page_title
from geoagro.cli.hand.option_names import option_name
from geoagro.cli.main import group
from geoagro.errors import DesignError
from geoagro.outputs.words.say import Words


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("options")
    write_vector(folder / "field.gpkg", [FIELD])
    write_raster(folder / "dem.tif", slope_north())
    design = {
        "name": "invented",
        "inputs": {"boundary": {"file": "field.gpkg"}, "elevation": {"file": "dem.tif"}},
        "rows": {"method": "straight", "bearing_deg": 90},
        "plantings": [{"crop": "citrus", "bed": "tree", "spacing_m": 4}],
    }
    (folder / "one.yaml").write_text(yaml.safe_dump(design))
    return folder


def run(*words):
    return CliRunner().invoke(group, [str(word) for word in words])


def lines(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


VARIED = ("--vary", "rows.spacing_m=4.5,6", "--vary", "plantings[1].spacing_m=4,2")


@pytest.fixture(scope="module")
def compared(folder):
    done = run("compare", folder / "one.yaml", *VARIED, "-o", folder / "out")
    assert done.exit_code == 0, done.output
    return done


def test_every_pair_of_settings_is_laid_out_and_put_side_by_side(folder, compared):
    table = lines(folder / "out" / "options.csv")
    assert [(row["rows.spacing_m"], row["plantings[1].spacing_m"]) for row in table] == [
        ("4.5", "4"), ("4.5", "2"), ("6", "4"), ("6", "2")]  # fmt: skip
    plants = [int(row["plants_at_once"]) for row in table]
    assert plants[1] / plants[0] == pytest.approx(2, rel=0.05)
    assert int(table[0]["rows"]) > int(table[2]["rows"])
    assert (folder / "out" / "options.png").stat().st_size > 20_000
    assert "plants at once" in compared.stdout
    data = json.loads((folder / "out" / "options.json").read_text())
    assert [option["settings"]["rows.spacing_m"] for option in data["options"]] == ["4.5", "4.5", "6", "6"]


def test_water_along_rows_and_bed_share_are_columns(folder, compared):
    for row in lines(folder / "out" / "options.csv"):
        assert row["inner_low_points"] == "0"  # an even slope
        assert 0 < float(row["longest_one_way_m"]) <= 200
        assert 50 < float(row["bed_share_pct"]) <= 100
    assert "inner low points" in compared.stdout


def test_what_has_not_changed_is_not_laid_out_again(folder, compared, monkeypatch):
    asked = []
    whole = pipeline.option_of
    monkeypatch.setattr(pipeline, "option_of", lambda *a, **k: asked.append(a[0]) or whole(*a, **k))
    done = run("compare", folder / "one.yaml", "--vary", "rows.spacing_m=4.5,6,9",
               "--vary", "plantings[1].spacing_m=4", "-o", folder / "out")  # fmt: skip
    assert done.exit_code == 0, done.output
    assert len(asked) == 1
    assert len(lines(folder / "out" / "options.csv")) == 3


def test_an_option_that_cannot_be_laid_out_keeps_its_line_with_the_reason(folder, tmp_path):
    done = run("compare", folder / "one.yaml", "--vary", "ground.setback_m=1,45", "-o", tmp_path)
    assert done.exit_code == 0, done.output
    good, bad = lines(tmp_path / "options.csv")
    assert good["problem"] == ""
    assert "Nothing is left to plant" in bad["problem"]


@pytest.mark.parametrize(
    ("vary", "words"),
    [
        ("rows.spacing_m", "give a key and its values"),
        ("rows.spacing_n=4,5", r"did you mean 'spacing_m'"),
        ("rows.spacing_m=-1,5", "must be above 0"),
        ("plantings[9].spacing_m=1,2", "no item 9"),
        ("name=a", "one option is nothing to compare"),
    ],
)
def test_keys_and_values_that_do_not_fit_are_refused_before_anything_is_laid_out(folder, tmp_path, vary, words):
    done = run("compare", folder / "one.yaml", "--vary", vary, "-o", tmp_path / "new")
    assert done.exit_code != 0
    assert words in f"{done.output} {done.exception}"
    assert not (tmp_path / "new").exists()


def test_designs_that_have_one_name_are_told_apart_by_their_folder(folder, tmp_path):
    for name, spacing in (("a", 4.5), ("b", 6)):
        (tmp_path / name).mkdir()
        design = yaml.safe_load((folder / "one.yaml").read_text())
        design["rows"]["spacing_m"] = spacing
        for key, file in (("boundary", "field.gpkg"), ("elevation", "dem.tif")):
            design["inputs"][key]["file"] = str(folder / file)
        (tmp_path / name / "design.yaml").write_text(yaml.safe_dump(design))
    done = run("compare", tmp_path / "a/design.yaml", tmp_path / "b/design.yaml", "-o", tmp_path / "out")
    assert done.exit_code == 0, done.output
    assert [row["option"] for row in lines(tmp_path / "out" / "options.csv")] == ["a/design", "b/design"]


def test_commands_that_are_gone_name_the_new_one(folder):
    assert "geoagro compare FIRST SECOND" in run("season-compare", "a", "b").output
    assert "--vary rows.max_grade_pct" in run("rows", folder / "one.yaml", "--grades", "2,4").output


def test_a_broken_comparison_is_not_written_over(folder, tmp_path):
    (tmp_path / "options.json").write_text("{")
    done = run("compare", folder / "one.yaml", "--vary", "rows.spacing_m=4.5,6", "-o", tmp_path)
    assert not isinstance(done.exception, DesignError)
    assert "can't be read as a comparison" in str(done.exception)
    assert (tmp_path / "options.json").read_text() == "{"


@pytest.mark.parametrize(
    ("fields", "title"), [(["Ridge"], "Ridge: options side by side"), (["Ridge", "Vale"], "Options side by side")]
)
def test_the_page_says_in_its_title_what_it_is(fields, title):
    assert page_title(set(fields), Words("en")) == title


def test_options_are_called_as_a_person_says_what_was_varied():
    name = option_name("", {"rows.method": "contour", "rows.max_grade_pct": "2.5"})
    assert str(name) == "rows on contour, row grade up to 2.5 %"
    assert Words("fr")(name) == "lignes en courbes de niveau, pente en long jusqu'à 2,5\u00a0%"
    assert Words("fr")(option_name("straight rows", {})) == "straight rows", "a file's name stays"
    assert str(option_name("ridge", {"season.years": "3"})) == "ridge, years: 3"
