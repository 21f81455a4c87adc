"""Where figures come from: what we say ourselves is in the reader's language, works are named as they are called."""

import re

import pytest
import season_cases as cases

from geoagro import read_crop_library
from geoagro.outputs.tables.cited import cited
from geoagro.outputs.words.say import Words

LIBRARY = {str(source) for crop in read_crop_library().values() for source in crop.sources.values()}
RATES = {str(source) for source in cases.standard_plan().rates["source"]}
OURS = re.compile(
    r"^by (rule|definition)|^reckoned|from memory|common practice|no source|^practice|^half of the|taken as|^grown through"
    r"|forest or hedge|held for|^as \w+|\(range |by rule"
)


@pytest.mark.parametrize("language", ["es", "fr", "pt_BR"])
def test_what_we_say_of_a_source_is_told(language):
    words = Words(language)
    assert len(LIBRARY) > 150 and len(RATES) > 10
    ours = [source for source in LIBRARY | RATES if OURS.search(source)]
    assert len(ours) > 35
    assert [source for source in ours if cited(source, words) == source] == []
    left = re.compile(r"\b(reckoned|by rule|from memory|not looked up|half of|here \d)\b")
    assert [told for source in ours if left.search(told := cited(source, words))] == []


@pytest.mark.parametrize("language", ["es", "fr", "pt_BR"])
def test_cited_works_stay_to_the_letter(language):
    words = Words(language)
    works = [source for source in LIBRARY if not OURS.search(source)]
    assert len(works) > 120
    changed = [source for source in works if cited(source, words) != source]
    assert changed == [
        "cuttings of 30-50 cm from a stem of 1 m give 2-3 pieces (IITA; FAO-INADES counts 4-5 short ones)"
    ]


def test_as_another_crop():
    assert cited("as maize", Words("fr")) == "comme maïs"
    assert cited("as cassava: IITA 1996 in FAO INPhO (range 0.015-0.03)", Words("es")) == (
        "como yuca: IITA 1996 in FAO INPhO (rango 0,015-0,03)"
    )


def test_a_pair_of_crops_by_their_codes_is_told_again():
    """Files hold codes, with their underscores; a pair of them is told as crops."""
    told = Words("fr").again(
        "1 pair of plants stands on one place at the same time, e.g. sweet_potato and lettuce in bed R013-D1, 35.00 m along line "
        "1 (700140.03, 6680086.87), weeks 0 to 12. Give one of them other lines or offsets, or plant it `after` the other."
    )
    assert "patate douce et laitue" in told and "sweet" not in told
