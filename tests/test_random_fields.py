"""Laws that hold on any small field with any recipe: 300 drawn cases; `scripts/draw_fields.py` draws as many as you like."""

import pytest
from random_fields import broken, draw

CASES, AT_ONCE = 300, 20


@pytest.mark.parametrize("first", range(0, CASES, AT_ONCE))
def test_no_drawn_case_breaks_a_law(first, tmp_path):
    for seed in range(first, first + AT_ONCE):
        folder = tmp_path / str(seed)
        folder.mkdir()
        case = draw(seed, folder)
        laws, _ = broken(case)
        assert not laws, f"seed {seed}: {case.told}"
