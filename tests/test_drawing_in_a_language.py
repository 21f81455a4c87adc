"""The drawing of a stake-out: what layers hold and the notes are said in the reader's language, names and places stay."""

import re
from dataclasses import replace

import ezdxf
import pytest
from builders import UTM, square_site
from stakeout_builders import arc_rows
from test_every_word_is_translated import bare, words  # noqa: F401
from test_outputs_stakes import staked

from geoagro.outputs.stakes.dxf import write_dxf
from geoagro.outputs.stakes.places import places_of
from geoagro.outputs.words.say import ENGLISH, Words
from geoagro.values.stakeout import STAKE_KINDS, StakeRule

ROWS = arc_rows(4)


@pytest.fixture(scope="module")
def stakes():
    """Some of whose heights are not known."""
    found, _ = staked(StakeRule(), rows=ROWS, terrain=None)
    return found


def drawn(stakes, path, said, *, name="Invented Hill"):
    places = places_of(stakes.marks["x"], stakes.marks["y"], UTM, None)
    write_dxf(path, stakes, ROWS, replace(square_site(), name=name), places, words=said)
    return ezdxf.readfile(path)


def notes(drawing):
    return [text.dxf.text for text in drawing.modelspace().query("TEXT[layer=='NOTES']")]


def described(drawing):
    return {layer.dxf.name: layer.description for layer in drawing.layers if layer.dxf.name not in {"0", "Defpoints"}}


def placed(drawing):
    """Everything but the notes, by kind, layer and place."""
    space = drawing.modelspace()
    lines = [(one.dxf.layer, list(one.get_points())) for one in space.query("LWPOLYLINE")]
    points = [(one.dxf.layer, str(one.dxf.location)) for one in space.query("POINT")]
    texts = [(t.dxf.layer, t.dxf.text, str(t.dxf.insert)) for t in space.query("TEXT") if t.dxf.layer != "NOTES"]
    assert lines and points and texts
    return lines, points, texts


def test_layers_and_notes_are_said(stakes, words, tmp_path):  # noqa: F811
    drawing = drawn(stakes, tmp_path / "a.dxf", words)
    told = [*described(drawing).values(), *(re.sub("STAKES_[A-Z_]+|_NO_HEIGHT", "", line) for line in notes(drawing))]
    whole = " ".join(told)  # a long sentence goes over several lines
    assert len(told) > 20
    assert bare(whole.replace("zone 33N", "").replace("built by a test", "")) == []


def test_names_of_layers_and_all_that_is_set_out_are_the_same_in_every_language(stakes, tmp_path):
    english, french = (drawn(stakes, tmp_path / f"{w.tag}.dxf", w) for w in (ENGLISH, Words("fr")))
    assert described(english).keys() == described(french).keys()
    assert placed(english) == placed(french)
    assert described(french)["FIELD"] == "Limite de la parcelle" and described(english)["FIELD"] == "Field boundary"
    assert all(described(french).values())


def test_the_legend_names_the_kinds_that_there_are_in_their_colours(stakes, tmp_path):
    drawing = drawn(stakes, tmp_path / "a.dxf", ENGLISH)
    lines = {t.dxf.text.split()[0]: t for t in drawing.modelspace().query("TEXT[layer=='NOTES']")}
    there = {f"STAKES_{code.upper()}": STAKE_KINDS[code].drawing_colour for code in set(stakes.marks["kind"])}
    assert {name: text.dxf.color for name, text in lines.items() if name.startswith("STAKES_")} == there


def test_notes_lie_under_the_drawing_and_say_where_points_without_height_lie(stakes, tmp_path):
    drawing = drawn(stakes, tmp_path / "a.dxf", ENGLISH)
    space = drawing.modelspace()
    lowest = min(y for line in space.query("LWPOLYLINE") for _, y, *_ in line.get_points())
    assert all(text.dxf.insert.y < lowest for text in space.query("TEXT[layer=='NOTES']"))
    assert "on layers whose names end in _NO_HEIGHT" in " ".join(notes(drawing))
    assert drawing.header["$EXTMIN"][1] < lowest


def test_a_name_with_codes_of_drawing_programs_is_written_plainly(stakes, tmp_path):
    first = notes(drawn(stakes, tmp_path / "a.dxf", ENGLISH, name="Hill\n%%u 2^J"))[0]
    assert first == "Stakes of Hill % %u 2 J"
