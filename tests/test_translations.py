"""Every catalog that is shipped is whole, fills in what the English text fills in, and fits where that fits."""

import re
import string

import pytest
from babel.messages.pofile import read_po

from geoagro.outputs.words.say import CATALOGS

LANGUAGES = ("es", "fr", "pt_BR")
STAY = re.compile(r"[\d\s.,;:%°²³/()<>=+–·×-]*|[A-Z]{2,5}|\{[a-z_]+\}")
"""Texts that may be the same in every language: figures, signs, abbreviations, nothing but a value."""


def catalog(name):
    with (CATALOGS / name).open("rb") as file:
        return {str(m.id): m for m in read_po(file) if m.id}


POT = catalog("geoagro.pot")


@pytest.fixture(scope="module", params=LANGUAGES)
def texts(request):
    return catalog(f"{request.param}.po")


def places(text):
    """Names that are filled in, with their formats."""
    return sorted((name, form) for _, name, form, _ in string.Formatter().parse(text) if name is not None)


def test_every_text_is_translated_and_none_that_is_gone(texts):
    assert sorted(POT.keys() - texts.keys()) == []
    assert sorted(texts.keys() - POT.keys()) == []
    assert [m.id for m in texts.values() if not m.string or m.fuzzy] == []


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
    same = [i for i, m in texts.items() if i == m.string and not STAY.fullmatch(i)]
    assert len(same) < 0.06 * len(texts), same


def test_codes_names_of_files_and_keys_stay_as_they_are(texts):
    code = re.compile(r"`[^`]+`|\b\w+\.(?:gpkg|csv|yaml|pdf|xlsx|json|geojson|html|ics)\b|--[a-z]+")
    wrong = [
        (m.id, m.string)
        for m in texts.values()
        if sorted(code.findall(str(m.id))) != sorted(code.findall(str(m.string)))
    ]
    assert wrong == []
