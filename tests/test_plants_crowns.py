import numpy as np
import pytest
from builders import plane, straight_beds, straight_rows
from plants_builders import crop, stand

from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.plants.analysis import analyse_recipe
from geoagro.plants.crops import choose_crops
from geoagro.plants.placement import place_plants
from geoagro.values.recipe import Planting


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
    assert np.allclose(100 * analysis.kind_cover["cover"], bed.loc[bed["month"] <= 12, "cover_pct"])


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
    beds = straight_beds(straight_rows(size_m=30.0))
    plants = place_plants(beds, plane(size_m=30.0), crops, recipe)
    analysis = analyse_recipe(plants, beds, crops, recipe)
    beds_only = analysis.weeding[~analysis.weeding["bed"].str.endswith("-T")]
    assert (beds_only["bare_rounds"] == 5).all()
    assert np.ceil(beds_only["rounds"]).max() == 1
    assert beds_only["closed_month"].between(1, 3).all()
    sparse = [Planting(crop="cassava", bed="vegetable", spacing_m=4.0)]
    plants = place_plants(beds, plane(size_m=30.0), crops, sparse)
    assert analyse_recipe(plants, beds, crops, sparse).weeding["rounds"].min() > 4
