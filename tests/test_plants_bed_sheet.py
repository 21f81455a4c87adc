import numpy as np
import pytest
from plants_builders import crop

from geoagro.errors import DesignError
from geoagro.plants.bed_sheet import _rounds, bed_sheets, model_stand
from geoagro.values.design import BedRule
from geoagro.values.recipe import Planting
from geoagro.values.season import SeasonRule

CROPS = {
    "stem": crop(name="stem", material="stem cutting"),
    "corm": crop(name="corm", material="corm", root_reach_m=0.3),
    "seed": crop(name="seed", material="seed", plants_per_place=2),
    "tree": crop(name="tree", habit="tree", harvest_weeks=(100, 400)),
}
VEG = [
    {"crop": "stem", "bed": "vegetable", "offsets_m": [0], "spacing_m": 0.6, "direction": "along"},
    {"crop": "corm", "bed": "vegetable", "beside": {"planting": "stem", "distance_m": 0.25}},
    {"crop": "seed", "bed": "vegetable", "lines": 2, "spacing_m": 0.3, "stagger": True},
]
TREES = [{"name": "row", "sequence": ["tree", "-", "seed"], "bed": "tree", "spacing_m": 1.5}]


def sheets(*plantings):
    return bed_sheets("farm", BedRule(), 4.5, CROPS, [Planting(**p) for p in plantings])


def test_each_kind_of_bed_gets_one_sheet():
    found = sheets(*VEG, *TREES)
    assert [s.beds for s in found] == ["For all tree beds.", "For all vegetable beds."]
    assert [s.title for s in found] == ["farm: tree bed", "farm: vegetable bed"]


def test_the_instruction_says_what_where_how_far_and_which_way():
    how = {k.crop: " ".join(k.how) for k in sheets(*VEG)[0].kinds}
    assert how["stem"] == (
        "At each planting point: 1 × stem cutting. In one line: in the middle of the bed. Every 60 cm; first plant 30 cm from "
        "the end. Set slanted. Roots pointing along the row."
    )
    assert how["corm"] == (
        "At each planting point: 1 × corm. 25 cm behind each plant of stem, on the side away from its roots."
    )
    assert how["seed"] == (
        "At each planting point: 2 × seed. In 2 lines: 25 cm upslope of the middle, 25 cm downslope of the middle. Every 30 cm; "
        "first plants 15 cm, 30 cm from the end (every second line starts later)."
    )


def test_a_worker_reads_the_crops_name_unless_it_stands_in_two_plantings_of_the_bed():
    first = VEG[0] | {"name": "main line", "offsets_m": [0.2]}
    beside = {"crop": "corm", "bed": "vegetable", "beside": {"planting": "main line", "distance_m": 0.25}}
    how = {k.planting: " ".join(k.how) for k in sheets(first, beside)[0].kinds}
    assert "behind each plant of stem," in how["corm"]
    second = VEG[0] | {"name": "second line", "offsets_m": [-0.2]}
    how = {k.planting: " ".join(k.how) for k in sheets(first, second, beside)[0].kinds}
    assert "behind each plant of main line," in how["corm"]


def test_a_sequence_says_whose_turn_it_is():
    how = {k.crop: " ".join(k.how) for k in sheets(*TREES)[0].kinds}
    assert how["tree"] == (
        "At each planting point: 1 × seedling. In one line: in the middle of the bed. A plant every 150 cm in this order, then "
        "from the beginning again: 1 tree, 2 empty, 3 seed. This crop has these places in the order: 1."
    )


def test_plants_are_counted_per_ten_metres():
    per_10_m = {k.crop: k.per_10_m for k in sheets(*VEG)[0].kinds}
    assert per_10_m["stem"] == pytest.approx(10 / 0.6, rel=0.01)
    assert per_10_m["seed"] == pytest.approx(2 * 10 / 0.3, rel=0.01)


def test_the_sheet_shows_the_bed_as_it_is_placed():
    sheet = sheets(*VEG)[0]
    stem = np.array([sheet.kinds[k].crop == "stem" for k in sheet.kind])
    assert np.allclose(sheet.x[stem][:2], [0.3, 0.9])
    assert np.allclose(sheet.y[stem], 0.0)
    assert np.allclose(sheet.facing_deg[stem], 0.0)
    assert np.isnan(sheet.facing_deg[~stem]).all()
    line = next(line for line in sheet.lines if line.planting == "corm")
    assert (line.first_m, line.beside) == (pytest.approx(0.05), "stem")


def test_beds_that_differ_get_sheets_of_their_own():
    away = [VEG[0] | {"direction": "away"}]
    assert len(sheets(*away)) == 2
    assert {s.row_side for s in sheets(*away)} == {"below", "above"}
    edge = [VEG[0], {"crop": "seed", "bed": "edge"}]
    assert any("edge of the field" in s.beds for s in sheets(*edge))
    turns = [VEG[0] | {"every": 2}, {"crop": "seed", "bed": "vegetable", "every": 2, "first_row": 2}]
    assert [s.beds for s in sheets(*turns)] == [
        "For vegetable beds of rows 1, 3, ...",
        "For vegetable beds of rows 2, 4, ...",
    ]


def test_the_model_needs_a_recipe():
    with pytest.raises(DesignError, match="nothing to plant"):
        sheets()


def test_the_model_has_as_many_beds_between_rows_as_fit():
    # common practice, no source: rows 4.5 m apart carry two vegetable beds between them
    beds, _ = model_stand(BedRule(), 4.5, CROPS, [Planting(**VEG[0])], 20.0)
    inner = beds.beds[beds.beds["facing_row"] > 0]
    between = inner[((inner["row"] == 1) & (inner["side"] == "down")) | ((inner["row"] == 2) & (inner["side"] == "up"))]
    assert len(between) == 2


def test_a_bed_planted_in_rounds_gets_a_sheet_for_each_with_what_stands_there():
    later = {"crop": "tree", "bed": "vegetable", "offsets_m": [0.4], "week": 10}
    after = {"name": "second", "crop": "seed", "bed": "vegetable", "offsets_m": [-0.4], "after": "seed"}
    first, second, third = sheets(*VEG, later, after)
    assert first.title.endswith("to plant first")
    assert {k.crop for k in first.kinds} == {"stem", "corm", "seed"}
    assert second.title.endswith("to plant in week 10")
    assert {k.crop for k in second.kinds if k.standing} == {"stem", "corm", "seed"}
    assert [k.how for k in second.kinds if k.crop == "stem"] == [("Already there since week 0; leave it.",)]
    assert {line.planting for line in second.lines} == {"tree"}
    assert {k.planting for k in third.kinds} == {"tree", "second"}  # the others were harvested


def test_auto_is_told_as_the_direction_that_it_chose():
    auto = [VEG[0] | {"direction": "auto"}, {"crop": "seed", "bed": "vegetable", "offsets_m": [0.4], "spacing_m": 0.2}]
    how = next(" ".join(k.how) for k in sheets(*auto)[0].kinds if k.crop == "stem")
    assert how.endswith("Set slanted. Roots pointing downhill.")


def test_rounds_of_the_season_are_named_on_the_sheet_and_new_states_get_their_own():
    rule = SeasonRule(years=3, vegetables={"every_weeks": 52, "years": 3})
    again = bed_sheets("r", BedRule(), 4.5, CROPS, [Planting(**VEG[0])], season=rule)
    assert [s.title.split(", ", 1)[1] for s in again] == ["to plant first, again in weeks 52, 104"]
    tree = {"crop": "tree", "bed": "vegetable", "offsets_m": [0.4], "week": 0}
    first, later = bed_sheets("r", BedRule(), 4.5, CROPS, [Planting(**VEG[0]), Planting(**tree)], season=rule)
    assert first.title.endswith("to plant first") and later.title.endswith("to plant in week 52, again in week 104")
    assert {k.crop: k.standing for k in later.kinds} == {VEG[0]["crop"]: False, "tree": True}


@pytest.mark.parametrize(
    ("given", "length_m"),
    [
        ({"crop": "stem", "spacing_m": 0.5}, 3.0),
        ({"crop": "stem", "spacing_m": 2.0}, 4.5),  # 2.2 repeats, to the half metre
        ({"name": "mix", "sequence": ["stem", "-", "seed"], "spacing_m": 1.5}, 10.0),
        ({"crop": "stem", "spacing_m": 12.0}, 20.0),
    ],
)
def test_a_sheet_shows_every_repeat_twice_and_what_stands_on_that_length(given, length_m):
    (sheet,) = sheets({"bed": "vegetable", "offsets_m": [0.2], "direction": "uphill"} | given)
    assert sheet.length_m == length_m
    assert sheet.x.max() <= length_m
    assert sheet.y == pytest.approx(0.2)  # upslope of the middle
    assert sheet.facing_deg == pytest.approx(270.0)  # square to the row, to its left
    assert [line.offset_m for line in sheet.lines] == pytest.approx([0.2])
    assert sheet.kinds[0].crown_m == 1.0  # the whole width


def test_plantings_up_to_four_weeks_apart_share_a_round():
    assert _rounds([8, 0, 4, 13, 4, 30]) == [(0, 8), (13, 13), (30, 30)]
    assert _rounds([]) == []


def test_six_later_weeks_are_named_and_the_others_counted():
    rule = SeasonRule(years=9, vegetables={"every_weeks": 52, "years": 9})
    (sheet,) = bed_sheets("r", BedRule(), 4.5, CROPS, [Planting(**VEG[0])], season=rule)
    assert sheet.title.endswith("again in weeks 52, 104, 156, 208, 260, 312 and later (further times: 2)")


def test_a_plant_of_unknown_habit_is_drawn_as_a_herb_and_others_as_they_are():
    unknown = {"stem": CROPS["stem"].model_copy(update={"habit": None}), "tree": CROPS["tree"]}
    recipe = [Planting(**VEG[0]), Planting(crop="tree", bed="tree", spacing_m=1.5)]
    found = {k.crop: k.habit for s in bed_sheets("farm", BedRule(), 4.5, unknown, recipe) for k in s.kinds}
    assert found == {"stem": "herb", "tree": "tree"}
