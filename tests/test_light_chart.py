"""Names at the ends of lines in the chart of light, and years on the terminal."""

from itertools import pairwise

import pandas as pd
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

import geoagro
from geoagro.cli.recipe_words import company_lines
from geoagro.outputs.layout.light_chart import _name_lines, _told
from geoagro.outputs.words.say import Words
from geoagro.yields.records.tables import LAND_EQUIVALENT, YIELDS_IN_COMPANY, RecipeYields


def named(ends):
    figure = Figure()
    FigureCanvasAgg(figure)
    axes = figure.subplots()
    _name_lines(axes, ends, Words("en"))
    return [(text.get_text(), text.get_position()[1]) for text in axes.texts]


def test_lines_that_end_together_have_one_name_and_others_keep_apart():
    names = named([(72.0, 1), (70.0, 3), (46.0, 8), (46.1, 20)])
    assert [text for text, _ in names] == ["year 1", "year 3", "years 8, 20"]
    heights = [at for _, at in names]
    assert all(above - below >= 5.9 for above, below in pairwise(heights))


def test_a_long_plan_shows_its_last_year_and_says_where_the_others_are():
    years = range(1, 21)
    land = LAND_EQUIVALENT.frame(
        {
            "year": list(years),
            "crop": ["all"] * 20,
            "ratio_low": [1.0] * 20,
            "ratio": [1.1] * 20,
            "ratio_high": [1.2] * 20,
            "area_time": [0.9] * 20,
        }
    )
    empty = pd.DataFrame({name: [] for name in YIELDS_IN_COMPANY.columns})
    lines = "\n".join(company_lines(RecipeYields(empty, land, (), ""), Words()))
    assert "year 20: 1.10" in lines
    assert "all 20 years are in table land_equivalent" in lines
    assert "year 7:" not in lines


def test_a_tree_has_no_yield_in_the_chart_before_it_bears():
    """An apple that bears from year 5 on yields nothing in year 1, however much light it has."""
    laid = geoagro.example_layout()
    yields = geoagro.recipe_yields_of(laid.design, geoagro.read_crop_library())
    shown = _told(yields.yields, yields.land)
    assert shown.loc[shown["crop"] == "apple", "year"].tolist() == [5, 7, 8]
    assert yields.yields.loc[yields.yields["crop"] == "apple", "year"].min() == 1
    assert (shown["crop"] == "lettuce").any()
