import ast
import pickle
import re
import string
from pathlib import Path

import pytest
from babel.messages.pofile import read_po
from hypothesis import given
from hypothesis import strategies as st

import geoagro
from geoagro.cli.habits.language import words_of
from geoagro.errors import DesignError, OutputError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.outputs.words.catalog import catalog_text
from geoagro.outputs.words.recognised import CROPS, NAMES
from geoagro.outputs.words.say import CATALOGS, CROP, NOTHING, UNREVIEWED, Words
from geoagro.season.defaults import LIMITS
from geoagro.values.rules.crop_words import STRATA
from geoagro.values.words import Sentence, meant

POT = CATALOGS / "geoagro.pot"


def test_the_translators_catalog_holds_every_text_as_it_is():
    assert POT.read_text(encoding="utf-8") == catalog_text(Path(geoagro.__file__).parent), (
        "run `python scripts/refresh_words.py`"
    )


def test_a_whole_translation_changes_every_word_of_the_report(tmp_path):
    with POT.open("rb") as file:
        texts = [str(message.id) for message in read_po(file) if message.id and not message.context]
    assert len(texts) > 200
    lines = ['msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8\\n"\n']
    lines += [f"msgid {quoted(text)}\nmsgstr {quoted('¤' + text)}\n" for text in texts]
    (tmp_path / "sv.po").write_text("\n".join(lines), encoding="utf-8")
    words = Words("sv", catalogs=tmp_path)
    assert all(words(text).startswith("¤") for text in texts)


def quoted(text):
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def test_a_translation_that_names_an_unknown_value_is_refused_in_words(tmp_path):
    (tmp_path / "de.po").write_text('msgid "for {name}"\nmsgstr "für {nmae}"\n', encoding="utf-8")
    with pytest.raises(OutputError, match=r"für|for \{name\}"):
        Words("de", catalogs=tmp_path)("for {name}", name="x")


@pytest.mark.parametrize(
    ("locale", "text"), [("en", "1,234.5"), ("de", "1.234,5"), ("fr", "1\u00a0234,5"), ("pt_BR", "1.234,5")]
)
def test_numbers_follow_the_locale(locale, text):
    assert Words(locale).number(1234.45, 1) == text


def test_there_is_a_dash_where_there_is_no_number_and_no_minus_before_zero():
    words = Words("en")
    assert words.number(float("nan"), 1) == words.hectares(None) == NOTHING
    assert words.number(-0.04, 1) == "0.0"


@given(st.floats(-1e9, 1e9), st.integers(0, 4))
def test_a_number_read_back_is_what_was_written(value, decimals):
    text = Words("en").number(value, decimals).replace(",", "")
    assert float(text) == pytest.approx(value, abs=0.5000001 * 10**-decimals)


def test_a_command_speaks_the_language_asked_for_else_that_of_the_design_else_english():
    design = geoagro.example_layout().design.model_copy(update={"locale": "pt_BR"})
    assert [str(words_of(*given).locale) for given in (("fr", design), (None, design), (None,))] == [
        "fr",
        "pt_BR",
        "en",
    ]
    with pytest.raises(DesignError, match="--locale: 'xx_none' is not a language"):
        words_of("xx_none", design)


def test_every_crop_of_the_library_has_its_name_in_the_catalog():
    with (CATALOGS / "geoagro.pot").open("rb") as file:
        messages = {str(message.id) for message in read_po(file) if message.context == CROP}
    library = read_crop_library()
    assert {library[code].name for code in library} <= messages


def test_every_caution_is_in_the_catalog():
    with POT.open("rb") as file:
        known = {str(message.id) for message in read_po(file)}
    library = read_crop_library()
    cautions = {text for code in library for text in (library[code].caution, library[code].order_caution) if text}
    assert len(cautions) > 5
    assert cautions | set(LIMITS.values()) <= known
    package, told = Path(geoagro.__file__).parent, []
    for path in package.rglob("*.py"):
        for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(function, ast.FunctionDef) and any(_is_caution(node) for node in ast.walk(function)):
                texts = _constants(function)
                told += [text for text in texts if isinstance(text, str) and text.count(" ") > 2]
    assert len(told) > 10
    assert set(told) <= known


def _constants(function):
    """Texts within a function, but for its docstring and its failures."""
    body = function.body[1:] if ast.get_docstring(function) else function.body
    nodes = [node for part in body for node in ast.walk(part)]
    failures = {inner for node in nodes if isinstance(node, ast.Raise) for inner in ast.walk(node)}
    return [node.value for node in nodes if isinstance(node, ast.Constant) and node not in failures]


def _is_caution(node):
    return isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Caution"


def _filled(message, own):
    """An English sentence with a name of the user's own wherever a name may stand, and how often it does."""
    places = [(name, form) for _, name, form, _ in string.Formatter().parse(message) if name is not None]
    values = {name: 3 if form else own if name in NAMES | CROPS else "x" for name, form in places}
    return str(Sentence(message, **values)), sum(values[name] == own for name, _ in places)


@pytest.mark.parametrize("own", ["high", "Rows", "tree beds"])
def test_a_name_of_ones_own_that_equals_a_message_is_never_told_as_one(own):
    words = Words("es")
    assert words.crop(own) == own
    with POT.open("rb") as file:
        messages = [
            str(m.id)
            for m in read_po(file)
            if m.id and re.search(r"\{\w+(:[^ ]*)?\}", str(m.id)) and "`" not in str(m.id)
        ]
    told = [(text, words.again(text), n) for text, n in (_filled(message, own) for message in messages) if n]
    assert len(told) > 100
    assert [(text, said) for text, said, n in told if len(re.findall(rf"\b{own}\b", said)) < n] == []


def test_each_meaning_of_a_word_has_its_own_translation():
    words = Words("fr")
    assert (words(STRATA["high"]), words(meant("range", "high"))) == ("haute", "haut")
    assert (words(meant("button", "Measure")), words(meant("column", "Measure"))) == ("Mesurer", "Mesure")
    again = pickle.loads(pickle.dumps(STRATA["high"]))
    assert (again, again.about, words(again)) == ("high", "stratum", "haute")


def test_a_language_takes_the_texts_of_its_own_country_first_then_of_any(tmp_path):
    for name, text in (("pt_BR", "Filas"), ("fr", "Rangs")):
        head = f"# {UNREVIEWED}\n" if name == "fr" else ""
        (tmp_path / f"{name}.po").write_text(
            f'{head}msgid ""\nmsgstr ""\n\nmsgid "Rows"\nmsgstr "{text}"\n', encoding="utf-8"
        )
    given = {code: Words(code, catalogs=tmp_path) for code in ("pt_BR", "pt", "pt_PT", "fr_CA", "de", "en_GB")}
    assert {code: words("Rows") for code, words in given.items()} == {
        "pt_BR": "Filas", "pt": "Filas", "pt_PT": "Filas", "fr_CA": "Rangs", "de": "Rows", "en_GB": "Rows",
    }  # fmt: skip
    assert [code for code, words in given.items() if not words.has_texts] == ["de"]
    assert [code for code, words in given.items() if not words.is_reviewed] == ["fr_CA"]
    assert given["pt_PT"].number(1.5, 1) == "1,5"
