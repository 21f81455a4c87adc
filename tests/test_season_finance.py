import numpy as np
import numpy_financial as reference
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.season.finance import break_even, internal_rate, monthly_rate, net_present_value, sign_changes

flows = st.lists(st.integers(-500, 500), min_size=3, max_size=40)


@settings(max_examples=50, deadline=None)
@given(flows, st.floats(-0.5, 1.0))
def test_net_present_value_agrees_with_the_reference_library(values, rate):
    ours = net_present_value(values, rate)
    assert ours == pytest.approx(reference.npv(monthly_rate(rate), np.array(values, dtype=float)), rel=1e-9, abs=1e-6)


@settings(max_examples=50, deadline=None)
@given(st.integers(100, 5000), st.lists(st.integers(1, 400), min_size=12, max_size=60))
def test_internal_rate_agrees_with_the_reference_library(paid, income):
    values = [-paid, *income]
    theirs = float(reference.irr(np.array(values, dtype=float)))
    assert internal_rate(values) == pytest.approx((1 + theirs) ** 12 - 1, rel=1e-6, abs=1e-9)


def test_internal_rate_of_one_payment_and_one_return_is_the_growth():
    assert internal_rate([-100, *[0] * 11, 121]) == pytest.approx(0.21)


@pytest.mark.parametrize("values", [[1, 2, 3], [-1, -2], [-100, 350, -300], [0, 0]])
def test_no_internal_rate_is_given_where_there_is_none_or_several(values):
    assert internal_rate(values) is None


@settings(max_examples=60, deadline=None)
@given(flows)
def test_a_rate_from_the_balance_is_the_only_root_above_nought(values):
    """Every root of the polynomial by numpy; Norstrom's condition promises one above nought."""
    balance = np.cumsum(values)
    rate = internal_rate(values)
    if sign_changes(values) != 1 and sign_changes(balance) == 1 and balance[-1] > 0:
        roots = np.roots(np.trim_zeros(np.array(values, dtype=float)))
        real = np.sort(roots[np.abs(roots.imag) < 1e-7].real)
        grown = [r for r in real if r > 1 + 1e-7]
        assert len(grown) == 1
        assert rate == pytest.approx(grown[0] ** 12 - 1, rel=1e-4)


def test_sign_changes_leave_noughts_out():
    assert sign_changes([-1, 0, -2, 0, 3, 0]) == 1


@settings(max_examples=50, deadline=None)
@given(flows)
def test_after_break_even_the_balance_stays_up_and_before_it_was_down(values):
    balance = np.cumsum(values)
    month = int(break_even(balance))
    if month < 0:
        assert balance[-1] < 0
    else:
        assert (balance[month:] >= 0).all()
        assert month == 0 or balance[month - 1] < 0


def test_an_absurdly_high_rate_is_found_as_well():
    # -1 + 11 / q - 1 / q^2 = 0 has its root above 1 at q = (11 + sqrt(117)) / 2 a month
    assert internal_rate([-1, 11, -1]) == pytest.approx(((11 + 117**0.5) / 2) ** 12 - 1, rel=1e-6)
