"""Surveys, claims, stores and zones of a report worked out by hand, each figure from its definition."""

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import builders
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from report_builders import CROPS, laid_out
from shapely import MultiPolygon, box

from geoagro.errors import LayoutError
from geoagro.reports.claim.by_year import by_year, standing_trees, years_since
from geoagro.reports.claim.claim import _surveyed
from geoagro.reports.claim.eligible import Condition, judge, per_hectare_each
from geoagro.reports.claim.indicators import diversity, indicators
from geoagro.reports.claim.parcels import ParcelGround, counts, parcel_ground
from geoagro.reports.claim.species import species_table
from geoagro.reports.crop_account import is_tree
from geoagro.reports.portfolio import _crops, _last_survey, portfolio_from_store
from geoagro.reports.records.portfolio import PORTFOLIO_CROPS, PORTFOLIO_FIELDS
from geoagro.reports.survival import built_table, found_table, survival_table
from geoagro.reports.zones import _middles_in, zone_account
from geoagro.values.places import Place
from geoagro.values.plants import Plants
from geoagro.values.report import CropFacts, ReportRule, SurveyCounts
from geoagro.values.results.evidence import PARCELS_GIVEN, Evidence
from geoagro.values.rules.claim import BoundarySurvey, EligibleRule
from geoagro.values.timeline import Standing, Stay, Timeline
from geoagro.values.zones import REST, Zone

NAN = float("nan")


@pytest.fixture(scope="module")
def laid():
    """12 m square: 3 rows 4 m apart, a tree bed and two beds of 1 m each, paths of 0.5 m."""
    return laid_out(size_m=12.0, spacing_m=4.0)


# --- surveys -----------------------------------------------------------------------------------------------------


def counted(day, crops, *, by_plots=False, areas=None):
    """Crops as (crop, row, planned, surveyed, alive, low, high), the ends as shares."""
    names = ("crop", "row", "planned", "surveyed", "alive", "low_pct", "high_pct")
    table = pd.DataFrame(dict(zip(names, map(list, zip(*crops, strict=True)), strict=True)))
    table[["low_pct", "high_pct"]] *= 100
    table = table.assign(dead=table["surveyed"] - table["alive"], missing=0, method="count")
    return SurveyCounts(day, table, areas, by_plots=by_plots)


def test_surveys_that_count_more_than_there_is_are_refused_and_whole_counts_are_not():
    survival_table([counted("d", [("plum", 0, 10, 10, 10, 1.0, 1.0)])])
    for planned, surveyed, alive in ((10, 10, 11), (10, 11, 9)):
        with pytest.raises(LayoutError, match=r"Survey d, crop plum"):
            survival_table([counted("d", [("plum", 0, planned, surveyed, alive, 1.0, 1.0)])])
    none = survival_table([counted("d", [("plum", 0, 10, 0, 0, 0.0, 1.0), ("plum", 3, 10, 10, 0, 0.0, 0.0)])])
    assert len(none) == 1 and none["survival_pct"].isna().all()  # nobody was looked at; rows of the field don't count


def test_what_was_found_is_the_sum_over_crops_of_the_last_survey():
    crops = [
        ("all", 0, 60, 48, 30, 0.5, 0.8), ("plum", 0, 20, 16, 12, 0.6, 0.9), ("alder", 0, 10, 8, 2, 0.1, 0.5),
        ("salad", 0, 30, 24, 16, 0.4, 0.8), ("plum", 1, 5, 5, 5, 1.0, 1.0),
    ]  # fmt: skip
    beds = pd.DataFrame(
        {"item": ["a", "b"], "definition": "", "designed_m2": [300.0, 100.0], "built_m2": [250.0, 110.0]}
    )
    trees = frozenset({"plum", "alder"})
    whole = found_table([counted("one", crops, areas=beds)], planted_m2=500.0, trees=trees).set_index("figure")
    assert whole.loc["planted_area_m2", ["planned", "found"]].tolist() == [400.0, 360.0]
    assert whole.loc["trees", ["planned", "looked_at", "found"]].tolist() == [30, 24, 14]
    assert whole.loc["plants", ["planned", "looked_at", "found"]].tolist() == [60, 48, 30]
    plots_ = found_table([counted("one", crops, areas=beds, by_plots=True)], planted_m2=500.0, trees=trees)
    plots_ = plots_.set_index("figure")
    assert plots_.loc["planted_area_m2", ["planned", "found"]].tolist() == [500.0, 450.0]  # nine tenths
    assert plots_.loc["trees", ["found", "low", "high"]].tolist() == [18, 13, 23]  # 15 plums and 2.5 alders
    alone = found_table([counted("one", crops[:1])], planted_m2=1.0, trees=trees)
    assert alone["figure"].tolist() == ["plants"] and alone["found"].tolist() == [30]
    nothing = counted("one", [("plum", 0, 20, 0, 0, 0.0, 1.0)], areas=beds.iloc[:0])
    assert len(found_table([nothing], planted_m2=1.0, trees=trees)) == 0
    assert len(built_table([counted("one", crops)])) == len(survival_table([])) == 0


# --- what an officer looks for -----------------------------------------------------------------------------------


def test_years_are_told_from_the_start_of_the_plan():
    assert years_since(date(2027, 1, 1), date(2031, 1, 1)) == 4.0
    assert years_since(date(2027, 1, 1), date(2026, 1, 1)) == -0.999
    assert np.isnan(years_since(None, date(2027, 1, 1))) and np.isnan(years_since(date(2027, 1, 1), None))


def grown(laid, **stays):
    """The layout with two kinds: plums that stand for 10 years and are cut in year 6, all else for 2."""
    plum = (laid.plants["crop"] == "hill_plum").to_numpy()
    kinds = (
        Standing("vegetable", "", "x", "salad", int((~plum).sum()), (Stay(1, 0, 0, 104, 104),)),
        Standing("tree", "", "p", "hill_plum", int(plum.sum()), (Stay(1, 0, 0, 520, 520, (312,)),)),
    )
    crops = CROPS | {
        "hill_plum": replace(CROPS["hill_plum"], canopy_width_m=2.0, full_size_weeks=520.0, pruned_width_m=0.5),
        "salad": replace(CROPS["salad"], full_size_weeks=None),
    }
    return replace(laid, crops=crops, timeline=Timeline(kinds, plum.astype(int)), **stays), plum


def test_crowns_grow_with_age_and_are_cut_back_to_the_width_that_pruning_leaves(laid):
    young, plum = grown(laid)
    chosen, widths = standing_trees(young, plum, 130.0)
    assert chosen.tolist() == plum.tolist() and set(widths) == {0.5}
    assert set(standing_trees(young, plum, 312.0)[1]) == {0.5}  # a quarter of 2 m
    assert standing_trees(young, plum, 364.0)[1] == pytest.approx(np.full(12, 0.5 + 2.0 * 52 / 520))
    assert not standing_trees(young, plum, 521.0)[0].any()
    every = np.ones(len(plum), dtype=bool)
    assert np.isnan(standing_trees(young, every, 52.0)[1]).sum() == (~plum).sum()
    wide = young.crops | {"hill_plum": replace(young.crops["hill_plum"], pruned_width_m=9.0)}
    assert standing_trees(replace(young, crops=wide), plum, 312.0)[1] == pytest.approx(np.full(12, 1.2))


def test_trees_are_told_at_ages_of_the_plan_and_on_the_reports_day(laid):
    young, plum = grown(laid, start=date(2030, 3, 4))
    table = by_year(young, plum, field_m2=144.0, now_year=2.5)
    assert table["year"].tolist() == [1, 2.5, 3, 5, 10, 20]
    assert table["day"].tolist()[:2] == ["2031-03-04", "2032-09-02"] and table["day"].iloc[5] == "2050-03-04"
    assert table["trees"].tolist() == [12, 12, 12, 12, 12, 0]
    assert table["trees_per_ha_field"].iloc[0] == pytest.approx(12 / 0.0144, abs=0.05)
    assert table["canopy_m2"].iloc[3] == pytest.approx(12 * np.pi * 0.25, abs=0.051)
    assert table["canopy_pct"].iloc[3] == pytest.approx(100 * table["canopy_m2"].iloc[3] / 144, abs=0.006)
    assert by_year(young, plum, field_m2=144.0, now_year=0.0)["year"].iloc[0] == 0.0
    for now in (NAN, -0.5):
        assert by_year(young, plum, field_m2=144.0, now_year=now)["year"].tolist() == [1, 3, 5, 10, 20]


def test_surveys_are_listed_with_the_boundary_first():
    survey = SurveyCounts("2031-04-01 spring", None, None, by="C.", receiver="phone", receiver_m=2.4567)
    rule = ReportRule(boundary_error_m=0.4, boundary_survey=BoundarySurvey(by="B.", day=date(2029, 11, 3)))
    table = _surveyed(SimpleNamespace(surveys=(survey,)), rule)
    assert table.iloc[1].tolist() == ["2031-04-01 spring", "2031-04-01", "C.", "phone", 2.457]
    assert table.iloc[0].tolist() == ["boundary", "2029-11-03", "B.", "", 0.4]
    assert len(_surveyed(SimpleNamespace(surveys=()), ReportRule(boundary_error_m=0.4))) == 1
    assert len(_surveyed(SimpleNamespace(surveys=()), ReportRule(boundary_survey=BoundarySurvey(by="B.")))) == 1
    assert len(_surveyed(SimpleNamespace(surveys=()), ReportRule())) == 0


def two_parcels():
    """Tree beds, beds, paths, a setback and what is left, in m2 of two parcels; 0.4 and 3 m2 of beds stand empty."""
    on_map = np.array([[10.0, 5.0], [20.0, 3.0], [8.0, 2.0], [4.0, 0.0], [0.2, 0.0]])
    empty = {
        "tree_beds": np.zeros(2),
        "vegetable_beds": np.array([0.4, 3.0]),
        "paths": np.zeros(2),
        "setback": np.zeros(2),
    }
    groups = {"tree_beds": "plantable", "vegetable_beds": "plantable", "paths": "plantable", "setback": "excluded"}
    shapes = np.array([box(0, 0, 6, 7), box(6, 0, 8, 5)], dtype=object)
    items = ("tree_beds", "vegetable_beds", "paths", "setback", "difference")
    of_plant = np.array([0, 0, 0, 1, 1, -1])
    empty["difference"] = np.zeros(2)
    return ParcelGround(
        ("A", "B"), shapes, items, on_map, on_map * 1.5, empty, groups | {"difference": "plantable"}, of_plant
    )


def judged(rule, *, native=None):
    crop = ["plum", "alder", "salad", "plum", "plum", "plum"]
    places = [(1, 1), (3, 3), (5, 5), (7, 1), (7, 4), (20, 20)]
    plants = pd.DataFrame({"crop": crop, "x": [x for x, _ in places], "y": [y for _, y in places]})
    facts = {
        "plum": CropFacts("Plum", "Prunus inventa", "tree", "high", 2.0, full_size_weeks=104.0),
        "alder": CropFacts("Alder", "Alnus inventa", "tree", "high", 2.0, full_size_weeks=104.0),
        "salad": CropFacts("Salad", None, "herb", "low", 0.3),
    }
    stays = [Standing("tree", "", "", code, 1, (Stay(1, 0, 0, 900, 900),)) for code in crop]
    laid = SimpleNamespace(
        plants=plants, crops=facts, timeline=Timeline(tuple(stays), np.arange(6)), evidence=Evidence(native=native)
    )
    return judge(laid, two_parcels(), rule, [True, True, False, True, True, True])


def test_eligible_ground_is_listed_by_parcel_and_kind_with_what_decided():
    got = judged(EligibleRule(ground=("tree_beds", "vegetable_beds", "excluded"), planted_only=True))
    lines = [tuple(line) for line in got.eligible.itertuples(index=False)]
    assert lines == [
        ("A", "tree_beds", 10.0, 15.0, "yes", "ground"), ("A", "vegetable_beds", 19.6, 29.4, "yes", "ground"),
        ("A", "vegetable_beds", 0.4, 0.6, "no", "planted_only"), ("A", "paths", 8.0, 12.0, "no", "ground"),
        ("A", "setback", 4.0, 6.0, "yes", "ground"), ("A", "difference", 0.2, 0.3, "no", "ground"),
        ("B", "tree_beds", 5.0, 7.5, "yes", "ground"), ("B", "vegetable_beds", 3.0, 4.5, "no", "planted_only"),
        ("B", "paths", 2.0, 3.0, "no", "ground"),
    ]  # fmt: skip
    assert got.parcels["eligible_m2"].tolist() == [33.6, 5.0] and got.parcels["not_eligible_m2"].tolist() == [8.6, 5.0]
    assert (got.eligible_m2, got.not_eligible_m2) == (38.6, 13.6)
    assert got.parcels["planted_m2"].tolist() == [29.6, 5.0] and got.parcels["trees"].tolist() == [2, 2]
    assert got.parcels["area_m2"].tolist() == [42.2, 10.0] and got.parcels["geodesic_area_m2"].tolist() == [63.3, 15.0]
    assert got.parcels["trees_per_ha"].tolist() == pytest.approx([2 / 0.00422, 2000.0], abs=0.05)
    curved = judged(EligibleRule(ground=("tree_beds",), measured="ellipsoid"))
    assert (curved.eligible_m2, curved.not_eligible_m2) == (22.5, 55.8)


def test_each_limit_is_measured_as_its_name_says():
    rule = EligibleRule(
        ground=("vegetable_beds",), planted_only=True, canopy_year=1, min_trees_per_ha=1, max_canopy_pct=3.0, min_native_pct=60,
        min_tree_species=2, min_parcel_m2=10.0, min_counted_m2=19.6,
    )  # fmt: skip
    got = judged(rule, native=frozenset({"prunus inventa"})).conditions.set_index(["parcel", "rule"])
    found, met = got["found"].to_dict(), got["met"].to_dict()
    assert found["A", "min_trees_per_ha"] == pytest.approx(2 / 0.00422, abs=0.05)
    assert found["A", "max_canopy_pct"] == pytest.approx(100 * 1.6 / 42.2, abs=0.005)  # two crowns of 1 m: 1.57 m2
    assert (found["A", "min_native_pct"], found["B", "min_native_pct"]) == (50.0, 100.0)
    assert (found["A", "min_tree_species"], found["B", "min_tree_species"]) == (2, 1)
    assert (found["A", "min_counted_m2"], found["B", "min_counted_m2"]) == (19.6, 0.0)
    assert [name for (parcel, name), kept in met.items() if kept == "no" and parcel == "A"] == [
        "max_canopy_pct",
        "min_native_pct",
    ]
    assert met["B", "min_parcel_m2"] == "yes" and met["B", "min_tree_species"] == "no"
    named = judged(EligibleRule(ground=("vegetable_beds",), trees=("alder",), max_trees_per_ha=1e6))
    assert named.parcels["trees"].tolist() == [1, 0]
    assert not Condition("A", "max_x", 5.0, NAN, "").met and not Condition("A", "min_x", 5.0, NAN, "").met
    assert per_hectare_each([3], np.array([0.0]))[0] != per_hectare_each([3], np.array([0.0]))[0]


def lots(*shapes):
    names = [f"LOT-{k}" for k in range(1, len(shapes) + 1)]
    return PARCELS_GIVEN.frame({"parcel": names}, geometry=[MultiPolygon([s]) for s in shapes], crs=builders.UTM)


def test_parcels_may_leave_or_share_a_thousandth_of_the_field(laid):
    west, south, east, north = laid.boundary.bounds

    def cut(gap, small=0.0):
        left = box(west + small, south, west + 6, north)
        more = [box(west, south, west + small, north)] if small else []
        parcels = lots(left, box(west + 6 + gap, south, east, north), *more)
        return parcel_ground(replace(laid, evidence=Evidence(parcels=parcels)))

    assert cut(0.0).map_m2.sum(axis=0).tolist() == [72.0, 72.0]
    for slight in (0.009, -0.009):  # of 12 m: 0.75 in a thousand
        assert len(cut(slight).names) == 2
    for wide in (0.014, -0.014):
        with pytest.raises(LayoutError, match="parcels of the boundary file"):
            cut(wide)
    sliver = cut(0.0, small=0.04)  # a parcel of half a square metre is one too
    assert len(sliver.names) == 3 and sliver.map_m2[:, 2].sum() == pytest.approx(0.5, abs=0.051)
    assert counts(np.array([0, 1, 1, -1]), np.array([True, True, False, True]), 3).tolist() == [1, 1, 0]


def test_empty_beds_are_found_in_each_parcel(laid):
    west, south, east, north = laid.boundary.bounds
    parcels = lots(box(west, south, west + 4, north), box(west + 4, south, east, north))
    bare = laid.plants[laid.plants["bed"] != laid.beds["bed"].iloc[0]]
    got = parcel_ground(replace(laid, plants=bare, evidence=Evidence(parcels=parcels)))
    assert got.empty_m2["vegetable_beds"].tolist() == [4.0, 8.0] and got.empty_m2["tree_beds"].tolist() == [0.0, 0.0]
    x = bare.geometry.x.to_numpy()
    assert got.of_plant.tolist() == np.where(x > west + 4, 1, 0).tolist()
    assert got.map_m2.sum() == pytest.approx(144.0)


def test_species_are_listed_from_the_top_with_days_and_numbers(laid):
    day = np.where(laid.plants["crop"] == "salad", "NaT", np.where(laid.plants["row"] == 1, "2030-03-04", "2030-04-05"))
    frame = laid.plants.assign(plant_date=pd.to_datetime(pd.Series(day, index=laid.plants.index).replace("NaT", None)))
    frame = frame.assign(harvest_to_week=np.where(frame["crop"] == "salad", 20, 5200))
    native = Evidence(native=frozenset({"prunus inventa"}))
    known = CROPS | {"shade_alder": replace(CROPS["shade_alder"], scientific="Alnus inventa")}
    full = replace(laid, plants=frame, timeline=Timeline.of(frame), evidence=native, crops=known)
    table = species_table(full, ReportRule(provenance={"hill_plum": "nursery"}), field_m2=144.0, now_year=0.5)
    assert table["crop"].tolist() == ["shade_alder", "hill_plum", "bitter_root", "salad"]
    assert (
        table["scientific"].tolist() == ["Alnus inventa", "Prunus inventa", "", ""]
        and table["habit"].tolist()[0] == "tree"
    )
    assert table["native"].tolist() == ["no", "yes", "", ""] and table["provenance"].tolist() == ["", "nursery", "", ""]
    assert table["first_planted"].tolist() == ["2030-03-04"] * 3 + [""]
    assert table["last_planted"].tolist() == ["2030-04-05"] * 3 + [""]
    assert table["plants"].tolist() == [3, 12, 36, 144] and table["standing_now"].tolist() == [3, 12, 36, 0]
    assert table["per_ha_field"].iloc[1] == pytest.approx(12 / 0.0144, abs=0.05)
    early = species_table(full, ReportRule(), field_m2=144.0, now_year=20 / 52)
    assert early["standing_now"].iloc[3] == 144
    assert species_table(full, ReportRule(), field_m2=144.0, now_year=NAN)["standing_now"].isna().all()


def test_a_species_of_one_plant_counts():
    assert diversity(np.array([1.0, 1.0, 0.0])) == pytest.approx(2.0) and diversity(np.array([0.0])) == 0.0


def test_survival_and_native_trees_are_indicators_where_they_are_known(laid):
    survival = pd.DataFrame(
        {"survey": ["one", "two", "two"], "crop": ["all", "all", "plum"], "survival_pct": [70.0, 80.0, 99.0],
         "low_pct": [60.0, 75.0, 0.0], "high_pct": [75.0, 85.0, 0.0], "surveyed": [10, 50, 7]}
    )  # fmt: skip
    known = CROPS | {"shade_alder": replace(CROPS["shade_alder"], scientific="Alnus inventa")}
    full = replace(laid, crops=known, evidence=Evidence(native=frozenset({"prunus inventa"})))
    table = indicators(full, ReportRule(), is_tree(laid), survival).set_index("indicator")
    assert table.loc["survival", ["value", "low", "high", "counted"]].tolist() == [80.0, 75.0, 85.0, 50]
    assert table.loc["native_trees", ["value", "counted"]].tolist() == [80.0, 15]  # 12 plums, 3 alders
    assert table.loc["woody_species", ["value", "counted"]].tolist() == [3, 12 + 3 + 36]
    silent = indicators(laid, ReportRule(), is_tree(laid), survival.iloc[:0])["indicator"].tolist()
    assert silent == ["woody_species", "woody_diversity"]


def test_stems_from_five_centimetres_on_are_weighed(laid):
    table = pd.DataFrame(
        {
            "name": ["1", "1", "1"],
            "crop": ["hill_plum", "", "x"],
            "dbh_cm": [5.0, 20.0, 20.0],
            "tree_height_m": [4.0, 15.0, 9.0],
        }
    )
    survey = SurveyCounts("d", None, None, stems=table)
    got = indicators(
        replace(laid, surveys=(survey,)),
        ReportRule(wood_density={"hill_plum": 0.6}),
        is_tree(laid),
        pd.DataFrame({"crop": []}),
    )
    line = got.set_index("indicator").loc["biomass_chave"]
    light = 0.0673 * (0.6 * 25 * 4) ** 0.976
    assert (line["counted"], line["value"]) == (2, round(199.05 + light))  # plant 1 is a plum; x has no density


# --- many fields and zones ---------------------------------------------------------------------------------------


def test_a_store_is_added_up_over_the_fields_that_were_laid_out():
    def plot(lon):
        return MultiPolygon([box(lon, 0.0, lon + 0.001, 0.001)])

    second = 1 / 111_320 * 0.0001  # a strip of a hundredth of a millimetre or so: they only touch
    outlines = [plot(10.0005), plot(10.0), plot(10.0015 - second), plot(11.0)]
    fields = gpd.GeoDataFrame(
        {"field": ["b", "a", "c", "d"], "status": ["done", "done", "done", "failed"]}, geometry=outlines, crs=4326
    )
    for name in PORTFOLIO_FIELDS.columns:
        if name not in fields and name not in {"parts", "survey", "survival_pct"}:
            fields[name] = "" if name == "crs" else 1
    crops = pd.DataFrame({name: [1] for name in PORTFOLIO_CROPS.columns}).assign(crop="x", name="X", habit="")
    got = portfolio_from_store(fields, crops)
    assert got.fields["field"].tolist() == ["a", "b", "c"] and got.fields["parts"].tolist() == [1, 1, 1]
    first, *shared = [caution for _, caution in got.cautions]
    assert first.values == {"count": 1, "all": 4}
    assert [(c.values["first"], c.values["second"]) for c in shared] == [("a", "b")]
    assert shared[0].values["area"] == pytest.approx(55.66 * 110.57, rel=2e-3)  # metres per degree at the equator
    whole = portfolio_from_store(fields[fields["field"] != "d"], crops)
    assert len(whole.cautions) == 1
    with pytest.raises(LayoutError, match="No field"):
        portfolio_from_store(fields[fields["field"] == "d"], crops)


def test_zones_hold_their_ground_rows_beds_and_plants_and_the_rest_the_others():
    laid = laid_out(size_m=12.0, spacing_m=4.0)
    west, south, east, north = laid.boundary.bounds
    beds = SimpleNamespace(tree_beds=laid.tree_beds, beds=laid.beds, paths=laid.paths)
    upper = Zone(name="upper", within=(Place(rows=(1,)),))
    shapes = [
        (upper, box(west, north - 4, east + 50, north)),
        (upper.model_copy(update={"name": "left"}), box(west, south, west + 5, north)),
    ]
    got = zone_account(
        shapes,
        laid.boundary,
        beds,
        laid.unplanted,
        Plants(laid.plants),
        widths={"upper": (4.0, 1.0), "left": (3.0, 0.8)},
    )
    layer = got.zones.set_index("zone")
    assert layer["area_m2"].tolist() == pytest.approx([48.0, 40.0])
    assert layer["rows"].tolist() == [1, 0] and layer["vegetable_beds"].tolist() == [
        2,
        0,
    ]  # the left one holds no bed's middle
    assert layer["row_spacing_m"].tolist() == [4.0, 3.0] and layer["bed_width_m"].tolist() == [1.0, 0.8]
    assert layer["bed_area_m2"].tolist() == pytest.approx([36.0, 2 * 3 * 5.0])
    x, y = laid.plants["x"].to_numpy(), laid.plants["y"].to_numpy()
    counted_ = [(y > north - 4).sum(), ((y < north - 4) & (x < west + 5)).sum()]
    assert layer["plants"].tolist() == counted_
    table = got.areas.pivot(index="zone", columns="item", values="area_m2")
    assert table.loc["upper", "tree_beds"] == 12.0 and table.loc["left", "vegetable_beds"] == 20.0
    assert table.loc[REST, "tree_beds"] == 36.0 - 12.0 - 10.0
    assert got.areas["area_m2"].sum() == pytest.approx(144.0, abs=0.3)
    assert got.crops["plants"].sum() == len(laid.plants)


def test_crops_of_many_fields_are_summed_and_the_last_survey_counts():
    def field(name, rows, survival):
        crops = pd.DataFrame(rows, columns=["crop", "name", "habit", "plants", "share_area_m2"])
        table = pd.DataFrame(survival, columns=["survey", "crop", "survival_pct"])
        return SimpleNamespace(name=name, crops=crops, survival=table)

    one = field(
        "a",
        [("x", "X", "tree", 3, 10.04), ("y", "Y", "herb", 5, 20.0)],
        [("s1", "all", 90.0), ("s2", "all", 80.0), ("s2", "x", 10.0)],
    )
    two = field("b", [("x", "X", "tree", 4, 9.98), ("z", "Z", "herb", 1, 20.0)], [])
    table = _crops([one, two])
    assert table["crop"].tolist() == ["x", "y", "z"]  # by ground, then by code
    assert (
        table["share_area_m2"].tolist() == [20.0, 20.0, 20.0]
        and table["plants"].tolist() == [7, 5, 1]
        and table["fields"].tolist() == [2, 1, 1]
    )
    assert _last_survey(one) == ("s2", 80.0) and _last_survey(two)[0] == "" and np.isnan(_last_survey(two)[1])


def test_zones_of_a_few_square_decimetres_hold_their_ground_too():
    """20 cm of the upper row's strips of 12 m: a tree bed 1 m wide is .2 m2 of it, beds of 3 m together .6 m2."""
    laid = laid_out(size_m=12.0, spacing_m=4.0)
    west, _, _, north = laid.boundary.bounds
    beds = SimpleNamespace(tree_beds=laid.tree_beds, beds=laid.beds, paths=laid.paths)
    narrow = Zone(name="narrow", within=(Place(rows=(1,)),))
    shape = box(west, north - 4, west + 0.2, north)
    got = zone_account(
        [(narrow, shape)], laid.boundary, beds, laid.unplanted, Plants(laid.plants), widths={"narrow": (4.0, 1.0)}
    )
    table = got.areas[got.areas["zone"] == "narrow"].set_index("item")["area_m2"]
    whole = got.areas.groupby("item")["area_m2"].sum()
    assert table["tree_beds"] == 0.2
    assert table.sum() == pytest.approx(0.8, abs=0.11)
    assert whole["tree_beds"] == pytest.approx(36.0, abs=0.05)


def test_a_bed_is_of_the_zone_that_holds_the_middle_of_its_axis():
    axis = gpd.GeoDataFrame({"axis": [shapely.LineString([(0, 0), (10, 0)])]})
    assert _middles_in(shapely.box(4, -1, 6, 1), axis).tolist() == [True]
    assert _middles_in(shapely.box(-1, -1, 4, 1), axis).tolist() == [False]
    assert _middles_in(shapely.box(6, -1, 11, 1), axis).tolist() == [False]
