"""Every catalog that is shipped is whole, fills in what the English text fills in, and fits where that fits."""

import re
import string
from itertools import pairwise

import pytest
from babel.messages.pofile import read_po
from french_marks import against_the_rule
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from geoagro.outputs.drawing.typefaces import FONTS
from geoagro.outputs.stakes import sheets
from geoagro.outputs.stakes.pocket_list import _HEADS, TEMPLATE
from geoagro.outputs.stakes.sheets import columns_of_parts
from geoagro.outputs.words.say import CATALOGS, Words
from geoagro.values.words import FORMS

LANGUAGES = ("es", "fr", "pt_BR")
STAY = re.compile(r"[\d\s.,;:%°²³/()<>=+–·×-]*|[A-Z]{2,5}|\{[a-z_]+\}")
"""Texts that may be the same in every language: figures, signs, abbreviations, nothing but a value."""


def catalog(name):
    with (CATALOGS / name).open("rb") as file:
        return {about(m): m for m in read_po(file) if m.id}


def about(message):
    """A message, with what it is about where it has several meanings."""
    return f"{message.context}|{message.id}" if message.context else str(message.id)


POT = catalog("geoagro.pot")


@pytest.fixture(scope="module", params=LANGUAGES)
def texts(request):
    return catalog(f"{request.param}.po")


def places(text):
    """Names that are filled in, with their formats; a word that hangs on a number may do so in one language only."""
    found = [(name, form) for _, name, form, _ in string.Formatter().parse(text) if name is not None]
    return sorted(one for one in found if FORMS not in (one[1] or ""))


def test_every_text_is_translated_and_none_that_is_gone(texts):
    assert sorted(POT.keys() - texts.keys()) == []
    assert sorted(texts.keys() - POT.keys()) == []
    assert [about(m) for m in texts.values() if not m.string or m.fuzzy] == []


def test_every_value_of_the_english_text_stands_in_the_translation(texts):
    assert [(m.id, m.string) for m in texts.values() if places(str(m.id)) != places(str(m.string))] == []


def test_breaks_and_blanks_at_the_ends_stay(texts):
    wrong = [
        m.id
        for m in texts.values()
        if (str(m.string) != str(m.string).strip() and str(m.id) == str(m.id).strip())
        or abs(str(m.id).count("\n") - str(m.string).count("\n")) > 1
    ]
    assert wrong == []


def test_sentences_end_as_the_english_ones(texts):
    ends = (".", ":", "?", "!", "…")
    wrong = [
        (m.id, m.string)
        for m in texts.values()
        if len(str(m.id)) > 25 and (str(m.id)[-1] in ends) != (str(m.string)[-1] in ends)
    ]
    assert wrong == []


def test_most_texts_differ_from_the_english_ones(texts):
    same = [i for i, m in texts.items() if m.id == m.string and not STAY.fullmatch(m.id)]
    assert len(same) < 0.06 * len(texts), same


def test_codes_names_of_files_and_keys_stay_as_they_are(texts):
    code = re.compile(r"`[^`]+`|\b\w+\.(?:gpkg|csv|yaml|pdf|xlsx|json|geojson|html|ics)\b|--[a-z]+")
    wrong = [
        (m.id, m.string)
        for m in texts.values()
        if sorted(code.findall(str(m.id))) != sorted(code.findall(str(m.string)))
    ]
    assert wrong == []


def millimetres(text, size_pt, font):
    box = TextPath((0, 0), text, size=size_pt, prop=font).get_extents()
    return box.width * 25.4 / 72


BOLD = FontProperties(fname=next(FONTS.glob("*-Bold.ttf")))


@pytest.mark.parametrize("language", ("en", *LANGUAGES))
def test_heads_of_the_parts_of_a_walk_leave_room_to_the_next(language):
    words = Words(language)
    columns = columns_of_parts(words)
    for (name, x), (_, following) in pairwise(columns):
        assert millimetres(words(name), 7.5, BOLD) < following - x - 0.5, words(name)
    name, x = columns[-1]
    assert x + millimetres(words(name), 7.5, BOLD) < sheets._OVERVIEW_PANEL_MM


@pytest.mark.parametrize("language", ("en", *LANGUAGES))
def test_words_of_heads_of_the_pocket_list_are_no_wider_than_their_columns(language):
    words = Words(language)
    inner = [
        float(w) - 1.8
        for w in re.search(r"columns: \((\d[^f]+?), 1fr", TEMPLATE.read_text())[1].replace("mm", "").split(",")
    ]
    for head, width in zip(_HEADS, inner, strict=True):
        for word in words(head).split():
            assert millimetres(word, 8.5, BOLD) <= width + 0.3, word


@pytest.mark.parametrize(
    "wrong", ["Lignes: 5", "5 % des", "{n}%", "des «planches\u00a0»", "des «\u00a0planches»", "a\u00a0; b", "a; b", "Ah!", "un 'mot'", 'un "mot"', "fin :"]
)  # fmt: skip
def test_a_french_mark_against_the_rule_is_found(wrong):
    assert len(against_the_rule(wrong)) >= 1


def test_french_marks_that_keep_the_rule_and_keys_of_the_design_pass():
    assert against_the_rule("Lignes\u00a0: 5\u00a0% des «\u00a0planches\u00a0»\u202f; l'eau (a\u202f; b)\u202f?") == []
    assert against_the_rule("Donner bed: tree.", "Give bed: tree.") == []


def test_french_marks_have_their_spaces():
    texts = catalog("fr.po").values()
    assert [(m.string, wrong) for m in texts if (wrong := against_the_rule(str(m.string), str(m.id)))] == []
