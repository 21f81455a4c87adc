"""Kinds of beds: one home, from which everything else follows."""

import re
from pathlib import Path

import numpy as np
import pytest

import geoagro
from geoagro.values.rules import bed_kinds
from geoagro.values.rules.bed_kinds import BED_KINDS, BedKind, fitting, lasting, lasts

PACKAGE = Path(geoagro.__file__).parent
HOME = "values/rules/bed_kinds.py"
EXAMPLES = {"pipeline/example.py"}
STRIPS = np.array(["tree", "vegetable", "vegetable"], dtype=object)
AT_EDGE = np.array([False, False, True])


def test_kinds_of_beds_are_spelled_in_one_file():
    spelled = re.compile(r"""(bed(_kind)?["'\]]*\s*(==|!=|=|:)\s*["'](tree|vegetable|edge)["'])|["']vegetable["']""")
    found = {
        str(path.relative_to(PACKAGE))
        for path in PACKAGE.rglob("*.py")
        for line in path.read_text().splitlines()
        if spelled.search(line) and not line.lstrip().startswith((">>>", "..."))
    }
    assert found - EXAMPLES == {HOME}


@pytest.mark.parametrize(
    ("asked", "edge_apart", "strips"),
    [
        ("tree", False, [True, False, False]),
        ("vegetable", False, [False, True, True]),
        ("vegetable", True, [False, True, False]),
        ("edge", True, [False, False, True]),
    ],
)
def test_a_planting_goes_into_the_strips_of_its_kind(asked, edge_apart, strips):
    assert fitting(asked, STRIPS, AT_EDGE, edge_apart=edge_apart).tolist() == strips


def test_what_stands_in_tree_beds_lasts():
    assert [code for code in BED_KINDS if lasts(code)] == ["tree"]
    assert lasting(STRIPS).tolist() == [True, False, False]


def test_a_new_kind_of_bed_is_one_record(monkeypatch):
    hedge = BedKind("hedge", "hedge bed", "hedge beds", "vegetable", lasts=True, at_edge=True)
    monkeypatch.setitem(bed_kinds.BED_KINDS, "hedge", hedge)
    assert lasts("hedge")
    assert fitting("hedge", STRIPS, AT_EDGE, edge_apart=True).tolist() == [False, False, True]
    assert lasting(np.array(["hedge", "vegetable"], dtype=object)).tolist() == [True, False]
