from xml.etree import ElementTree

import geopandas as gpd
import pyogrio
from builders import UTM
from plants_builders import crop, stand

from geoagro.outputs.drawing.crop_looks import crop_look
from geoagro.outputs.drawing.looks import Style
from geoagro.outputs.geopackage.style_qml import qml
from geoagro.outputs.geopackage.style_sld import sld
from geoagro.outputs.geopackage.writer import write_geopackage
from geoagro.outputs.layout.recipe_layers import recipe_layers
from geoagro.outputs.tables.column_words import table_words
from geoagro.outputs.words.say import ENGLISH
from geoagro.values.plants import PLANTS


def test_conflicts_and_tables_are_written_for_any_viewer(tmp_path):
    crops = {"a": crop(harvest="uproot", harvest_weeks=(15, 20)), "b": crop(stratum="high")}
    plantings = [{"crop": "a", "offsets_m": [0.1]}, {"crop": "b", "offsets_m": [-0.1]}]
    plants, analysis = stand(plantings, crops)
    path = tmp_path / "recipe.gpkg"
    write_geopackage(path, recipe_layers(analysis), UTM)
    names = {name for name, _ in pyogrio.list_layers(path)}
    wanted = {"conflicts", "root_pairs", "cover", "kind_cover", "strata", "timeline", "weeding"}
    assert wanted <= names
    back = gpd.read_file(path, layer="conflicts")
    assert len(back) == (plants.frame["crop"] == "b").sum()
    assert set(back["with_crop"]) == {"a"}


def test_what_holds_nothing_is_left_out():
    _, analysis = stand([{"crop": "a"}], {"a": crop()})
    names = {layer.table for layer in recipe_layers(analysis)}
    assert "conflicts" not in names


def test_plants_that_face_a_direction_carry_an_arrow_turned_by_their_bearing():
    arrows = Style.plain("a", crop_look(0, "low", arrow_from="bearing_deg"))
    tree = ElementTree.fromstring(qml(arrows, PLANTS, table_words(PLANTS, ENGLISH)).split("\n", 1)[1])
    driven = {o.get("name"): o for o in tree.iter("Option") if o.get("name") in ("angle", "enabled")}
    assert {v.get("value") for v in driven["angle"]} == {"true", "bearing_deg", "2"}
    assert {v.get("value") for v in driven["enabled"]} == {"true", '"bearing_deg" IS NOT NULL', "3"}
    assert "bearing_deg" in sld(arrows, PLANTS, "plants_a")
    plain = Style.plain("a", crop_look(0, "low"))
    assert "data_defined" not in qml(plain, PLANTS, table_words(PLANTS, ENGLISH))
