"""Reports of layouts too large for a frame of plants: read part by part into a narrow table, with the same account."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pandas as pd
import pytest
import report_builders as builders

from geoagro.inputs.laid.narrow_plants import NarrowPlants
from geoagro.outputs.report.block_sheet import close_crops
from geoagro.reports.account import account_for
from geoagro.values.base.value import same
from geoagro.values.report import REPORTED, ReportRule


def narrow(plants, *, parts):
    table = NarrowPlants(len(plants))
    for part in np.array_split(np.arange(len(plants)), parts):
        table.add(plants.iloc[part])
    return table.frame()


@pytest.fixture(scope="module")
def laid():
    laid = builders.laid_out()
    plants = laid.plants.sort_values(["crop", "plant"], ignore_index=True)  # as a file holds them, crop by crop
    return replace(laid, plants=plants)


@pytest.mark.parametrize("parts", [1, 7])
def test_a_narrow_table_holds_what_a_frame_of_plants_holds(laid, parts):
    table = narrow(laid.plants, parts=parts)
    assert list(table.columns) == REPORTED.columns
    for name in REPORTED.columns:
        kept = table[name].astype(object) if isinstance(table[name].dtype, pd.CategoricalDtype) else table[name]
        given = laid.plants[name]
        assert (kept.isna() == given.isna()).all()
        there = ~given.isna()
        assert (kept[there].to_numpy() == given[there].to_numpy()).all(), name
    assert table.memory_usage(deep=False).sum() < 100 * len(table)


@pytest.mark.parametrize("habits", [True, False])
def test_the_account_of_a_narrow_table_is_that_of_the_frame(laid, habits):
    if not habits:
        laid = replace(laid, crops={code: replace(crop, habit=None) for code, crop in laid.crops.items()})
    rule = ReportRule()
    whole = account_for(laid, rule)
    other = account_for(replace(laid, plants=narrow(laid.plants, parts=3)), rule)
    for field in fields(whole):
        assert same(getattr(whole, field.name), getattr(other, field.name)) or _alike(whole, other, field.name), (
            field.name
        )


def _alike(one, other, name):
    """Tables alike but for the kind of their columns; other values by what they hold."""
    a, b = getattr(one, name), getattr(other, name)
    if isinstance(a, pd.DataFrame):
        pd.testing.assert_frame_equal(pd.DataFrame(a), pd.DataFrame(b), check_dtype=False, check_categorical=False)
        return True
    return all(same(getattr(a, f.name), getattr(b, f.name)) or _alike(a, b, f.name) for f in fields(a))


def test_crops_too_close_for_marks_are_the_same_from_a_narrow_table(laid):
    for mm_per_m in (0.5, 1.0, 2.0, 4.0):
        table = replace(laid, plants=narrow(laid.plants, parts=2))
        assert close_crops(table, mm_per_m) == close_crops(laid, mm_per_m)


def test_a_narrow_table_holds_more_beds_and_larger_numbers_than_its_first_width():
    count = 40_000
    texts = {f.name: "a" for f in REPORTED.fields if f.kind in ("text", "date")}
    numbers = {f.name: np.arange(count) for f in REPORTED.fields if f.kind in ("int", "float")}
    plants = pd.DataFrame({**texts, **numbers}, columns=REPORTED.columns)
    plants["bed"] = [f"R{k}" for k in range(count)]
    plants["plant"] += 2**32
    table = narrow(plants, parts=3)
    assert table["bed"].astype(str).tolist() == plants["bed"].tolist()
    assert table["plant"].tolist() == plants["plant"].tolist()
