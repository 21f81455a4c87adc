import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.errors import LayoutError
from geoagro.season.weeding import cover_by_kind, weeding_rounds
from geoagro.values.season import Weeding


def test_open_ground_takes_five_rounds_and_a_closing_mixture_one():
    """Common practice, no source: rooting plants cut weeding from about five rounds to one."""
    mixture = np.array([0.1, 0.5, 0.9, 0.95, 0.95])
    assert len(weeding_rounds(np.zeros(5), Weeding(), days=150)[0]) == 5
    assert len(weeding_rounds(mixture, Weeding(), days=150)[0]) == 1


def test_closed_ground_needs_no_weeding():
    days, bare = weeding_rounds(np.full(12, 0.9), Weeding(), days=365)
    assert len(days) == len(bare) == 0


def test_a_round_on_half_bare_ground_counts_half_the_bare_share():
    days, bare = weeding_rounds(np.full(12, 0.5), Weeding(bare_weeks=4), days=120)
    assert list(days) == [56, 112]
    assert list(bare) == pytest.approx([0.5, 0.5])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=2, max_size=24), st.floats(0, 0.3))
def test_more_cover_never_needs_more_rounds(cover, more):
    cover = np.array(cover)
    less = len(weeding_rounds(np.minimum(cover + more, 1), Weeding(), days=400)[0])
    assert less <= len(weeding_rounds(cover, Weeding(), days=400)[0])


def test_cover_with_a_missing_month_is_refused():
    frame = pd.DataFrame({"bed_kind": "tree", "month": [0, 2], "cover": [0.1, 0.2]})
    with pytest.raises(LayoutError, match="months 0, 1, 2"):
        cover_by_kind(frame)


def test_cover_in_percent_is_refused():
    frame = pd.DataFrame({"bed_kind": "tree", "month": [0, 1], "cover": [10, 20]})
    with pytest.raises(LayoutError, match="between 0 and 1"):
        cover_by_kind(frame)
