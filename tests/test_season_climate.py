"""Windows from the user's monthly climate."""

import pytest
import season_cases as cases

from geoagro.errors import InputError
from geoagro.inputs.climate_file import read_climate
from geoagro.season.husbandry.climate import climate_findings, runs, with_windows
from geoagro.season.plan import plan_season
from geoagro.values.season import Climate, SeasonRule

HEAD = "month,rain_mm,t_mean_c,t_min_c\n"
# invented: dry summers in the north, frost from November to March
RAIN = (90, 80, 70, 60, 50, 20, 10, 15, 45, 80, 100, 95)
MEAN = (2, 4, 8, 12, 17, 21, 24, 23, 18, 12, 7, 3)
MIN = (-2, -1, 1, 5, 9, 13, 15, 15, 11, 7, 1, -1)
CLIMATE = Climate("climate.csv", RAIN, MEAN, MIN)


def written(tmp_path, lines):
    path = tmp_path / "climate.csv"
    path.write_text(HEAD + "\n".join(lines), encoding="utf-8")
    return path


def lines():
    return [f"{k + 1},{RAIN[k]},{MEAN[k]},{MIN[k]}" for k in range(12)]


def test_a_climate_is_read_month_by_month_in_any_order(tmp_path):
    assert read_climate(written(tmp_path, reversed(lines()))) == CLIMATE


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda rows: rows[:11], "month 12 is missing"),
        (lambda rows: [*rows, rows[0]], "13 lines instead of 12"),
        (
            lambda rows: ["13,1,1,1", *rows[1:]],
            r"season\.climate\.file \(climate\.csv\): line 2: month must be 1 to 12",
        ),
        (lambda rows: ["1,a lot,1,1", *rows[1:]], "rain_mm must be a number"),
        (lambda rows: ["1,9000,1,1", *rows[1:]], "check the unit"),
        (lambda rows: ["1,90,1,5", *rows[1:]], "line 2: t_min_c 5 is above .* are they swapped"),
        (lambda rows: ["\u00b2,1,1,1", *rows[1:]], "line 2: month must be 1 to 12"),
        (lambda rows: ["1.5,1,1,1", *rows[1:]], "line 2: month must be 1 to 12"),
        (lambda rows: [*rows[:3], "4,60,12,5,5,1", *rows[4:]], "line 5: has 6 fields where the first line names 4"),
        (lambda rows: ["1,nan,1,1", *rows[1:]], "line 2: rain_mm must be a number"),
        (lambda rows: ["1,90", *rows[1:]], "line 2: t_mean_c must be a number"),
        (lambda rows: [f"1,{'9' * 200_000},1,1", *rows[1:]], "line 2: isn't a table"),
        (lambda rows: [], "nothing below its first line"),
    ],
)
def test_a_climate_that_cannot_be_meant_is_refused_with_its_line(tmp_path, change, told):
    with pytest.raises(InputError, match=told):
        read_climate(written(tmp_path, change(lines())))


@pytest.mark.parametrize("separator", [";", "\t"])
def test_a_climate_from_a_spreadsheet_with_decimal_commas_is_read(tmp_path, separator):
    path = tmp_path / "climate.csv"
    rows = [f"{k + 1},{RAIN[k]}.5,{MEAN[k]}.5,{MIN[k]}" for k in range(12)]
    path.write_text("\n".join([HEAD.strip(), *rows]).replace(",", separator).replace(".", ","), encoding="utf-8-sig")
    read = read_climate(path)
    assert read.rain_mm == tuple(value + 0.5 for value in RAIN)
    assert (read.mean_c[0], read.min_c) == (2.5, MIN)


def test_a_missing_column_is_named(tmp_path):
    path = tmp_path / "climate.csv"
    path.write_text("month,rain\n1,2\n", encoding="utf-8")
    with pytest.raises(InputError, match="no column rain_mm, t_mean_c, t_min_c"):
        read_climate(path)


def test_dry_months_are_those_with_less_rain_than_twice_the_temperature():
    # Gaussen and Bagnouls 1953: P (mm) < 2 T (degrees Celsius), from memory
    assert [k + 1 for k, dry in enumerate(CLIMATE.dry()) if dry] == [6, 7, 8]


def test_windows_follow_the_climate_only_where_the_design_gives_none():
    both = {window.kind: (window.first, window.last) for window in with_windows(SeasonRule(), CLIMATE).windows}
    assert both == {"rains": ("09-01", "05-31"), "frost": ("11-01", "03-31")}
    own = {"windows": [{"name": "rains", "kind": "rains", "first": "04-01", "last": "06-30"}]}
    kept = with_windows(SeasonRule.model_validate(own), CLIMATE).windows
    assert [(w.kind, w.first) for w in kept] == [("rains", "04-01"), ("frost", "11-01")]


def test_a_place_that_is_always_wet_and_never_cold_gets_no_window():
    humid = Climate("x.csv", (200,) * 12, (25,) * 12, (20,) * 12)
    assert with_windows(SeasonRule(), humid).windows == ()
    assert not list(climate_findings(None, {}, humid, None))


def test_runs_of_months_pass_over_new_year():
    assert runs([k in {0, 1, 5, 11} for k in range(12)]) == [(6, 6), (12, 2)]


def test_dry_spells_are_told_with_what_stands_in_them():
    beds, plants = cases.field(30.0)
    plan = plan_season(
        plants,
        beds,
        cases.CROPS,
        cases.cover(beds),
        cases.rule(),
        climate=CLIMATE,
        name="x",
        start=cases.START,
        area_ha=0.09,
    )
    told = plan.findings.set_index("subject").loc["dry spells", "text"]
    assert "Jun-Aug" in told
    assert "cassava up to 13 weeks" in told.lower()
