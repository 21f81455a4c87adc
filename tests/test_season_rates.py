"""Rates of work on beds: the user's before the defaults, each with its own source."""

import pytest

from geoagro.season.rates import OWN, bed_rates
from geoagro.values.season import Hours

TASKS = ("prepare", "mulch", "weed", "cut", "sow")


@pytest.mark.parametrize("task", TASKS)
def test_a_rate_of_ones_own_is_taken_and_told_for_its_task_alone(task):
    plain, own = bed_rates(Hours()), bed_rates(Hours.model_validate({f"{task}_h_per_m2": 0.123}))
    assert getattr(own, task) == 0.123
    assert own.source_of(task) == OWN
    for other in set(TASKS) - {task}:
        assert getattr(own, other) == getattr(plain, other)
        assert own.source_of(other) == plain.source_of(other) != OWN
