"""What a GIS viewer shows of each GeoPackage is in the reader's language; what programs read of it is the same in all."""

from functools import cache
from numbers import Number
from pathlib import Path

import pytest
from many_builders import result
from report_builders import laid_out
from test_every_word_is_translated import bare, laid, words  # noqa: F401
from test_wrapped_surveys import built  # noqa: F401
from viewer_texts import cells, shown

from geoagro import (
    PlotRule,
    bed_light_of,
    example_field,
    lay_out,
    plots_of,
    read_crop_library,
    recipe_of,
    recipe_yields_of,
    rows_of,
    stakes_of,
)
from geoagro.inputs.laid.layout_file import read_layout_file
from geoagro.outputs.drawing.looks import FIELD, Label, Style
from geoagro.outputs.geopackage.layer import OutputLayer, spoken
from geoagro.outputs.geopackage.style_qml import qml
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout import files as layout_files
from geoagro.outputs.layout.company_layers import light_layers, yield_layers
from geoagro.outputs.layout.files import write_layout
from geoagro.outputs.layout.hand_layers import _BROKEN
from geoagro.outputs.layout.layers import layout_layers
from geoagro.outputs.layout.recipe_layers import recipe_layers
from geoagro.outputs.portfolio.store import write_store
from geoagro.outputs.report.account_data import write_account_geopackage
from geoagro.outputs.rows import files as rows_files
from geoagro.outputs.rows.files import write_rows
from geoagro.outputs.stakes.files import stake_layers
from geoagro.outputs.stakes.plot_files import write_plots
from geoagro.outputs.stakes.survey_files import write_survey
from geoagro.outputs.tables.column_words import VALUES, table_words, with_names
from geoagro.outputs.water import files as water_files
from geoagro.outputs.water.files import write_water
from geoagro.outputs.water.picture import WaterMap
from geoagro.outputs.words.say import CATALOGS, ENGLISH, Words
from geoagro.outputs.written_layers import DRAWN_LAYERS, WRITTEN_LAYERS
from geoagro.reports.account import account_for
from geoagro.values.plants import PLANTS
from geoagro.values.report import ReportRule
from geoagro.values.rows import ROW_LIMITS
from geoagro.values.rules.water import WaterRule
from geoagro.values.site import FIELD as FIELD_LAYER
from geoagro.values.words import CropName, Sentence
from geoagro.water.analysis import water_on_rows

LANGUAGES = sorted(path.stem for path in CATALOGS.glob("*.po"))
OTHER = Words("fr")


def no_picture(*given):
    """Stand for what draws a picture: where the file goes is one of the arguments."""
    next(one for one in given if isinstance(one, Path)).write_bytes(b"")


def write_laid(laid, folder, words):  # noqa: F811
    """layout.gpkg with all that may be in it."""
    write_layout(laid, folder, more=in_company(), words=words)
    return folder / "layout.gpkg"


@cache
def in_company():
    """Layers and tables about light, yields and the recipe."""
    library = read_crop_library()
    laid = lay_out(*example_field(), library)  # noqa: F811
    yields = recipe_yields_of(laid.design, library)
    return [*light_layers(bed_light_of(laid, library)), *recipe_layers(recipe_of(laid, library)), *yield_layers(yields)]


def write_plan(laid, folder, words):  # noqa: F811
    write_rows(rows_of(*example_field()), folder, words=words)
    return folder / "rows.gpkg"


def write_staked(laid, folder, words):  # noqa: F811
    stakes = stakes_of(laid.design, laid.site, laid.rows, laid.beds, laid.terrain)
    write_geopackage(folder / "stakes.gpkg", stake_layers(stakes, laid.rows), laid.site.crs, words=words)
    return folder / "stakes.gpkg"


def write_sampled(laid, folder, words):  # noqa: F811
    plots, _ = plots_of(laid.beds, laid.plants.frame, PlotRule(radius_m=3.0))
    write_plots(plots, folder, title="field", words=words)
    return folder / "plots.gpkg"


def write_watered(laid, folder, words):  # noqa: F811
    rule = WaterRule(rows="store", rain_mm=80, curve_number=85)
    plan = water_on_rows(laid.terrain.judged, laid.terrain.slope, laid.rows, laid.site.boundary, rule=rule)
    drawn = WaterMap(laid.site, laid.rows, laid.terrain, laid.contours)
    write_water(plan, drawn, folder, of_rows="ab" * 32, of_rule="cd" * 32, words=words)
    return folder / "water.gpkg"


def write_account(laid, folder, words):  # noqa: F811
    given = laid_out()
    write_account_geopackage(account_for(given, ReportRule()), given.crs, folder / "report.gpkg", words)
    return folder / "report.gpkg"


def write_many(laid, folder, words):  # noqa: F811
    return next(path for path in write_store([result("a")], folder, words) if path.suffix == ".gpkg")


PRODUCTS = (write_laid, write_plan, write_staked, write_sampled, write_watered, write_account, write_many)


@pytest.fixture(scope="module")
def undrawn():
    """Writers without their pictures, which other tests look at."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(layout_files, "write_picture", no_picture)
        for name in ("write_rows_picture", "write_difficulty_picture"):
            patch.setattr(rows_files, name, no_picture)
        patch.setattr(water_files, "write_water_picture", no_picture)
        yield


@pytest.fixture(scope="module", params=PRODUCTS, ids=lambda write: write.__name__)
def files(request, undrawn, laid, words, tmp_path_factory):  # noqa: F811
    """One product in English, in French and in the made-up language."""
    folders = {name: tmp_path_factory.mktemp(name) for name in ("english", "french", "made_up")}
    spoken_in = {"english": ENGLISH, "french": OTHER, "made_up": words}
    return {name: request.param(laid, folder, spoken_in[name]) for name, folder in folders.items()}


def test_all_that_a_viewer_shows_is_said(files):
    texts = list(shown(files["made_up"]))
    assert len(texts) > 10
    assert [(where, text) for where, text in texts if bare(text) and not where.startswith("meaning")] == []


def test_what_columns_mean_is_of_one_language_in_each_layer(files):
    """Of layers that are drawn it is the reader's; a layer of which some column has no words yet stays English as a whole."""
    said = {}
    for where, text in shown(files["made_up"]):
        if where.startswith("meaning of"):
            said.setdefault(where.split()[-1].split(".")[0], set()).add(text.startswith("«"))
    assert said and all(len(kinds) == 1 for kinds in said.values())
    drawn = {spec.name for spec in DRAWN_LAYERS} - {PLANTS.name} | {name for name in said if name.startswith("plants_")}
    assert all(said[name] == {True} for name in drawn & said.keys())


def test_what_programs_read_is_the_same_in_every_language(files):
    assert cells(files["english"]) == cells(files["french"]) == cells(files["made_up"])


def test_a_viewer_shows_the_language_asked_for(files):
    english, french = (dict(shown(files[name])) for name in ("english", "french"))
    assert english.keys() == french.keys()
    assert sum(english[where] != text for where, text in french.items()) > len(english) / 2


def test_a_layout_in_another_language_is_read_as_the_same_layout(undrawn, laid, tmp_path):  # noqa: F811
    read = []
    for name, said in (("english", ENGLISH), ("french", OTHER)):
        write_layout(laid, tmp_path / name, words=said)
        read.append(read_layout_file(tmp_path / name / "layout.gpkg"))
    one, other = read
    assert one.design == other.design and one.beds() == other.beds()
    assert one.plants().equals(other.plants())


def test_a_survey_is_shown_in_the_language_and_holds_the_same(built, words, tmp_path):  # noqa: F811
    written = [write_survey(built, tmp_path / said.tag, "example", words=said) for said in (ENGLISH, words)]
    assert [(where, text) for where, text in shown(written[1]) if bare(text) and "meaning" not in where] == []
    assert cells(written[0]) == cells(written[1])


def test_legends_of_rows_by_hand_are_said(words):  # noqa: F811
    (layer,) = spoken([OutputLayer(ROW_LIMITS, ROW_LIMITS.empty(None), Style(_BROKEN, column="limit"))], words)
    assert not [text for text, _ in layer.style.looks.values() if bare(text)]


def test_what_stands_in_a_sentence_can_be_said_too(laid):  # noqa: F811
    """A word of ours as a value of a sentence would stay English: only numbers, names, and what is a message itself."""
    stakes = stakes_of(laid.design, laid.site, laid.rows, laid.beds, laid.terrain)
    layers = [*layout_layers(laid), *in_company(), *stake_layers(stakes, laid.rows)]
    texts = [text for one in layers for text in (one.note, one.title, *_legend(one)) if isinstance(text, Sentence)]
    assert len(texts) > 10
    assert not [text for text in texts if not all(map(_sayable, text.values.values()))]


def _legend(layer):
    return [text for text, _ in layer.style.looks.values()] if layer.style else []


def _sayable(value):
    return isinstance(value, Sentence | CropName | Number) or (isinstance(value, tuple) and all(map(_sayable, value)))


@pytest.mark.parametrize("language", ["en", *LANGUAGES])
def test_no_two_columns_of_a_layer_share_a_head(language):
    """GeoPackage 1.3, table gpkg_data_columns: a column's name for people is unique in its layer."""
    said, told_apart = Words(language), []
    for spec in WRITTEN_LAYERS:
        heads = table_words(spec, said).heads
        assert len({head.casefold() for head in heads}) == len(heads)
        by_name = [f" ({name})" for name in spec.columns if name != "kg"]
        told_apart += [(spec.name, head) for head in heads if head.endswith(tuple(by_name))]
    assert not told_apart


def test_columns_and_layers_of_one_title_are_told_apart_by_their_names(words):  # noqa: F811
    assert with_names(["Area", "area", "Row"], ["map", "slope", "row"]) == ["Area (map)", "area (slope)", "Row"]
    layers = [OutputLayer(FIELD_LAYER, FIELD_LAYER.empty(None), name=name, title="Hill") for name in "ab"]
    assert [layer.identifier for layer in spoken(layers, ENGLISH)] == ["Hill (a)", "Hill (b)"]


def test_a_name_of_the_users_own_stays_in_a_legend():
    style = Style.plain("Cerro Alto", FIELD, label=Label("name", "#000000"))
    (layer,) = spoken([OutputLayer(FIELD_LAYER, FIELD_LAYER.empty(None), style)], Words("es"))
    assert "Cerro Alto" not in qml(layer.style, layer.spec, layer.columns)  # a plain look has no legend of its own
    assert layer.style.looks[""][0] == "Cerro Alto" and layer.identifier == "Lindero del campo"


def test_every_listed_value_has_words():
    fields = [field for spec in WRITTEN_LAYERS for field in spec.fields if field.values]
    assert len(fields) > 8
    assert not [(f.name, value) for f in fields for value in f.values if value not in VALUES[f.name]]
