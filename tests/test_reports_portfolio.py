import json
from dataclasses import replace

import numpy as np
import openpyxl
import pytest
from page_texts import page_texts
from report_builders import laid_out
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import translate

from geoagro.crs import WGS84, geodesic_area_m2
from geoagro.errors import LayoutError
from geoagro.outputs.portfolio.files import write_portfolio
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.reports.portfolio import _shared_ground, portfolio_for
from geoagro.values.measures import hectares_text
from geoagro.values.report import ReportRule

EN = Words("en")


def moved(name, east_m, **shape):
    """The square field, some way east."""
    laid = laid_out(name=name, **shape)

    def move(layer):
        there = layer.assign(geometry=layer.geometry.translate(east_m))
        return there.assign(x=there["x"] + east_m) if "x" in there else there

    layers = ("tree_rows", "tree_beds", "beds", "paths", "unplanted", "plants")
    shifted = {layer: move(getattr(laid, layer)) for layer in layers}
    return replace(laid, boundary=translate(laid.boundary, east_m), **shifted)


@pytest.fixture(scope="module")
def fields():
    laid = [moved("North field", 0.0, size_m=40.0), moved("East <field>", 500.0, size_m=50.0)]
    return [(each, account_for(each, ReportRule())) for each in laid]


def test_totals_are_the_sums_of_the_accounts(fields):
    got = portfolio_for([account for _, account in fields])
    assert got.fields["field"].tolist() == ["East <field>", "North field"]
    for name in ("planted_m2", "field_m2", "trees", "plants"):
        assert got.total(name) == pytest.approx(sum(getattr(account.headline, name) for _, account in fields))
    assert f"{got.crops['share_area_m2'].sum():.1f}" == f"{got.total('planted_m2'):.1f}"
    assert got.crops["plants"].sum() == got.total("plants")
    assert not [field for field, _ in got.cautions if not field]


def test_ground_in_two_fields_is_told_and_one_name_twice_is_refused(fields):
    over = account_for(moved("Other field", 480.0, size_m=50.0), ReportRule())
    cautions = portfolio_for([*(account for _, account in fields), over]).cautions
    (shared,) = [caution for field, caution in cautions if not field]
    assert shared.values["area"] == pytest.approx(30 * 50, rel=0.002)
    with pytest.raises(LayoutError, match="Two fields are called 'Other field'"):
        portfolio_for([over, over])
    with pytest.raises(LayoutError, match="at least one field"):
        portfolio_for([])


def test_the_files_say_the_same(fields, tmp_path):
    portfolio = portfolio_for([account for _, account in fields])
    by_name = {account.name: MapData(laid, None, EN) for laid, account in fields}
    maps = [by_name[account.name] for account in portfolio.accounts]
    written = write_portfolio(portfolio, ReportRule(), maps, tmp_path, title="Two invented fields", words=EN)
    assert {path.name for path in written} == {path.name for path in tmp_path.iterdir() if path.is_file()}
    totals = json.loads((tmp_path / "portfolio.json").read_text())["totals"]
    assert totals["planted_m2"] == {"value": portfolio.total("planted_m2"), "unit": "m2"}
    sheet = openpyxl.load_workbook(tmp_path / "portfolio.xlsx", data_only=True)["Fields"]
    heads = [cell.value for cell in sheet[1]]
    assert sheet.cell(4, heads.index("Planted beds (m²)") + 1).value == portfolio.total("planted_m2")
    text = " ".join(page_texts(tmp_path / "portfolio.pdf"))
    assert hectares_text(portfolio.total("planted_m2")).removesuffix(" ha") in text
    assert f"{portfolio.total('trees'):,.0f}" in text
    assert "East <field>" in text
    plots = json.loads((tmp_path / "portfolio_parts.geojson").read_text())["features"]
    assert [plot["properties"]["part"] for plot in plots] == ["1-01", "2-01"]


def test_an_outline_that_crosses_itself_doesn_t_stop_the_sum():
    bow_tie = Polygon([(15.0, 45.0), (15.001, 45.001), (15.001, 45.0), (15.0, 45.001)])
    beside = box(15.0, 45.0, 15.0004, 45.001)
    ((_, told),) = _shared_ground(np.array([bow_tie, beside], dtype=object), ["a", "b"])
    assert 0 < told.values["area"] < geodesic_area_m2(MultiPolygon([beside]), WGS84)
