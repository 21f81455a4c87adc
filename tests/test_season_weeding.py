import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.plants.crowns import weeding_rounds as analysed_rounds
from geoagro.season.weeding import MONTH_DAYS, bed_cover, rounds_of_beds, weeding_rounds
from geoagro.values.season import Weeding


def monthly(*values, beds=("A",)):
    rows = [(bed, k, v) for bed in beds for k, v in enumerate(values, start=1)]
    return bed_cover(pd.DataFrame(rows, columns=["bed", "month", "cover_pct"]), list(beds))


def test_bare_ground_takes_five_rounds_in_20_weeks_and_a_closing_mixture_one():
    """Common practice, no source: rooting plants cut weeding from about five rounds to one."""
    mixture = monthly(25, 60, 85, 90, 90)
    assert len(rounds_of_beds(monthly(0, 0), ["A"], Weeding(), start=0, days=140)[0]) == 5
    assert len(rounds_of_beds(mixture, ["A"], Weeding(), start=0, days=140)[0]) == 1


def test_closed_ground_needs_no_weeding():
    assert len(weeding_rounds(np.full((2, 365), 0.8), Weeding())[0]) == 0


def test_a_round_on_half_bare_ground_counts_half():
    bed, day, share = weeding_rounds(np.full((1, 120), 0.5), Weeding(bare_weeks=4))
    assert day.tolist() == [28, 84]
    assert share.tolist() == pytest.approx([0.5, 0.5])
    assert bed.tolist() == [0, 0]


def test_rounds_are_those_of_the_recipes_analysis():
    """The rooms don't know each other; this holds their rules together."""
    months = np.arange(1, 8)
    for shares in ([0, 0, 0, 0, 0, 0, 0], [10, 20, 40, 60, 70, 75, 79], [5, 50, 90, 90, 90, 90, 90]):
        theirs = float(analysed_rounds(np.array([shares]) / 100, months, Weeding())[0])
        ours = len(rounds_of_beds(monthly(*shares), ["A"], Weeding(), start=0, days=140)[0])
        assert ours == np.floor(theirs + 0.5 + 1e-9)


def test_cover_rises_from_nought_straight_between_the_middles_of_months_and_keeps_its_last_value():
    cover = monthly(10, 100)
    days = np.array([0.0, MONTH_DAYS / 4, MONTH_DAYS / 2, MONTH_DAYS, 1.5 * MONTH_DAYS, 400.0])
    assert cover.of(["A"], days)[0].tolist() == pytest.approx([0, 0.05, 0.1, 0.55, 1, 1])


def test_beds_are_looked_at_in_blocks_with_the_same_result():
    names = [f"B{k}" for k in range(900)]
    bed, day, _ = rounds_of_beds(monthly(0, 0, beds=names), names, Weeding(), start=0, days=100)
    assert bed.tolist() == np.repeat(range(900), 4).tolist()
    assert set(day) == {14, 42, 70, 98}


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=2, max_size=24), st.floats(0, 0.3))
def test_more_cover_never_needs_more_rounds(cover, more):
    cover = np.repeat(cover, 30)[None]
    less = len(weeding_rounds(np.minimum(cover + more, 1), Weeding())[0])
    assert less <= len(weeding_rounds(cover, Weeding())[0])
