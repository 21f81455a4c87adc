from dataclasses import replace

import matplotlib.image as mpimg
import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle
from matplotlib.text import Text
from plants_builders import crop, stand

from geoagro.errors import OutputError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.outputs.beds.cover_chart import draw_cover
from geoagro.outputs.beds.files import check_beds_folder, write_beds
from geoagro.outputs.beds.picture import draw_bed
from geoagro.outputs.beds.plan import draw_plan
from geoagro.outputs.beds.sides import side_title_lines, telling_months
from geoagro.outputs.drawing.crop_looks import MARKERS, crop_look, crop_numbers
from geoagro.outputs.drawing.typefaces import lettered
from geoagro.outputs.words.say import Words
from geoagro.plants.bed_sheet import bed_sheets
from geoagro.values.design import BedRule
from geoagro.values.recipe import Planting

CROPS = {
    "cassava": crop(name="cassava", material="stem cutting", habit="shrub", caution="Never eat it raw. " * 5),
    "taro": crop(name="taro", material="corm", harvest_weeks=(20, 25)),
    "bean": crop(name="bean", material="seed", harvest_weeks=(8, 10)),
    "mango": crop(name="mango", habit="tree", harvest_weeks=(200, 1500), full_size_weeks=400, height_m=9.0),
}
RECIPE = [
    {"crop": "cassava", "bed": "vegetable", "offsets_m": [0], "spacing_m": 0.6, "direction": "uphill"},
    {"crop": "taro", "bed": "vegetable", "beside": {"planting": "cassava", "distance_m": 0.25}},
    {"crop": "bean", "bed": "vegetable", "offsets_m": [0.4, -0.4], "spacing_m": 0.3, "stagger": True},
    {"crop": "mango", "bed": "tree", "spacing_m": 4.0},
]
LONG = "An invented farm with a name that nobody would write on a letter, ridge field above the road"
SHEETS = bed_sheets("farm", BedRule(), 4.5, CROPS, [Planting(**p) for p in RECIPE])


def words(figure) -> list[str]:
    return [text.get_text() for text in figure.findobj(Text) if text.get_text()]


def test_a_page_carries_distances_counts_times_and_cautions():
    told = words(draw_bed(SHEETS[1]))
    for expected in (
        "60",
        "30",
        "bed 100",
        "uphill",
        "bed starts here",
        "Planting points\nin 10 m of bed",
        "CAUTION",
        "17",
    ):
        assert expected in told, expected
    assert any(text.startswith("Cassava: At each planting point: 1 × stem cutting") for text in told)
    assert not any("mango" in text.lower() for text in told)  # only what is drawn


@pytest.mark.parametrize("sheet", [*SHEETS, replace(SHEETS[1], title=f"{LONG}, to plant first, again in week 52")])
def test_nothing_written_leaves_the_page(sheet):
    figure = draw_bed(sheet)
    page = figure.bbox
    for text in figure.findobj(Text):
        if text.get_text() and text.get_visible():
            box = text.get_window_extent()
            assert box.x0 >= page.x0 - 1, text.get_text()
            assert box.x1 <= page.x1 + 1, text.get_text()
            assert box.y0 >= page.y0 - 1, text.get_text()


def test_no_mark_on_the_sheet_is_wider_than_its_place():
    dense = [
        {"crop": "cassava", "bed": "vegetable", "offsets_m": [0], "spacing_m": 0.6},
        {"crop": "bean", "bed": "vegetable", "offsets_m": [0.03, 0.4], "spacing_m": 0.05},
    ]
    (sheet,) = bed_sheets("farm", BedRule(), 4.5, CROPS, [Planting(**p) for p in dense])
    figure = Figure()
    axes = figure.subplots()
    axes.set_ylim(-1, 1)
    draw_plan(axes, sheet, 40.0)
    marks = [line for line in axes.lines if line.get_marker() not in ("None", None, "")]
    assert len(marks) == 2
    xy = np.concatenate([line.get_xydata() for line in marks])
    for line in marks:
        apart = np.hypot(*(line.get_xydata()[:, None] - xy[None]).transpose(2, 0, 1))
        width_mm = (line.get_markersize() + line.get_markeredgewidth()) * 25.4 / 72
        assert 0 < width_mm <= 40.0 * apart[apart > 1e-3].min() + 1e-6


def test_side_views_show_the_telling_months_or_those_asked_for():
    assert telling_months(SHEETS[1]) == [2, 5, 7]
    assert max(telling_months(SHEETS[0])) > 48
    told = words(draw_bed(SHEETS[1], [3]))
    assert "Month 3; gone: bean" in told


def test_pages_are_written_as_one_set_and_those_of_a_longer_recipe_go(tmp_path):
    for number in (1, 3, 4, 6):
        (tmp_path / f"bed_{number}.png").write_text("old")
    _, analysis = stand([{"crop": "taro"}], CROPS)
    paths = write_beds(SHEETS, analysis, "farm", tmp_path)
    assert [path.name for path in paths] == ["bed_1.png", "bed_2.png", "recipe.png"]
    image = mpimg.imread(paths[0])
    assert image.shape[0] > image.shape[1] > 1500
    assert np.ptp(image) == 1.0
    assert paths[-1].stat().st_size > 10_000
    assert sorted(path.name for path in tmp_path.glob("bed*")) == ["bed_1.png", "bed_2.png", "bed_6.png"]


def test_a_folder_that_cannot_be_is_refused(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="not a folder"):
        check_beds_folder(tmp_path / "file")


def test_the_chart_names_the_layers_that_occur():
    _, analysis = stand([{"crop": "taro"}], CROPS)
    told = words(draw_cover(analysis, "farm"))
    assert "low" in told
    assert "high" not in told
    assert "vegetable beds" in told


def boxes(texts):
    """Extents of texts on the page, those that turn with their halo left out."""
    return [(t.get_text(), t.get_window_extent()) for t in texts if t.get_text().strip() and t.get_visible()]


def meet(one, other, least=0.5):
    return (
        min(one.x1, other.x1) - max(one.x0, other.x0) > least and min(one.y1, other.y1) - max(one.y0, other.y0) > least
    )


@pytest.mark.parametrize("language", ["en", "es", "fr", "pt_BR"])
@pytest.mark.parametrize("number", [0, 1])
def test_no_letters_of_the_page_touch_and_the_table_keeps_to_its_columns(number, language):
    with lettered():
        figure = draw_bed(SHEETS[number], words=Words(language))
    table = figure.axes[1]
    told = boxes(table.texts)
    millimetre = figure.dpi / 25.4
    how = [box for text, box in told if box.x0 == pytest.approx(told[0][1].x0, abs=1.5 * millimetre)]
    assert max(box.x1 for box in how) < table.bbox.x0 + (8.0 + 96.0) * millimetre
    assert all(table.bbox.x0 <= box.x0 and box.x1 <= table.bbox.x1 + 4 * millimetre for _, box in told)
    out = [text for text, box in told if box.y0 < table.bbox.y0 or box.y1 > table.bbox.y1 + millimetre / 2]
    assert out == []
    every = boxes([*figure.texts, *(text for axes in figure.axes for text in (*axes.texts, axes._left_title))])
    assert [(a, b) for k, (a, one) in enumerate(every) for b, other in every[k + 1 :] if meet(one, other)] == []


@pytest.mark.parametrize("reach_m", [1.5, 3.0])
def test_the_largest_root_zone_is_on_the_plan_as_a_whole(reach_m):
    wide = replace(SHEETS[0], kinds=tuple(replace(kind, reach_m=reach_m) for kind in SHEETS[0].kinds))
    axes = draw_bed(wide).axes[0]
    low, high = axes.get_ylim()
    circles = [patch for patch in axes.patches if isinstance(patch, Circle)]
    assert circles
    assert all(low <= c.center[1] - c.radius and c.center[1] + c.radius <= high for c in circles)


def test_distances_stand_below_a_bed_that_has_no_room_for_them():
    axes = draw_bed(SHEETS[0]).axes[0]
    (step,) = [text for text in axes.texts if text.get_text() == "400"]
    assert step.get_position()[1] < -SHEETS[0].width_m / 2


def test_plants_that_are_too_low_to_be_seen_from_the_side_show_their_mark():
    young = draw_bed(SHEETS[0], [1]).axes[2]
    assert any(line.get_marker() not in ("None", None, "") and len(line.get_xdata()) for line in young.lines)


def circles(axes):
    return [patch for patch in axes.patches if isinstance(patch, Circle)]


@pytest.mark.parametrize("reach_m", [0.4, 1.2, 2.6])
def test_root_circles_are_whole_on_the_plan_where_a_plant_stands_far_enough_in(reach_m):
    """Of all plants of a kind the one is shown whose circle keeps inside the ends; nothing cuts it."""
    crops = CROPS | {"mango": CROPS["mango"].model_copy(update={"root_reach_m": reach_m, "root_opening_deg": 360})}
    sheet = bed_sheets("farm", BedRule(), 4.5, crops, [Planting(crop="mango", bed="tree", spacing_m=2.0)])[0]
    assert sheet.kinds[0].reach_m == reach_m
    axes = draw_bed(sheet).axes[0]
    (circle,) = circles(axes)
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    (x, y), radius = circle.center, circle.radius
    inside = sheet.x[(sheet.x >= reach_m) & (sheet.x <= sheet.length_m - reach_m)]
    assert len(inside) == 0 or (x - radius >= 0 and x + radius <= sheet.length_m)
    assert left <= x - radius and x + radius <= right
    assert low <= y - radius and y + radius <= high
    assert circle.get_clip_path() is None or circle.get_clip_path() == axes.patch


@pytest.mark.parametrize("weeks", [(8, 10), (17, 20), (30, 34)])
@pytest.mark.parametrize("height_m", [0.3, 1.0, 2.2])
def test_side_views_of_a_short_recipe_fill_the_page_as_far_as_there_are_months(weeks, height_m):
    crops = CROPS | {"bean": crop(name="bean", material="seed", harvest_weeks=weeks, height_m=height_m)}
    sheet = bed_sheets("farm", BedRule(), 4.5, crops, [Planting(crop="bean", bed="vegetable", spacing_m=0.3)])[0]
    page = draw_bed(sheet)
    views = [axes.get_position() for axes in page.axes if axes.get_title(loc="left")]
    foot = min(view.y0 for view in views) - 12 / 297
    months = {axes.get_title(loc="left").split(";")[0] for axes in page.axes if axes.get_title(loc="left")}
    every_month = len(months) >= np.ceil(weeks[1] / (365.25 / 12 / 7))
    assert every_month or len(months) >= 6 or foot < views[0].height + 8 / 297
    assert len(months) == len(views)  # none is shown twice


def test_titles_of_side_views_that_take_several_lines_stand_off_the_view_above():
    named = [
        replace(kind, name=f"{kind.name} of {hill} hill farm by the lake") for hill in "abc" for kind in SHEETS[0].kinds
    ]
    sheet = replace(SHEETS[0], kinds=named, kind=np.arange(len(SHEETS[0].x)) % 3)
    months = [2, 5, 9, 14, 40, 120]
    assert side_title_lines(sheet, months, 36, Words("fr")) >= 3
    with lettered():
        figure = draw_bed(sheet, months, Words("fr"))
        figure.draw_without_rendering()
    sides = figure.axes[2 : 2 + len(months)]
    titles = [axes._left_title.get_window_extent() for axes in sides]
    assert not any(title.overlaps(axes.bbox) for title in titles for axes in sides if axes.bbox.y0 > title.y0)


BY_SHAPE = {crop_look(number, None).shape: code for code, number in crop_numbers(read_crop_library()).items()}


@pytest.mark.parametrize(("shape", "code"), BY_SHAPE.items())
def test_every_crop_has_its_mark_at_its_places_in_the_list_and_from_the_side(shape, code):
    """Signs that are drawn by their corners were taken for data, and their crops had no mark at all."""
    sheet = next(sheet for sheet in SHEETS if sheet.bed_kind == "tree")
    figure = draw_bed(replace(sheet, kinds=tuple(replace(kind, crop=code) for kind in sheet.kinds)), months=[1])
    drawn = [line.get_xdata() for line in figure.findobj(Line2D) if line.get_marker() == MARKERS[shape]]
    assert sorted(len(x) for x in drawn) == [1, len(sheet.x), len(sheet.x)]
    assert sum(np.array_equal(x, sheet.x) for x in drawn) == 2


def thinned_sheet(*crops):
    sequence = {
        "name": "row",
        "sequence": [*crops],
        "bed": "tree",
        "spacing_m": 2.0,
        "thin": [{"year": 6, "keep_pct": 50}],
    }
    kinds = {code: CROPS["mango"].model_copy(update={"name": code}) for code in crops}
    return bed_sheets("farm", BedRule(), 4.5, kinds, [Planting.model_validate(sequence)])[0]


def test_trees_that_are_thinned_out_stand_in_one_line_with_those_that_stay():
    told = " ".join(" ".join(words(draw_bed(thinned_sheet("mango"), months=[100]))).split())
    assert told.count("Mango: At each planting point") == 1
    assert "Some of them are taken out after 6 years." in told
    assert " 5 " in told  # one every 2 m
    assert "harvest: mango" in told and "gone" not in told and "mango, mango" not in told


def test_a_list_that_fills_the_page_makes_it_longer_instead_of_crushing_the_views():
    short, long = (draw_bed(thinned_sheet(*names)) for names in (["apple"], [f"plum of kind {k}" for k in range(9)]))
    assert short.get_figheight() == pytest.approx(297 / 25.4)
    assert long.get_figheight() > 380 / 25.4
    views = [axes for axes in long.axes if axes.get_title(loc="left")]
    assert len(views) >= 4 and min(axes.bbox.width / long.dpi * 25.4 for axes in views) > 30
    long.draw_without_rendering()
    inside = [text.get_window_extent() for text in long.findobj(Text) if text.get_text() and text.get_visible()]
    assert min(box.y0 for box in inside) >= 0 and max(box.y1 for box in inside) <= long.bbox.height
