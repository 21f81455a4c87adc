"""What a step in a setting wins, told in beds and metres."""

from geoagro.values.results.options import OptionResult
from geoagro.values.results.trades import trades


def option(beds, row, problem="", **settings):
    figures = {"beds_of_field_pct": 100 * beds, "field_ha": 2.0, "row_length": row}
    name = ", ".join(f"{key} {value}" for key, value in settings.items())
    settings = {f"rows.{key}": value for key, value in settings.items()}
    return OptionResult(name, "field.yaml", settings, name, figures, problem=problem)


def test_each_step_of_a_setting_is_told_with_all_else_as_in_the_best_option():
    told = trades([
        option(0.50, 3000.0, max_grade_pct="3", spacing_tolerance_pct="10"),
        option(0.52, 3100.0, max_grade_pct="4", spacing_tolerance_pct="10"),
        option(0.55, 3050.0, max_grade_pct="3", spacing_tolerance_pct="15"),
        option(0.56, 3200.0, max_grade_pct="4", spacing_tolerance_pct="15"),
    ])  # fmt: skip
    assert told == [
        "Most beds: max_grade_pct 4, spacing_tolerance_pct 15, 11,200 m² of beds beside 3,200 m of row.",
        "rows.max_grade_pct 4 instead of 3: 200 m² more of beds (+1.8 %), 150 m more of row.",
        "rows.spacing_tolerance_pct 15 instead of 10: 800 m² more of beds (+7.7 %), 100 m more of row.",
    ]


def test_a_step_that_loses_is_told_as_a_loss():
    told = trades([option(0.50, 3000.0, spacing_m="5"), option(0.45, 3300.0, spacing_m="4.5")])
    assert told[1] == "rows.spacing_m 5 instead of 4.5: 1,000 m² more of beds (+11.1 %), 300 m less of row."


def test_nothing_is_told_of_words_of_one_option_or_of_what_could_not_be_laid_out():
    assert trades([option(0.5, 3000.0, method="contour"), option(0.6, 3100.0, method="straight")]) == []
    assert trades([option(0.5, 3000.0, max_grade_pct="3"), option(0.5, 3000.0, "no", max_grade_pct="4")]) == []
    assert trades([]) == []
