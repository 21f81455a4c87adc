import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.season.weeding import MONTH_DAYS, bed_cover, rounds_of_beds, weeding_rounds
from geoagro.values.season import Weeding


def monthly(*values, beds=("A",)):
    rows = [(bed, k, v) for bed in beds for k, v in enumerate(values, start=1)]
    return bed_cover(pd.DataFrame(rows, columns=["bed", "month", "cover_pct"]), list(beds))


def test_open_ground_takes_five_rounds_a_year_and_a_closing_mixture_one():
    """Common practice, no source: rooting plants cut weeding from about five rounds to one."""
    mixture = monthly(5, 20, 45, 70, 85, 90, 90, 90, 90, 90, 90, 90)
    assert len(rounds_of_beds(monthly(0, 0), ["A"], Weeding(), start=0, days=365)[0]) == 5
    assert len(rounds_of_beds(mixture, ["A"], Weeding(), start=0, days=365)[0]) == 1


def test_closed_ground_needs_no_weeding():
    assert len(weeding_rounds(np.full((2, 365), 0.8), Weeding())[0]) == 0


def test_a_round_on_half_open_ground_counts_half():
    bed, day, share = weeding_rounds(np.full((1, 120), 0.4), Weeding(bare_weeks=4))
    assert day.tolist() == [28, 84]
    assert share.tolist() == pytest.approx([0.5, 0.5])
    assert bed.tolist() == [0, 0]


def test_cover_runs_straight_between_the_middles_of_months_and_keeps_its_last_value():
    cover = monthly(0, 100)
    days = np.array([0.0, MONTH_DAYS / 2, MONTH_DAYS, 1.5 * MONTH_DAYS, 400.0])
    assert cover.of(["A"], days)[0].tolist() == pytest.approx([0, 0, 0.5, 1, 1])


def test_beds_are_looked_at_in_blocks_with_the_same_result():
    names = [f"B{k}" for k in range(900)]
    bed, day, _ = rounds_of_beds(monthly(0, 0, beds=names), names, Weeding(), start=0, days=100)
    assert bed.tolist() == list(range(900))
    assert set(day) == {37}


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=2, max_size=24), st.floats(0, 0.3))
def test_more_cover_never_needs_more_rounds(cover, more):
    cover = np.repeat(cover, 30)[None]
    less = len(weeding_rounds(np.minimum(cover + more, 1), Weeding())[0])
    assert less <= len(weeding_rounds(cover, Weeding())[0])
