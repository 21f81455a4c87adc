"""The design file: every mistake at once, one line each, with line, key and fix."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geoagro.errors import DesignError, InputError, OutputError
from geoagro.inputs.design.file import read_design
from geoagro.inputs.design.located import located
from geoagro.inputs.design.template import write_design_template
from geoagro.values.design import Design

GOOD = """\
name: invented
inputs:
  boundary: {file: b.gpkg}
  elevation: {file: e.tif}
"""


def read(tmp_path, text, name="design.yaml"):
    (tmp_path / name).write_text(text, encoding="utf-8")
    return read_design(tmp_path / name)


def mistakes(tmp_path, text, name="design.yaml"):
    with pytest.raises(DesignError) as caught:
        read(tmp_path, text, name)
    return str(caught.value).splitlines()


def test_a_small_design_is_read_and_knows_its_folder(tmp_path):
    design = read(tmp_path, GOOD + "rows: {spacing_m: 15 ft}\n")
    assert design.rows.spacing_m == pytest.approx(4.572)
    assert design.folder == tmp_path
    assert design.inputs.boundary.file == Path("b.gpkg")


def test_every_mistake_is_told_at_once_in_the_order_of_the_file(tmp_path):
    text = GOOD + (
        "rows:\n"  # line 5
        "  method: kontour\n"
        "  spacng_m: 4\n"
        "  max_grade_pct: 4 degrees\n"
        "  spacing_m: 0\n"
        "beds: 3\n"
        "plantings:\n"
        "  - {crop: apple, bed: tree}\n"
        "  - crop: bean\n"
        "    bed: vegtable\n"
        "    lines: 0\n"
        "    offsets_m: [1, x]\n"
    )
    told = mistakes(tmp_path, text)
    expected = """\
design.yaml:6: rows.method: must be one of 'contour', 'straight', 'guide' or 'drawn' (got 'kontour'). Did you mean 'contour'?
design.yaml:7: rows.spacng_m: unknown key; did you mean 'spacing_m'?
design.yaml:8: rows.max_grade_pct: must be a number (got '4 degrees'). Hard limit over any 10 m along a row.
design.yaml:9: rows.spacing_m: must be above 0 (got 0). Distance between tree rows. The default is 4.5.
design.yaml:10: beds: must be a section with keys of its own (got 3).
design.yaml:14: plantings[2].bed: must be
design.yaml:15: plantings[2].lines: must be at least 1 (got 0). Lines across the bed, evenly spread. The default is 1.
design.yaml:16: plantings[2].offsets_m[2]: 'x' is not a length; write 4.5, '4.5 m', '450 cm' or '15 ft'.
""".splitlines()
    assert len(told) == len(expected)
    for one, start in zip(told, expected, strict=True):
        assert one.startswith(start)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name: a\ninputs:\n  boundary: {file: b}\n", "design.yaml:2: inputs: give exactly one of elevation, contours, slope (found: none)."),
        ("inputs: {boundary: {file: b}, slope: {file: s}}\n", "design.yaml: name: missing."),
        (GOOD + "rows: {method: guide}\n", "design.yaml: rows.method: guide needs a line to follow; give `inputs.guides` with a file."),
        (GOOD + "rows: {preferred_grade_pct: 9}\n", "design.yaml:5: rows: preferred_grade_pct must not be above max_grade_pct."),
        (GOOD + "rows: {bearing_deg: 400}\n", "design.yaml:5: rows.bearing_deg: must be 'auto' or 'guide' or below 360 (got 400). For method straight; guide: rows start at the longest line of inputs.guides"),
        (GOOD + "rows: {spacing_m: .inf}\n", "design.yaml:5: rows.spacing_m: must be a finite number (got inf). Distance between tree rows. The default is 4.5."),
        (GOOD + "start_date: 2027-13-01\n", "design.yaml:5: start_date: must be a date such as 2026-03-01 (got '2027-13-01')."),
        (GOOD + "colour: 3\n", "design.yaml:5: colour: unknown key; known here: "),
        (GOOD + "folder: x\n", "design.yaml:5: folder: unknown key; take it out."),
        ("name: a\nname: b\n", 'design.yaml:2: found duplicate key "name" with value "b" (original value: "a"). Keep one of them.'),
        ("name: [a\nrows: 3\n", "design.yaml:2: not YAML: "),
        ("- a\n", "design.yaml: a design file holds sections such as `inputs:` and `rows:`; found none."),
        ("", "design.yaml: a design file holds sections"),
    ],
)  # fmt: skip
def test_each_mistake_names_line_key_and_fix(tmp_path, text, message):
    told = mistakes(tmp_path, text)
    assert len(told) == 1
    assert told[0].startswith(message)


def test_yaml_is_read_by_its_present_rules(tmp_path):
    design = read(tmp_path, GOOD.replace("invented", "no") + "rows: {spacing_m: 045e-1}\n")
    assert design.name == "no"  # not False
    assert design.rows.spacing_m == 4.5


def test_toml_is_read_too(tmp_path):
    text = 'name = "a"\n[inputs]\nboundary = {file = "b"}\nelevation = {file = "e"}\n[rows]\nspacing_m = "4 m"\n'
    assert read(tmp_path, text, "d.toml").rows.spacing_m == 4.0
    assert mistakes(tmp_path, text.replace("4 m", "4 mm") + "x = 1", "d.toml")[0].startswith(
        "d.toml: rows.x: unknown key"
    )
    assert mistakes(tmp_path, "name = ", "d.toml")[0].startswith("d.toml: not TOML: ")


def test_what_is_no_design_file_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"isn't there. `geoagro new FOLDER` writes one"):
        read_design(tmp_path / "no.yaml")
    with pytest.raises(InputError, match=r"is a folder; name the design file in it"):
        read_design(tmp_path)
    with pytest.raises(DesignError, match=r"a.txt: a design file ends in .yaml, .yml or .toml"):
        read(tmp_path, GOOD, "a.txt")
    (tmp_path / "b.yaml").write_bytes(b"name: \xff\xfe")
    with pytest.raises(InputError, match="isn't text in UTF-8"):
        read_design(tmp_path / "b.yaml")


@settings(max_examples=40, deadline=None)
@given(st.text(alphabet="abc: -[]{}#'\"\n0.,&*!", max_size=60))
def test_any_text_is_read_or_refused_in_words(tmp_path_factory, text):
    path = tmp_path_factory.mktemp("any") / "design.yaml"
    path.write_text(text)
    try:
        read_design(path)
    except (DesignError, InputError) as error:
        assert str(error).startswith("design.yaml")


# ------------------------------------------------------------------ recipes


RECIPE = """\
name: invented mix
crops:
  bean: {spacing_m: 0.2, name: runner bean}
plantings:
  - {crop: bean, bed: vegetable}
"""


def test_recipes_come_before_the_design_s_own_crops_and_plantings(tmp_path):
    (tmp_path / "mix.yaml").write_text(RECIPE)
    own = "recipes: [mix.yaml]\ncrops: {bean: {spacing_m: 0.25}}\nplantings: [{crop: apple, bed: tree}]\n"
    design = read(tmp_path, GOOD + own)
    assert [p.crop for p in design.plantings] == ["bean", "apple"]
    assert (design.crops["bean"].spacing_m, design.crops["bean"].name) == (0.25, "runner bean")
    assert design.recipes == (Path("mix.yaml"),)


def test_mistakes_in_a_recipe_name_its_file_and_line(tmp_path):
    (tmp_path / "mix.yaml").write_text(RECIPE.replace("crop: bean", "crp: bean"))
    told = mistakes(tmp_path, GOOD + "recipes: [mix.yaml]\n")
    assert told[0].startswith("mix.yaml:5: plantings[1].crp: unknown key; did you mean 'crop'?")
    with pytest.raises(InputError, match=r"recipes\[1\]: no.yaml isn't there"):
        read(tmp_path, GOOD + "recipes: [no.yaml]\n")


# ------------------------------------------------------------------ the template


def test_the_template_loads_and_states_the_defaults(tmp_path):
    design = read_design(write_design_template(tmp_path / "new" / "design.yaml"))
    plain = Design.model_validate({"name": design.name, "inputs": design.inputs})
    for section in ("ground", "rows", "beds", "output"):
        assert getattr(design, section) == getattr(plain, section), section
    assert {p.bed for p in design.plantings} == {"tree", "vegetable"}


def test_the_template_names_every_key_of_its_sections(tmp_path):
    text = write_design_template(tmp_path / "design.yaml").read_text()
    for section in ("inputs", "ground", "rows", "beds", "output"):
        for key in Design.model_fields[section].annotation.model_fields:
            assert f"{key}:" in text, f"{section}.{key}"


def test_the_switched_off_lines_of_the_template_load_too(tmp_path):
    text = write_design_template(tmp_path / "design.yaml").read_text()
    lines = []
    for line in text.splitlines():
        bare = line.lstrip()
        switched = bare.startswith("# ") and (
            bare[2:].lstrip().split(":")[0].isidentifier() or bare[2:].startswith("  - ")
        )
        lines.append(line.replace("# ", "", 1) if switched and line.startswith(" ") else line)
    on = "\n".join(line for line in lines if not line.lstrip().startswith("#"))
    on = on.replace(
        "  elevation:\n    file: elevation.tif           # any raster of heights\n", "  _drop:\n    file: x\n"
    )
    with pytest.raises(DesignError) as caught:
        read(tmp_path, on, "on.yaml")
    told = str(caught.value).splitlines()
    assert all("_drop" in t or "unknown key" not in t for t in told), told


def test_an_existing_file_is_never_touched(tmp_path):
    (tmp_path / "design.yaml").write_text("mine")
    with pytest.raises(OutputError, match="is there already and stays as it is"):
        write_design_template(tmp_path / "design.yaml")
    assert (tmp_path / "design.yaml").read_text() == "mine"
    with pytest.raises(OutputError, match="is there already"):
        write_design_template(tmp_path / "design.yaml" / "deeper.yaml")


def test_a_new_design_leaves_to_the_receiver_what_the_receiver_decides(tmp_path):
    """Given there, 5 cm would hold for a phone as for a surveyor's receiver, and ask for half as many stakes again."""
    given = read_design(write_design_template(tmp_path / "design.yaml")).stakeout.model_fields_set
    assert not given & {"tolerance_m", "minutes_per_stake"}


@pytest.mark.parametrize(
    ("told", "line"),
    [
        ("rows.spacing_m: is too wide.", "design.yaml:5: "),
        ("season.windows[1]: never opens.", "design.yaml:7: "),
        ("crops.bean.spacing_m: is too wide.", "design.yaml:8: "),
        ("rows.max_grade_pct: keeps all rows out.", "design.yaml:4: "),
        ("rows.gpkg: the result can't be written.", ""),
        ("season.xlsx: the result can't be written.", ""),
        ("water.gpkg: the result can't be written.", ""),
    ],
)
def test_an_error_gets_the_line_of_its_key_and_a_result_called_like_a_section_gets_none(tmp_path, told, line):
    path = tmp_path / "design.yaml"
    path.write_text(
        "name: invented\ninputs: {boundary: {file: b.gpkg}, elevation: {file: e.tif}}\nwater: {rows: store}\n"
        "rows:\n  spacing_m: 5\nseason:\n  windows: [{name: w, kind: rains, first: 03-01, last: 04-01}]\n"
        "crops: {bean: {spacing_m: 1}}\n"
    )
    with pytest.raises(OutputError) as error, located(path):
        raise OutputError(told)
    assert str(error.value) == line + told
