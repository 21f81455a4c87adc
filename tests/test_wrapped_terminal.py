"""What commands say on the terminal in a made-up language in which every message is bracketed: bare words can't be translated."""

import ast
import re
import shlex
from pathlib import Path

import pytest
from babel import Locale
from babel.messages.pofile import read_po
from bracketed_words import write_bracketed
from click.testing import CliRunner
from whole_run import COMMANDS, make

import geoagro
from geoagro.cli.main import group
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.outputs.words.say import CATALOGS, Words

WORD = re.compile(r"[^\W\d_]{3,}")
MONTHS = set(Locale("eo").months["format"]["abbreviated"].values()) | set(
    Locale("eo").months["format"]["wide"].values()
)
# names of files, keys, addresses and codes: with a dot, a slash, an underscore, a digit or an equals sign in them
NAME = re.compile(r"`[^`]*`|\S*[./_=\d]\S*")
STAY = {
    "geoagro": "the program's name",
    "Grüner": "the design's name",
    "Hang": "the design's name",
    "EUR": "the design's currency",
    "apple": "a code of the library, as the design writes it",
    "bean": "a code of the library, as the design writes it",
    "field": "a folder that the test made",
}


def bare(text):
    """Words outside all brackets that are no names."""
    depth, outside = 0, []
    for sign in text:
        depth += (sign == "«") - (sign == "»")
        outside.append(sign if depth <= 0 and sign not in "«»" else " ")
    found = WORD.findall(NAME.sub(" ", "".join(outside)))
    return [word for word in found if word not in STAY and word not in MONTHS]


@pytest.fixture(scope="module")
def made_up(tmp_path_factory):
    """A catalog in which every message is bracketed."""
    folder = write_bracketed(tmp_path_factory.mktemp("made_up"))
    kept = Words.__init__.__kwdefaults__["catalogs"]
    Words.__init__.__kwdefaults__["catalogs"] = folder
    yield folder
    Words.__init__.__kwdefaults__["catalogs"] = kept


DONE_ELSEWHERE = {
    "beds": "says what layout says of the recipe",
    "season": "test_wrapped_season.py",
    "compare": "test_every_word_is_translated.py",
}
"""Commands that take long, and where what they say is looked at."""


@pytest.fixture(scope="module")
def said(made_up, tmp_path_factory):
    """What each command says on a small invented field, by the command and its arguments."""
    folder = tmp_path_factory.mktemp("wrapped") / "field"
    make(folder)
    runner, told = CliRunner(), {}
    asked = list(dict.fromkeys(line for line in COMMANDS if line[0] not in DONE_ELSEWHERE and "geojson" not in line))
    more = [("verify", "design.yaml"), ("crops",), ("crops", "cassava"), ("new", "fresh")]
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for line in [*asked, *more]:
            result = runner.invoke(group, [*line, "--locale", "eo"], catch_exceptions=False)
            told[shlex.join(line)] = (result.exit_code, result.output)
    return told


def test_every_command_says_nothing_but_messages_and_names(said):
    assert {line: code for line, (code, _) in said.items() if code} == {}
    found = {line: bare(text) for line, (_, text) in said.items() if not line.startswith("crops")}
    assert {line: words for line, words in found.items() if words} == {}


def test_crops_are_told_with_codes_and_scientific_names_as_they_are(said):
    library = read_crop_library()
    kept = {word for code in library for word in WORD.findall(f"{code} {library[code].scientific}")}
    assert [word for word in bare(said["crops"][1]) if word not in kept] == []
    page = said["crops cassava"][1]
    assert page.startswith("«cassava» (cassava)")
    assert f"«{library['cassava'].caution}»"[:60] in page


def test_a_bare_word_is_found():
    assert bare("«Rows: «tree bed»» and 3 m, R001, layout.gpkg, rows.spacing_m") == ["and"]


def test_every_marked_message_is_in_the_catalogue():
    """A mark within an f-string isn't found by the collector, and the message would stay English."""
    with (CATALOGS / "geoagro.pot").open("rb") as file:
        known = {str(message.id) for message in read_po(file)}
    missing = []
    for path in Path(geoagro.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and getattr(node.func, "id", "") in {"say", "meant", "Sentence"}
                and node.args
            ):
                text = node.args[-1 if node.func.id == "meant" else 0]
                marked = isinstance(text, ast.Constant) and re.search(
                    r"[^\W\d_]{2,}", re.sub(r"\{[^}]*\}", "", str(text.value))
                )
                missing += [(path.name, text.value)] if marked and text.value not in known else []
    assert missing == []
