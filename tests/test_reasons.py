"""The register of reasons: one more record there shows in every product, with the same words."""

from dataclasses import replace

import pytest
from outputs_builders import small_layout
from report_builders import field, laid_out

from geoagro.cli.columns import costs
from geoagro.ground.limit_costs import limit_costs
from geoagro.outputs.drawing.ground import HATCHES
from geoagro.outputs.layout.layers import layout_layers
from geoagro.outputs.layout.picture import draw_layout
from geoagro.outputs.map.content import map_content
from geoagro.outputs.report.areas import area_blocks
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.reports.kinds import measure_kinds
from geoagro.values.layout import Layout
from geoagro.values.reasons import REASONS, Reason, reason_of
from geoagro.values.report import LaidOut, ReportRule

EN = Words("en")
PEAT = Reason("peat", "Peat under the rows", "Peat deeper than allowed.", "raise inputs.peat_cm", "", "#123456", "dots")


@pytest.fixture
def peat(monkeypatch):
    """Have the register hold one more reason."""
    monkeypatch.setitem(REASONS, "peat", PEAT)
    return PEAT


def of_peat(frame):
    return frame.assign(reason="peat")


def peaty_layout() -> Layout:
    layout = small_layout(40)
    return replace(layout, unplanted=of_peat(layout.unplanted))


def peaty_field() -> LaidOut:
    """Book a field's setback as peat, in the layer and in the table of areas."""
    laid = laid_out(setback_m=2.0)
    table = laid.area_summary.replace({"item": {"setback": "peat"}})
    return replace(laid, area_summary=table, unplanted=laid.unplanted.replace({"reason": {"setback": "peat"}}))


def test_layers_and_their_look_show_a_reason_once_it_is_registered(peat):
    (layer,) = (layer for layer in layout_layers(peaty_layout()) if layer.spec.name == "unplanted")
    words, look = layer.style.looks["peat"]
    assert (words, look.paint, look.hatch) == (peat.words, peat.paint, peat.hatch)


def test_the_picture_shows_it(peat):
    legend = draw_layout(peaty_layout()).legends[0]
    assert peat.words in [text.get_text().replace("\n", " ") for text in legend.get_texts()]
    assert HATCHES[peat.hatch] in {patch.get_hatch() for patch in legend.get_patches()}


def test_the_report_counts_and_names_it(peat):
    site, terrain, ground, _, beds, unplanted = field(setback_m=2.0)
    kinds = measure_kinds(site, terrain, replace(ground, unplanted=of_peat(ground.unplanted)), beds, unplanted)
    (kind,) = (kind for kind in kinds if kind.item == "peat")
    assert (kind.part_of, kind.definition) == ("excluded", peat.definition)
    assert peat.words in str(list(area_blocks(account_for(peaty_field(), ReportRule()), EN)))


def test_the_map_page_shows_it(peat):
    laid = peaty_field()
    account = account_for(laid, ReportRule())
    layers = {layer["title"]: layer for layer in map_content(account, MapData(laid, None, EN), None)["layers"]}
    assert layers[peat.words]["paint"]["day"] == peat.paint


def test_the_terminal_says_what_it_costs(peat):
    layout = peaty_layout()
    table = limit_costs(layout.ground, layout.unplanted, layout.design)
    assert table["words"].tolist() == [peat.words]
    assert peat.words in costs(table)


def test_a_reason_that_only_a_file_knows_goes_by_its_own_name():
    assert reason_of("old_quarry").words == "Old quarry"
    assert "old_quarry" in reason_of("old_quarry").definition


def test_every_reason_is_complete():
    for code, reason in REASONS.items():
        assert code == reason.code
        assert reason.words
        assert reason.definition.endswith(".")
        assert bool(reason.remedy) == bool(reason.key)
        assert reason.hatch in HATCHES


def test_the_key_that_a_reason_names_stands_in_the_design():
    design = small_layout(40).design
    for reason in REASONS.values():
        owner = design
        for part in filter(None, reason.key.split(".")):
            assert part in type(owner).model_fields
            owner = getattr(owner, part)
