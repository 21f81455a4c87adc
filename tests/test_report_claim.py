"""What an officer looks for: eligible ground by a stated rule, parcels, species, trees by age, photos, surveys."""

from dataclasses import replace
from datetime import date

import builders
import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from page_texts import page_texts
from pydantic import ValidationError
from report_builders import CROPS, laid_out, planting
from shapely import box

from geoagro.errors import InputError, LayoutError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.inputs.laid.evidence import read_native, read_parcels, read_photos
from geoagro.outputs.report.maps import MapData
from geoagro.outputs.report.pdf import write_report_pdf
from geoagro.outputs.words.say import Words
from geoagro.reports.account import account_for
from geoagro.reports.claim.indicators import chave_kg, diversity, kuyah_kg
from geoagro.values.design import VectorSource
from geoagro.values.report import ReportRule, SurveyCounts
from geoagro.values.results.evidence import PARCELS_GIVEN, PHOTOS, Evidence
from geoagro.values.rules.claim import BoundarySurvey, EligibleRule, Native, PhotoSource
from geoagro.values.timeline import Timeline

ALL_STRIPS = ("tree_beds", "vegetable_beds", "paths")
GROWING = {code: replace(crop, full_size_weeks=520.0) for code, crop in CROPS.items()}


def lots(*shapes):
    names = [f"LOT-{k}" for k in range(1, len(shapes) + 1)]
    return PARCELS_GIVEN.frame(
        {"parcel": names}, geometry=[shapely.MultiPolygon([s]) for s in shapes], crs=builders.UTM
    )


def halves(laid, east_m):
    west, south, east, north = laid.boundary.bounds
    cut = west + east_m
    return lots(box(west, south, cut, north), box(cut, south, east, north))


def claim(rule=None, *, parcels=None, native=None, report=None, laid=None):
    laid = laid if laid is not None else laid_out()
    evidence = Evidence(parcels=parcels, photos=PHOTOS.empty(builders.UTM), native=native)
    asked = report or ReportRule(eligible=rule)
    return account_for(replace(laid, evidence=evidence), asked, terrain=None).claim


@pytest.fixture(scope="module")
def laid():
    return laid_out()


@settings(max_examples=8, deadline=None)
@given(east=st.floats(3.0, 87.0), setback=st.sampled_from([0.0, 2.0]))
def test_ground_of_all_parcels_is_the_field_and_each_kind_what_the_layout_says(east, setback):
    laid = laid_out(setback_m=setback)
    got = claim(EligibleRule(ground=ALL_STRIPS), parcels=halves(laid, east), laid=laid)
    area = laid.area_summary.set_index("item")
    assert f"{got.parcels['area_m2'].sum():.1f}" == f"{area.loc['field', 'area_m2']:.1f}"
    assert f"{got.parcels['geodesic_area_m2'].sum():.1f}" == f"{area.loc['field', 'geodesic_area_m2']:.1f}"
    assert f"{got.eligible_m2 + got.not_eligible_m2:.1f}" == f"{area.loc['field', 'area_m2']:.1f}"
    by_kind = got.eligible.groupby("item")[["area_m2", "geodesic_area_m2"]].sum().round(1)
    for item in by_kind.index.difference(["difference"]):
        assert by_kind.loc[item, "area_m2"] == pytest.approx(area.loc[item, "area_m2"], abs=0.01), item
        assert by_kind.loc[item, "geodesic_area_m2"] == pytest.approx(area.loc[item, "geodesic_area_m2"], abs=0.01)


def test_only_listed_ground_counts_and_groups_take_their_reasons(laid):
    got = claim(EligibleRule(ground=("tree_beds",)), laid=laid)
    assert got.eligible_m2 == 1800.0  # 20 rows of 90 m, 1 m wide
    whole = claim(EligibleRule(ground=("tree_beds", "unplanted")), laid=laid)
    assert whole.eligible_m2 == 1800.0 + 900.0  # and what no strip covers
    assert set(got.eligible["rule"]) == {"ground"}


def test_a_parcel_that_breaks_a_limit_counts_nothing_and_the_line_names_the_key(laid):
    """The halves hold 380 and 360 trees on 0.405 ha: 938 and 889 per hectare."""
    parcels = halves(laid, 45.0)
    kept = claim(EligibleRule(ground=ALL_STRIPS, max_trees_per_ha=950), parcels=parcels, laid=laid)
    assert kept.eligible_m2 == 7200.0 and set(kept.conditions["met"]) == {"yes"}
    broken = claim(EligibleRule(ground=ALL_STRIPS, max_trees_per_ha=800), parcels=parcels, laid=laid)
    assert broken.eligible_m2 == 0.0
    assert set(broken.eligible["rule"]) == {"max_trees_per_ha", "ground"}
    assert broken.parcels["broken"].tolist() == ["max_trees_per_ha"] * 2


def test_limits_hold_at_the_figure_itself(laid):
    found = claim(EligibleRule(ground=ALL_STRIPS, max_trees_per_ha=1e6), laid=laid).conditions["found"].iloc[0]
    for rule in ({"max_trees_per_ha": found}, {"min_trees_per_ha": found}):
        assert claim(EligibleRule(ground=ALL_STRIPS, **rule), laid=laid).eligible_m2 > 0
    for rule in ({"max_trees_per_ha": found - 0.1}, {"min_trees_per_ha": found + 0.1}):
        assert claim(EligibleRule(ground=ALL_STRIPS, **rule), laid=laid).eligible_m2 == 0


def test_small_parcels_and_small_counted_ground_fall_out_alone(laid):
    parcels = halves(laid, 10.0)
    got = claim(EligibleRule(ground=ALL_STRIPS, min_parcel_m2=1000), parcels=parcels, laid=laid)
    assert got.parcels["broken"].tolist() == ["min_parcel_m2", ""]
    assert got.eligible_m2 == got.parcels["eligible_m2"].iloc[1] == 20 * 80 * 4.0
    counted = claim(EligibleRule(ground=("tree_beds",), min_counted_m2=201), parcels=parcels, laid=laid)
    assert counted.eligible_m2 == 1600.0  # 20 rows x 10 m x 1 m is 200


def test_beds_without_plants_do_not_count_where_the_rule_asks():
    laid = laid_out(plants=lambda beds: planting(replace(beds, beds=beds.beds.iloc[1:].reset_index(drop=True))))
    plain = claim(EligibleRule(ground=ALL_STRIPS), laid=laid)
    strict = claim(EligibleRule(ground=ALL_STRIPS, planted_only=True), laid=laid)
    assert plain.eligible_m2 - strict.eligible_m2 == pytest.approx(90.0)
    assert strict.eligible.loc[strict.eligible["rule"] == "planted_only", "area_m2"].tolist() == [90.0]
    assert strict.parcels["planted_m2"].tolist() == [5310.0]


def test_crowns_are_judged_at_the_age_that_the_rule_names():
    """Crowns of 2 m at full size after ten years; half as wide after five: 600 circles of 1 m that don't touch."""
    crops = {code: replace(crop, canopy_width_m=2.0 if code == "hill_plum" else 0.0) for code, crop in GROWING.items()}
    laid = laid_out(crops=crops)
    frame = laid.plants.assign(harvest_to_week=5200)
    laid = replace(laid, plants=frame, timeline=Timeline.of(frame))
    half = 600 * np.pi * 0.5**2 / 8100 * 100
    got = claim(EligibleRule(ground=ALL_STRIPS, canopy_year=5, max_canopy_pct=half + 0.1), laid=laid)
    assert got.conditions["found"].iloc[0] == pytest.approx(half, abs=0.02)
    assert got.eligible_m2 > 0
    assert claim(EligibleRule(ground=ALL_STRIPS, canopy_year=10, max_canopy_pct=half + 0.1), laid=laid).eligible_m2 == 0
    years = got.by_year.set_index("year")
    assert years.loc[10.0, "canopy_m2"] == pytest.approx(600 * np.pi, abs=0.2)
    assert years.loc[1.0, "trees_per_ha_field"] == pytest.approx(740 / 0.81, abs=0.05)


def test_trees_that_are_thinned_or_past_their_life_are_not_counted():
    frame = laid_out().plants
    frame = frame.assign(harvest_to_week=np.where(frame["crop"] == "shade_alder", 104, 5200))
    laid = replace(laid_out(crops=GROWING), plants=frame, timeline=Timeline.of(frame))
    years = claim(laid=laid).by_year.set_index("year")["trees"]
    assert (years[1.0], years[3.0]) == (740, 600)


def test_native_is_told_by_the_list_alone_whatever_author_stands_behind_the_name(tmp_path, laid):
    file = tmp_path / "native.csv"
    file.write_text("species,family\nPrunus inventa (L.) Auth.,Rosaceae\nQuercus robur,Fagaceae\n")
    listed = read_native(Native(file=file.name), folder=tmp_path)
    assert listed == {"prunus inventa", "quercus robur"}
    answers = claim(laid=laid, native=listed).species.set_index("crop")["native"]
    assert (answers["hill_plum"], answers["salad"]) == ("yes", "")  # salad has no scientific name
    assert set(claim(laid=laid).species["native"]) == {""}
    with pytest.raises(InputError, match=r"line 3: 'oak' is no scientific name"):
        file.write_text("species\nPrunus inventa\noak\n")
        read_native(Native(file=file.name), folder=tmp_path)
    with pytest.raises(InputError, match=r"report\.native\.file \(native\.csv\): line 2: isn't a list"):
        file.write_text("species\n" + "x" * 200_000)
        read_native(Native(file=file.name), folder=tmp_path)


def test_a_share_of_native_trees_that_cannot_be_told_is_not_kept(laid):
    rule = EligibleRule(ground=ALL_STRIPS, min_native_pct=10)
    named = {**CROPS, "shade_alder": replace(CROPS["shade_alder"], scientific="Alnus inventa")}
    known = replace(laid, crops=named)
    got = claim(rule, laid=known, native=frozenset({"prunus inventa"}))
    assert got.conditions["found"].iloc[0] == pytest.approx(100 * 600 / 740, abs=0.01)
    assert got.eligible_m2 > 0
    for other in (claim(rule, laid=known), claim(rule, laid=laid, native=frozenset({"prunus inventa"}))):
        assert other.eligible_m2 == 0 and other.conditions["met"].tolist() == ["no"]


def test_species_of_trees_are_counted_by_their_scientific_names(laid):
    same = {**CROPS, "shade_alder": replace(CROPS["shade_alder"], scientific="Prunus inventa var. alba")}
    rule = EligibleRule(ground=ALL_STRIPS, min_tree_species=2)
    assert claim(rule, laid=laid).eligible_m2 > 0
    assert claim(rule, laid=replace(laid, crops=same)).eligible_m2 == 0


def test_without_a_rule_nothing_is_said_about_eligible_ground(laid):
    got = claim(laid=laid)
    assert np.isnan(got.eligible_m2) and len(got.eligible) == 0
    assert got.parcels["parcel"].tolist() == ["whole field"] and got.parcels["eligible_m2"].isna().all()


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"ground": ["garden"]}, "no kind of ground"),
        ({"ground": []}, "at least 1"),
        ({"ground": ["vegetable_beds"], "max_canopy_pct": 5}, "canopy_year"),
        ({"ground": ["vegetable_beds"], "canopy_year": 5}, "go together"),
        ({"ground": ["vegetable_beds"], "min_trees_per_ha": 9, "max_trees_per_ha": 5}, "must not be above"),
    ],
)
def test_rules_that_say_nothing_or_two_things_are_refused(keys, words):
    with pytest.raises(ValidationError, match=words):
        EligibleRule(**keys)


def test_parcels_that_leave_a_gap_or_overlap_are_refused_with_the_area(laid):
    west, south, _, north = laid.boundary.bounds
    with pytest.raises(LayoutError, match="leave 4050 m² of the field in no parcel"):
        claim(laid=laid, parcels=lots(box(west, south, west + 45, north)))
    twice = lots(box(west, south, west + 50, north), box(west + 40, south, west + 90, north))
    with pytest.raises(LayoutError, match="cover 900 m² twice"):
        claim(laid=laid, parcels=twice)


def test_parcels_are_read_by_the_attribute_named_and_joined_by_id(tmp_path, laid):
    west, south, east, north = laid.boundary.bounds
    shapes = [
        box(west, south, west + 30, north),
        box(west + 60, south, east, north),
        box(west + 30, south, west + 60, north),
    ]
    frame = gpd.GeoDataFrame({"lpis": [7.0, 7.0, 12.0], "who": ["a", None, "c"]}, geometry=shapes, crs=builders.UTM)
    frame.to_file(tmp_path / "farm.gpkg")
    source = VectorSource(file="farm.gpkg")
    got = read_parcels(source, "lpis", folder=tmp_path, crs=builders.UTM)
    assert got["parcel"].tolist() == ["12", "7"]
    assert got.geometry.area.round().tolist() == [2700, 5400]
    with pytest.raises(InputError, match=r"no attribute 'parcel' \(it has lpis, who\)"):
        read_parcels(source, "parcel", folder=tmp_path, crs=builders.UTM)
    with pytest.raises(InputError, match=r"feature 2 .* has no 'who'"):
        read_parcels(source, "who", folder=tmp_path, crs=builders.UTM)


def test_photos_are_read_with_place_and_bearing(tmp_path):
    file = tmp_path / "photos.csv"
    file.write_text("photo;date;lon;lat;bearing;shows\n7;2031-04-02T10:00:00;15.01;45.02;361;gate\n")
    source = PhotoSource(file=file.name, crs="EPSG:4326")
    with pytest.raises(InputError, match="bearing '361'"):
        read_photos(source, folder=tmp_path, crs=builders.UTM)
    file.write_text("photo;date;lon;lat;bearing;shows\n7;2031-04-02T10:00:00;15.01;45.02;360;gate\n8;;15;45;;\n")
    got = read_photos(source, folder=tmp_path, crs=builders.UTM)
    assert got["photo"].tolist() == ["7", "8"] and got["date"].tolist() == ["2031-04-02", ""]
    assert got["bearing_deg"].iloc[0] == 0 and np.isnan(got["bearing_deg"].iloc[1])
    back = got.to_crs(4326).geometry
    assert np.allclose([back.x.iloc[0], back.y.iloc[0]], [15.01, 45.02], atol=1e-8)
    assert (got["lon"].iloc[0], got["lat"].iloc[0]) == (15.01, 45.02)


def test_provenance_and_trees_of_crops_that_are_not_planted_are_refused(laid):
    with pytest.raises(LayoutError, match=r"report.provenance: crop 'palm'"):
        claim(laid=laid, report=ReportRule(provenance={"palm": "x"}))
    with pytest.raises(LayoutError, match=r"report.eligible.trees: crop 'palm'"):
        claim(EligibleRule(ground=ALL_STRIPS, trees=("palm",), max_trees_per_ha=5), laid=laid)


@pytest.fixture(scope="module")
def first_pages(tmp_path_factory):
    """Text of the first two pages of a claim with everything stated."""
    laid = laid_out(size_m=40.0, setback_m=1.0)
    frame = laid.plants.assign(plant_date=np.datetime64("2030-03-04"), harvest_to_week=5200)
    photos = PHOTOS.frame(
        {"photo": ["31"], "date": ["2031-04-02"], "bearing_deg": [225.0], "x": [500_010.0], "y": [5_000_010.0], "lon": [15.0], "lat": [45.1], "shows": ["gate"], "source": ["photos.csv"]},
        geometry=[shapely.Point(500_010, 5_000_010)], crs=builders.UTM,
    )  # fmt: skip
    evidence = Evidence(parcels=halves(laid, 20.0), photos=photos, native=frozenset({"prunus inventa"}))
    survey = SurveyCounts("2031-04-01 spring", None, None, by="C. Counter", receiver="phone", receiver_m=2.4)
    laid = replace(laid, plants=frame, timeline=Timeline.of(frame), evidence=evidence, start=date(2030, 3, 4), surveys=(survey,), crops=GROWING)  # fmt: skip
    rule = ReportRule(
        holder="Invented Holder", programme="Measure 3", parcels="id", as_of=date(2031, 4, 15), boundary_error_m=0.4,
        boundary_survey=BoundarySurvey(by="B. Walker", day=date(2029, 11, 3), receiver="differential"),
        eligible=EligibleRule(ground=ALL_STRIPS, max_trees_per_ha=2000), native=Native(names=("Prunus inventa",), source="Office list"),
        provenance={"hill_plum": "Invented nursery"},
    )  # fmt: skip
    account = account_for(laid, rule)
    path = tmp_path_factory.mktemp("claim") / "report.pdf"
    write_report_pdf(account, rule, MapData(laid, None, Words("en")), path)
    return account, [" ".join(text.split()) for text in page_texts(path)[:2]]


def test_what_an_officer_looks_for_stands_on_the_first_two_pages(first_pages):
    account, (one, two) = first_pages
    for text in ("Invented Holder", "Measure 3", "LOT-1, LOT-2", "points of the boundary err by 0.40 m"):
        assert text in one, text
    for text in (
        "Prunus inventa", "Invented nursery", "Office list", "Mar 4, 2030", "now (1.1)", "45.100000", "225", "gate",
        "B. Walker", "differential", "C. Counter", "phone", "2.40", "most trees per ha 2,000", "kept where", "Signature",
    ):  # fmt: skip
        assert text in two, text
    assert f"{account.claim.eligible_m2:,.0f}" in two


def test_every_crop_of_the_library_has_a_binomial():
    """Genus with a capital, epithet in small letters, hybrids with x: the code of nomenclature's form (common practice)."""
    form = r"[A-Z][a-z]+ (x )?[a-z]+(-[a-z]+)?( (var|subsp)\. [a-z]+)?"
    library = read_crop_library()
    wrong = [code for code, crop in library.items() if not pd.Series([crop.scientific or ""]).str.fullmatch(form).all()]
    assert not wrong
    genus = {}
    for code, crop in library.items():  # one family for each genus
        genus.setdefault(crop.scientific.split()[0], {}).setdefault(crop.family, []).append(code)
    assert {name: families for name, families in genus.items() if len(families) > 1} == {}


# a planting list of 1,542, 1,581 and 3,078 plants: exp(H') 2.835, worked by hand
def test_diversity_is_the_hill_number_of_order_one():
    assert diversity(np.array([1542.0, 1581.0, 3078.0])) == pytest.approx(2.835, abs=5e-4)
    assert diversity(np.full(7, 3.0)) == pytest.approx(7.0)
    assert diversity(np.array([5.0, 0.0])) == 1.0 and diversity(np.zeros(2)) == 0.0


def test_biomass_follows_both_published_equations():
    """D 20 cm, H 15 m, density 0.6: 199.05 kg (Chave et al. 2014, equation 4) and 149.69 kg (Kuyah et al. 2012)."""
    assert chave_kg(np.array([20.0]), np.array([15.0]), np.array([0.6])) == pytest.approx(199.05, abs=5e-3)
    assert kuyah_kg(np.array([20.0])) == pytest.approx(149.69, abs=5e-3)


def measured(names, *, dbh=20.0, height=15.0, crop=""):
    table = {"name": names, "crop": [crop] * len(names), "dbh_cm": dbh, "tree_height_m": height}
    return SurveyCounts("2031-04-01 stems", None, None, stems=pd.DataFrame(table))


def test_biomass_is_told_of_measured_stems_only_and_as_a_range(laid):
    plums = laid.plants.loc[laid.plants["crop"] == "hill_plum", "plant"].astype(str).tolist()[:3]
    density = ReportRule(wood_density={"hill_plum": 0.6})
    got = claim(laid=replace(laid, surveys=(measured(plums),)), report=density).indicators.set_index("indicator")
    assert got.loc["biomass_chave", ["value", "low", "high", "counted"]].tolist() == [597, 449, 597, 3]
    assert got.loc["biomass_kuyah", ["value", "low", "high", "counted"]].tolist() == [449, 449, 597, 3]
    for survey, rule in (
        (measured(plums), ReportRule()),  # no density of wood
        (measured(plums, height=np.nan), density),
        (measured(plums, dbh=4.9), density),
        (measured(["999999999"]), density),  # no such plant
        (SurveyCounts("2031-04-01 none", None, None), density),
    ):
        found = claim(laid=replace(laid, surveys=(survey,)), report=rule).indicators["indicator"].tolist()
        assert not [name for name in found if name.startswith("biomass")]


def test_indicators_count_trees_and_shrubs_and_leave_out_what_is_not_known(laid):
    got = claim(laid=laid).indicators.set_index("indicator")
    assert set(got.index) == {"woody_species", "woody_diversity"}
    assert got.loc["woody_species", ["value", "counted"]].tolist() == [3, 600 + 140 + 1800]  # plum, alder, bitter root
    share = np.array([600, 140, 1800]) / 2540
    assert got.loc["woody_diversity", "value"] == pytest.approx(np.exp(-(share * np.log(share)).sum()), abs=1e-3)
    assert got["definition"].str.len().min() > 30
