"""Words for people go through the catalogue, so that they can be translated; what doesn't yet is listed and only shrinks."""

import ast
import re
from pathlib import Path

import geoagro

OUTPUTS = Path(geoagro.__file__).parent / "outputs"

# calls that put words before people, and which of their arguments are words
SINKS = {
    "text": (2,), "set_title": (0,), "set_xlabel": (0,), "set_ylabel": (0,), "annotate": (0,), "suptitle": (0,), "chart": (1, 2),
    "fill_entry": (0,), "line_entry": (0,), "LegendEntry": (0,), "_write": (3,), "_text": (3,), "month_axis": (), "number_axis": (1,),
    "table": (0,),
}  # fmt: skip
NAMED = ("label", "title", "words", "xlabel", "ylabel")
WORD = re.compile(r"[A-Za-z]{3,}")
CODE = re.compile(r"^(#[0-9a-f]{6}|[a-z_]+|[a-z]+ [a-z]+ ?(left|right|center)|[^ ]*[./][^ ]*)$")

# files whose words are still bare, with how many; a lower count is to be written here, a higher one is a mistake
STILL_BARE: dict[str, int] = {}


def bare_words(source):
    """Literals with words in them that reach a page without `say`, as line and text."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        given = [node.args[k] for k in SINKS.get(name, ()) if k < len(node.args)]
        given += [one.value for one in node.keywords if name in SINKS and one.arg in NAMED]
        found += [
            (part.lineno, text)
            for one in given
            for part, text in _literals(one)
            if WORD.search(text) and not CODE.match(text)
        ]
    return found


def _literals(node):
    """Constants and constant parts of f-strings within an expression, but for what stands inside a call."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node, node.value
    elif isinstance(node, ast.JoinedStr):
        yield from ((part, part.value) for part in node.values if isinstance(part, ast.Constant))
    elif isinstance(node, ast.BinOp | ast.IfExp | ast.List | ast.Tuple):
        for child in ast.iter_child_nodes(node):
            yield from _literals(child)


def templates(text):
    """Words that stand in a template itself: in brackets, outside of code."""
    plain = re.sub(r"//.*", "", text)
    return [words for words in re.findall(r"\[([^\[\]#]*[A-Za-z]{3,}[^\[\]#]*)\]", plain) if " " in words.strip()]


def counts():
    found = {}
    for path in sorted(OUTPUTS.rglob("*.py")):
        if number := len(bare_words(path.read_text(encoding="utf-8"))):
            found[path.relative_to(OUTPUTS).as_posix()] = number
    for path in sorted(OUTPUTS.rglob("*.typ")):
        if number := len(templates(path.read_text(encoding="utf-8"))):
            found[path.relative_to(OUTPUTS).as_posix()] = number
    return found


def test_words_for_people_go_through_the_catalogue():
    assert counts() == STILL_BARE


def test_a_bare_word_is_found_and_a_translatable_one_is_not():
    assert [text for _, text in bare_words('axes.text(0, 0, "Bed begins here")')] == ["Bed begins here"]
    assert [text for _, text in bare_words('axes.text(0, 0, f"{n} beds of this kind")')] == [" beds of this kind"]
    assert bare_words('axes.text(0, 0, words(say("Bed begins here")))') == []
    assert bare_words('axes.text(0, 0, name, color="#20262b", ha="center")') == []


# texts for programs, and failures put together before they are raised, which stay English
GLUED = {
    "stakes/survey_files.py": 1, "staging.py": 1, "tables/layer_tables.py": 1, "report/parts_geojson.py": 4, "words/catalog.py": 1,
}  # fmt: skip


def glued(source):
    """Lines where a name and a text are put together by a colon in an f-string: French wants a space before it."""
    tree = ast.parse(source)
    failures = {part for node in ast.walk(tree) if isinstance(node, ast.Raise) for part in ast.walk(node)}
    failures |= {part for node in ast.walk(tree) if _is_failure(node) for part in ast.walk(node)}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr) and node not in failures:
            texts = [part.value for part in node.values if isinstance(part, ast.Constant)]
            found += [node.lineno] if any(": " in str(text) for text in texts) else []
    return found


def _is_failure(node):
    return isinstance(node, ast.Call) and getattr(node.func, "id", "").endswith("Error")


def test_no_name_and_text_are_glued_by_a_colon():
    lines = {p.relative_to(OUTPUTS).as_posix(): glued(p.read_text(encoding="utf-8")) for p in OUTPUTS.rglob("*.py")}
    assert {path: len(found) for path, found in lines.items() if found} == GLUED


def test_a_glued_sentence_is_found_and_a_failure_is_not():
    assert glued('text = f"{crop}: {notes}."') == [1]
    assert glued('raise InputError(f"{where}: holds no data")') == []
    assert glued('words(say("{crop}: {notes}."), crop=crop, notes=notes)') == []
