"""The benchmark of rows runs on a folder of terrain, at its limits, beside both baselines."""

import importlib
import sys
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from input_files import EAST, NORTH, UTM, write_raster
from shapely import box

from geoagro.values.design import RowRule

SCRIPTS = Path(__file__).parents[1] / "scripts"


@pytest.fixture
def script(monkeypatch):
    """Load a script as it runs from the command line, with its folder at hand and words as arguments."""
    monkeypatch.syspath_prepend(SCRIPTS)

    def load(name, *words):
        monkeypatch.setattr(sys, "argv", [name, *map(str, words)])
        return importlib.import_module(name)

    return load


@pytest.fixture
def terrain(tmp_path):
    x, y = np.meshgrid(np.arange(60) * 2.0, 119 - np.arange(60) * 2.0)
    write_raster(tmp_path / "hill.tif", 100 + 0.08 * y + np.sin(x / 20), west=EAST, north=NORTH + 120)
    fields = gpd.GeoDataFrame(
        {"name": ["a", "b"]}, geometry=[box(EAST + 20, NORTH + 20, EAST + 90, NORTH + 80)] * 2, crs=UTM
    )
    fields.to_file(tmp_path / "hill_fields.gpkg", layer="fields")
    return tmp_path


def test_one_table_per_limit_with_a_line_for_each_way_of_laying_rows(terrain, script, capsys):
    script("bench_rows", terrain, "--fields", "hill/b", "--grade", "3").main()
    text = capsys.readouterr().out
    lines = [line for line in text.splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    head, body = cells[0], cells[2:]
    assert [row[head.index("rows by")] for row in body] == ["engine", "parallel", "parallel cut", "contour"]
    assert {row[0] for row in body} == {"hill/b"}
    assert body[1][head.index("of parallel")] == "1.00"
    assert float(body[0][head.index("grade max")].split()[0]) <= 3.0
    assert "Grade limit 3 %" in text


def test_rows_with_a_wanted_fall_stand_beside_level_ones(terrain, script, capsys):
    script("bench_rows_fall", terrain, "--fields", "hill/b", "--fall", "1", "--toward", "outlet", "ridge").main()
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in capsys.readouterr().out.splitlines()]
    body = [row for row in cells if row[0] == "hill/b"]
    head = next(row for row in cells if row[0] == "field")
    assert len(body) == 2
    for row in body:
        told = dict(zip(head, row, strict=True))
        assert 0.5 < float(told["covered"]) <= float(told["by level rows"]) + 0.02
        assert 0 <= float(told["kept within half"]) <= 1
        assert float(told["rise, most"].split()[0]) <= 5.0


def test_a_folder_without_fields_says_so_for_a_wanted_fall_too(terrain, script):
    with pytest.raises(SystemExit, match="begins with dale"):
        script("bench_rows_fall", terrain, "--fields", "dale").main()


def test_parallel_rows_stand_there_once_more_cut_to_the_limits(terrain, script, capsys):
    script("bench_rows", terrain, "--fields", "hill/b", "--grade", "2", "--methods", "parallel", "parallel cut").main()
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in capsys.readouterr().out.splitlines()]
    head, *body = [row for row in cells if len(row) > 1 and not row[0].startswith("-")]
    whole, cut = (dict(zip(head, row, strict=True)) for row in body)
    assert (whole["rows by"], cut["rows by"]) == ("parallel", "parallel cut")
    assert float(whole["grade max"].split()[0]) > 2.0 >= float(cut["grade max"].split()[0])
    assert float(cut["covered"]) < float(whole["covered"])
    for row in (whole, cut):
        assert 0 < float(row["at the edge"]) <= float(row["open sides"])


def test_rows_cut_to_the_limits_need_no_other_line_but_heights(terrain, script, capsys):
    bench = script("bench_rows", terrain, "--fields", "hill/b", "--grade", "2", "--methods", "parallel cut")
    bench.main()
    body = [line for line in capsys.readouterr().out.splitlines() if line.startswith("| hill")]
    assert [row.split("|")[3].strip() for row in body] == ["parallel cut"]
    case = next(bench.cases(terrain, ["hill/b"]))
    laid = bench.baseline(case, "parallel")
    unknown = replace(case, terrain=replace(case.terrain, judged=None))
    assert bench.cut(unknown, laid, case.rule).rows is None
    assert bench.cut(unknown, laid, case.rule).why == "heights are unknown"
    steep = bench.at_limit(case.rule.model_copy(update={"min_row_length_m": 1000.0}), 2)
    assert bench.cut(case, laid, steep).why == "no row holds the limits"


def test_a_field_that_is_not_there_is_said(terrain, script):
    with pytest.raises(SystemExit, match="begins with valley"):
        script("bench_rows", terrain, "--fields", "valley").main()


def test_a_set_of_rows_that_misses_a_bar_is_named(script):
    bench = script("bench_rows")
    good = {
        "legal": 0.95,
        "open": 0.05,
        "covered": 0.97,
        "within": 0.96,
        "nearer": 0.0,
        "p95": 2.4,
        "max": 3.9,
        "short": 0,
        "mean": 100,
        "radius": 6.2,
    }
    rule = RowRule(min_turn_radius_m=6)
    assert bench.misses(good, {"mean": 120, "p95": 5.0}, rule) == ""
    assert bench.misses(good, {"mean": 130, "p95": 4.5}, rule) == "mean, p95 half"
    strict = RowRule(min_turn_radius_m=6, max_grade_pct=2, preferred_grade_pct=2)
    assert bench.misses(good | {"legal": 0.88, "p95": 1.8, "max": 1.9}, None, strict) == ""
    assert bench.misses(good | {"legal": 0.87, "p95": 1.8, "max": 1.9}, None, strict) == "legal"
    bad = good | {
        "legal": 0.91,
        "open": 0.07,
        "covered": 0.95,
        "within": 0.9,
        "nearer": 0.001,
        "p95": 4.1,
        "max": 4.2,
        "short": 1,
        "radius": 5,
    }
    assert bench.misses(bad, None, rule) == "legal, open, covered, tolerance, nearer, p95, max, short, radius"


def test_growth_is_the_exponent_between_the_two_largest_sizes(script):
    bench = script("bench_rows_growth")
    found = bench.measure(0.2)
    assert found["legal"] > 0.8
    assert found["process"] > 0
    assert found["peak"] >= found["before"] > 10
    tenfold = found | {"process": 10 * max(found["process"], 0.1) ** 1.0}
    text = bench.table({1.0: found | {"process": max(found["process"], 0.1)}, 10.0: tenfold})
    line = next(line for line in text.splitlines() if line.startswith("| engine, processor s"))
    assert line.split("|")[-2].strip() == "1.00"


def test_made_ground_is_laid_on_its_survey_and_judged_on_the_truth(script, capsys, monkeypatch):
    bench = script("bench_made_ground", "--kinds", "mesas", "shoulders", "--cells", "10")
    monkeypatch.setattr(bench, "SIDE", 60)
    monkeypatch.setattr(bench, "MARGIN", 50)
    bench.main()
    head, _, *lines = capsys.readouterr().out.splitlines()
    names = [cell.strip() for cell in head.strip("|").split("|")]
    told = [dict(zip(names, (cell.strip() for cell in line.strip("|").split("|")), strict=True)) for line in lines]
    assert [(line["ground"], line["cell m"]) for line in told] == [("mesas", "10"), ("shoulders", "10")]
    for line in told:
        assert 0.3 < float(line["true"]) <= float(line["told"]) + 0.1 <= 1.2


@pytest.mark.parametrize("kind", ["kettles", "loess", "gullies", "mesas", "dunes", "shoulders"])
def test_made_ground_is_the_same_for_one_seed_and_another_for_the_next(script, kind):
    shape = script("bench_made_ground").KINDS[kind]
    x, y = np.meshgrid(np.arange(80) + 0.5, np.arange(80) + 0.5)
    first, again, other = (shape(seed, x, y) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.allclose(first, other)
    assert np.ptp(first) > 1.0
