import numpy as np
import pytest
from builders import plane, straight_beds, straight_rows
from plants_builders import crop, stand

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.planar.zones import lens_area
from geoagro.plants.analysis import analyse_recipe
from geoagro.plants.crops import choose_crops
from geoagro.plants.crowns import (
    LAYERS,
    Cover,
    cover_table,
    kind_cover_table,
    strata_table,
    weeding_rounds,
    weeding_table,
)
from geoagro.plants.placement import place_plants
from geoagro.values.recipe import Planting
from geoagro.values.season import Weeding


def field(analysis, month):
    table = analysis.cover
    return table[(table["bed"] == "field") & (table["month"] == month)].iloc[0]


def test_cover_of_crowns_apart_is_their_area_over_the_beds():
    _, analysis = stand([{"crop": "a", "spacing_m": 2.0}], {"a": crop()})
    # one crown of 1 m in every 2 m of a bed 2 m wide, grown after 10 weeks
    assert field(analysis, 6)["cover_pct"] == pytest.approx(100 * np.pi * 0.25 / 4, abs=2)
    half = ((2 - 0.5) * 365.25 / 12 / 7) / 10
    assert field(analysis, 2)["cover_pct"] == pytest.approx(100 * np.pi * 0.25 / 4 * half**2, abs=2)


def test_cover_counts_overlaps_once_and_layers_apart():
    crops = {"a": crop(stratum="high"), "b": crop(stratum="low")}
    _, analysis = stand([{"crop": "a", "spacing_m": 2.0}, {"crop": "b", "spacing_m": 2.0}], crops)
    row = field(analysis, 6)
    assert row["cover_pct"] == pytest.approx(row["high_pct"])
    assert row["high_pct"] == pytest.approx(row["low_pct"])
    assert row["medium_pct"] == 0


def test_a_harvested_crop_covers_nothing():
    _, analysis = stand([{"crop": "a"}], {"a": crop(harvest_weeks=(10, 12))})
    assert field(analysis, 2)["cover_pct"] > 0
    assert field(analysis, 4)["cover_pct"] == 0


def test_cover_by_kind_of_bed_runs_month_by_month_from_1():
    _, analysis = stand([{"crop": "a"}], {"a": crop()}, months=12)
    assert analysis.kind_cover["month"].tolist() == list(range(1, 13))
    bed = analysis.cover[analysis.cover["bed"] == "R001-U1"]
    assert np.allclose(analysis.kind_cover["cover_pct"], bed.loc[bed["month"] <= 12, "cover_pct"])


def test_occupation_stands_alone_unless_reference_shares_are_asked_for():
    _, analysis = stand([{"crop": "a"}], {"a": crop(stratum="high")})
    assert analysis.strata["reference_pct"].isna().all()
    assert analysis.strata["difference_pct"].isna().all()


def test_occupation_is_set_beside_the_reference_shares_that_are_asked_for():
    _, analysis = stand([{"crop": "a"}], {"a": crop(stratum="high")}, reference_pct={"high": 40.0, "low": 80.0})
    first = analysis.strata[analysis.strata["year"] == 1].set_index("stratum")
    assert first["reference_pct"].dropna().to_dict() == {"high": 40, "low": 80}
    assert first.loc["high", "share_pct"] > 0
    assert first.loc["low", "difference_pct"] == -80


def test_years_of_the_occupation_run_from_month_1_to_12():
    """A crown that stands for 52 weeks from the start covers the ground in months 1 to 12 and nothing in the second year."""
    grown = crop(harvest_weeks=(52, 52), stratum="high", full_size_weeks=1)
    _, analysis = stand([{"crop": "a", "spacing_m": 2.0}], {"a": grown}, months=24)
    by_year = analysis.strata[analysis.strata["stratum"] == "high"].set_index("year")["share_pct"]
    monthly = analysis.cover[analysis.cover["bed"] == "field"].set_index("month")["high_pct"]
    assert by_year.to_dict() == pytest.approx({1: monthly.loc[1:12].mean(), 2: monthly.loc[13:24].mean()})
    assert monthly.loc[12] > 0
    assert by_year[2] == 0


def test_crowns_of_one_stratum_that_meet_are_told():
    crops = {"a": crop(), "b": crop(stratum="high")}
    _, analysis = stand([{"crop": "a", "spacing_m": 0.9}, {"crop": "b", "offsets_m": [0.1]}], crops)
    rows = analysis.crowding.set_index(["crop", "with_crop"])
    assert rows.loc[("a", "a"), "plants_pct"] == 100
    assert ("a", "b") not in rows.index
    apart = stand([{"crop": "a", "spacing_m": 1.1}], crops)[1]
    assert len(apart.crowding) == 0


def test_bare_ground_calls_for_five_rounds_and_the_usual_mixture_for_about_one():
    # common practice, no source: rooting plants block weeds, five rounds fall to one
    library = read_crop_library()
    recipe = [
        Planting(crop="cassava", bed="vegetable", spacing_m=0.6, direction="uphill"),
        Planting(crop="taro", bed="vegetable", beside={"planting": "cassava", "distance_m": 0.25}),
        Planting(crop="sweet_potato", bed="vegetable", offsets_m=(0.35, -0.35), spacing_m=0.33, stagger=True),
        Planting(crop="maize", bed="vegetable", offsets_m=(0.2,), spacing_m=0.5),
    ]
    crops = choose_crops(library, {}, recipe)
    beds = straight_beds(straight_rows(size_m=14.0))
    plants = place_plants(beds, plane(size_m=14.0), crops, recipe)
    analysis = analyse_recipe(plants, beds, crops, recipe)
    beds_only = analysis.weeding[~analysis.weeding["bed"].str.endswith("-T")]
    assert (beds_only["bare_rounds"] == 5).all()
    assert np.ceil(beds_only["rounds"]).max() == 1
    assert beds_only["closed_month"].between(1, 3).all()
    sparse = [Planting(crop="cassava", bed="vegetable", spacing_m=4.0)]
    plants = place_plants(beds, plane(size_m=14.0), crops, sparse)
    assert analyse_recipe(plants, beds, crops, sparse).weeding["rounds"].min() > 4


def test_crowns_in_a_line_overlap_on_both_sides_by_the_closed_form():
    _, analysis = stand([{"crop": "a", "spacing_m": 0.9}], {"a": crop(full_size_weeks=26)}, length=90.0)
    (row,) = analysis.crowding.to_dict("records")
    lens = 2 * lens_area(np.array([0.9]), np.array([0.5]), np.array([0.5]))[0] / (np.pi * 0.25)
    assert row["overlap_pct"] == pytest.approx(100 * lens * 99 / 100)  # 100 plants; those at the ends meet one
    # crowns grow evenly over 26 weeks and meet from .9 of their width: 23.4 weeks, in the middle of month 6
    assert (row["plants_pct"], row["from_month"]) == (100, 6)


def test_rounds_of_weeding_are_bare_weeks_over_the_weeks_of_a_round():
    """Cover runs up to its value in the middle of the first month and stays: by hand, bare ground until week 20."""
    months = np.arange(1, 13)
    cover = np.array([np.full(12, 0.5), np.full(12, 0.79), np.full(12, 0.9)])
    ramp = 0.5 * 365.25 / 12 / 7  # weeks to the middle of month 1
    open_ = [20 - ramp * 0.25 - (20 - ramp) * 0.5, 20 - ramp * 0.395 - (20 - ramp) * 0.79]
    shut_at = ramp * 0.8 / 0.9  # weeks after which weeds are shaded out
    open_.append(shut_at * (1 - 0.4))
    assert weeding_rounds(cover, months, Weeding()) == pytest.approx(np.array(open_) / 4, abs=0.02)
    assert weeding_rounds(cover, months, Weeding(bare_weeks=8)) == pytest.approx(np.array(open_) / 8, abs=0.02)


def shares(months, beds=3):
    """A tree bed of 1 m2, a vegetable bed of 3 m2, a path of 4 m2: 10, 20, 80 % under high crowns, rising by month."""
    rise = 0.001 * np.arange(len(months))
    every = np.array([0.1, 0.2, 0.8])[:beds, None] + rise
    layer = np.zeros((5, beds, len(months)))
    layer[LAYERS.index("high")] = every
    return Cover(every, layer, np.array([1.0, 3.0, 4.0])[:beds])


def test_cover_of_the_field_is_a_mean_by_area_and_late_months_of_beds_are_told_once_a_year():
    months = np.array([*range(1, 7), 12, 18, 24])
    table = cover_table(shares(months), ["T", "V", None], months, beds_until=4)
    field_rows = table[table["bed"] == "field"]
    assert field_rows["month"].tolist() == months.tolist()
    assert field_rows["cover_pct"].tolist() == pytest.approx((100 * (3.9 / 8 + 0.001 * np.arange(9))).tolist())
    assert table[table["bed"] == "V"]["month"].tolist() == [1, 2, 3, 4, 12, 24]
    assert table[table["bed"] == "V"]["high_pct"].tolist() == pytest.approx([20, 20.1, 20.2, 20.3, 20.6, 20.8])
    assert (table["low_pct"] == 0).all()
    assert len(cover_table(shares(months), ["T", "V", None], months)) == 3 * 9


def test_kinds_of_beds_are_told_as_far_as_months_have_no_gap_and_years_by_their_own_months():
    months = np.array([*range(1, 15), 26])
    kinds = kind_cover_table(shares(months), ["vegetable", "vegetable", None], months)
    assert kinds["month"].tolist() == list(range(1, 15))
    assert kinds["cover_pct"].tolist() == pytest.approx((70 / 4 + 0.1 * np.arange(14)).tolist())
    years = strata_table(shares(months), months).query("stratum == 'high'").set_index("year")["share_pct"]
    assert years.to_dict() == pytest.approx({1: 48.75 + 0.55, 2: 48.75 + 1.25, 3: 48.75 + 1.4})


def test_ground_is_shut_from_the_first_month_that_reaches_the_closing_cover():
    months = np.array([1, 2, 3, 4])
    cover = Cover(np.array([[0.2, 0.8, 0.7, 0.9], [0.1, 0.2, 0.3, 0.79]]), np.zeros((5, 2, 4)), np.ones(2))
    table = weeding_table(cover, ["A", "B"], months, Weeding())
    assert table["closed_month"].tolist() == [2, 0]
    assert (table["bare_rounds"] == 5).all()  # 20 weeks of bare ground, a round every four
