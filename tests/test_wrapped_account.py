"""Each account and portfolio in a made-up language in which every message is bracketed: no other word is left."""

import re

import pytest
from report_builders import laid_out
from test_every_word_is_translated import bare, words  # noqa: F401

from geoagro.outputs.report.cell_words import said
from geoagro.outputs.report.pages import Pictures, report_blocks
from geoagro.outputs.tables.cells import account_tables
from geoagro.reports.account import account_for
from geoagro.values.report import ReportRule

OF_THE_USER = {"crop", "bed", "plot", "survey", "rule", "broken", "scientific", "provenance", "crs", "field", "place"}
# names and sources of the fixture, works cited; how row quality is defined stands in English only
OWN = re.compile(
    r"Bitter root|Hill plum|Salad|Shade alder|Poisonous raw; peel and boil|Prunus inventa|a plane built by a test|Hill 1973; Jost 2006|(?:ab){8}|geoagro|1 polygon|Of neighbours met by rays[^.]*\.\d spacings\.|#[0-9a-f]{6}"
)
FOR_PROGRAMS = {"indicator", "unit", "value", "source", "sha256", "figure", "measure", "key"}


@pytest.fixture(scope="module")
def account():
    return account_for(laid_out(), ReportRule())


def test_every_cell_of_the_account_is_said(account, words):  # noqa: F811
    found = set()
    for table in account_tables(account):
        for row in said(table, words):
            for field, value in zip(table.spec.fields, row, strict=True):
                if isinstance(value, str) and field.name not in OF_THE_USER | FOR_PROGRAMS and bare(OWN.sub("", value)):
                    found.add((table.spec.name, field.name, value))
    assert not found, sorted(found)


def test_blocks_of_the_report_are_said(account, words):  # noqa: F811
    pictures = Pictures("cover.svg", "overview.svg", None, (), 0, "")
    found = set()
    for text in _texts(report_blocks(account, ReportRule(), words, pictures)):
        if bare(OWN.sub("", text)):
            found.add(text)
    assert not found, sorted(found)


def _texts(data):
    """All texts of blocks that are printed: what is no name of a kind, a side or a picture."""
    if isinstance(data, str) and data not in {"auto", "share", "overview.svg"}:
        yield data
    elif isinstance(data, dict):
        for key, value in data.items():
            if key not in {"kind", "align", "map", "path", "name", "level", "width"}:
                yield from _texts(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from _texts(value)
