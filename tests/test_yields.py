"""Yields in company: closed limits, published tables, and published mixtures as bands.

The one free figure, how much a full stand of several crops makes of a place, was taken from the mean of all intercrops
(1.22). The other trials were used to choose nothing, but were known to the authors: bands against slips, no blind test.
"""

from functools import cache

import numpy as np
import pytest

from geoagro.errors import DesignError
from geoagro.inputs.design.crop_library import read_crop_library
from geoagro.light.capture import Scene, captures
from geoagro.light.growth import canopy_of
from geoagro.light.rays import Sky
from geoagro.values.light import Capture
from geoagro.values.recipe import Crop, Planting
from geoagro.values.rules.care import WEEKS_PER_YEAR
from geoagro.values.section import Key, Line, Section
from geoagro.values.timeline import Standing, Stay
from geoagro.values.yields import Span, YieldShare
from geoagro.yields.company import Sight, yields_in_company
from geoagro.yields.land import area_time_ratio, land_equivalent_ratio, years_of_land
from geoagro.yields.model import HIGH, LIKELY, LOW, Limits, parts, response

LIBRARY = read_crop_library()


def mixture(parts, width, *, weeks=None, crops=None, plantings=()):
    """Yields of (name, crop, places across, spacing, week of planting) on rows that run north at 5 degrees north."""
    crops = LIBRARY | (crops or {})
    lines, standings, canopies, perennial = [], [], {}, {}
    for name, code, places, spacing, week in parts:
        first, last = crops[code].harvest_weeks
        key = Key("vegetable", "m", name, code, week, week + last)
        lines += [Line(key, x, spacing) for x in places]
        standings.append(
            Standing("vegetable", "m", name, code, 1, (Stay(1, week, week + first, week + last, week + last),))
        )
        canopies[key] = canopy_of(crops[code], south=False)
        perennial[key] = crops[code].bears_for_years
    scene = Scene(Section(width, 1, tuple(lines), ()), canopies, Sky(5.0), 0.0, 3)
    weeks = weeks or max(s.stays[0].end_week for s in standings)
    taken = captures(scene, standings, weeks=weeks, perennial=perennial)
    return yields_in_company([Sight(1.0, taken, taken, taken)], crops, plantings, sky="").shares


def ground(shares):
    return {share.kind.planting: share.ground.likely for share in shares}


@cache
def alone(code, width, spacing):
    return ground(mixture([(code, code, (0.0,), spacing, 0)], width))[code]


def total(shares):
    return sum(share.ground.likely for share in shares)


# --- limits that hold by construction ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("code", "width", "spacing"), [("maize", 0.75, 0.25), ("cowpea", 0.75, 0.2), ("cassava", 1.0, 1.0)]
)
def test_a_crop_alone_at_its_usual_density_yields_as_the_library_says(code, width, spacing):
    share = mixture([(code, code, (0.0,), spacing, 0)], width)[0]
    assert share.density == pytest.approx(1.0, abs=0.01)
    assert share.place.likely == pytest.approx(1.0, abs=0.01)
    assert share.incoming == pytest.approx(1.0)


@pytest.mark.parametrize("spacing", [0.05, 0.25, 1.0])
def test_one_crop_under_two_names_yields_as_one(spacing):
    twice = {"other_maize": LIBRARY["maize"]}
    two = mixture([("a", "maize", (0.0,), spacing, 0), ("b", "other_maize", (0.75,), spacing, 0)], 1.5, crops=twice)
    assert total(two) == pytest.approx(alone("maize", 0.75, spacing), rel=1e-3)


def test_two_crops_that_never_stand_together_yield_as_alone():
    shares = mixture([("a", "maize", (0.0,), 0.25, 0), ("b", "cowpea", (0.375,), 0.2, 30)], 0.75)
    assert total(shares) == pytest.approx(2.0, abs=0.02)


def test_ten_times_the_plants_do_not_yield_ten_times():
    assert alone("maize", 0.75, 0.025) == pytest.approx(1.2, abs=0.01)
    six_lines = mixture([("maize", "maize", np.arange(6) * 0.183, 0.08, 0)], 1.1)
    assert six_lines[0].density > 10
    assert total(six_lines) < 1.3


@pytest.mark.parametrize("times", [0.1, 1.0, 10.0])
def test_however_dense_a_crop_alone_is_crowded_by_itself_and_by_no_company(times):
    share = mixture([("m", "maize", (0.0,), 0.25 / times, 0)], 0.75)[0]
    assert (share.company, share.shade) == pytest.approx((1.0, 1.0))
    assert share.crowding == pytest.approx(share.place.likely)


@pytest.mark.parametrize("code", ["maize", "cassava", "sweet_potato"])
def test_a_plant_far_from_others_yields_no_more_than_the_library_says(code):
    share = mixture([(code, code, (0.0,), 5.0, 0)], 5.0)[0]
    assert share.place.likely == pytest.approx(1.0)


def test_a_crop_of_one_plant_in_a_kilometre_changes_no_other_yield():
    pair = [("a", "maize", (0.0,), 0.25, 0)]
    rare = ("c", "cassava", (0.2,), 1000.0, 0)
    assert ground(mixture([*pair, rare], 0.75))["a"] == pytest.approx(ground(mixture(pair, 0.75))["a"], abs=1e-3)


def test_what_is_sure_has_no_range_and_what_company_takes_has_one():
    lone = mixture([("m", "maize", (0.0,), 0.25, 0)], 0.75)[0]
    assert (lone.place.low, lone.place.likely) == pytest.approx((1.0, 1.0), abs=0.01)
    both = mixture([("m", "maize", (0.0,), 0.25, 0), ("c", "cowpea", (0.375,), 0.2, 0)], 0.75)
    for share in both:
        assert share.place.low < share.place.likely < share.place.high


def test_factors_multiply_to_the_yield_of_a_place():
    for share in mixture([("a", "cassava", (0.0,), 0.8, 0), ("b", "maize", (0.5,), 0.2, 0)], 1.0):
        assert share.crowding * share.company * share.shade == pytest.approx(share.place.likely)


# --- the user's own figures first --------------------------------------------------------------------------------


def test_a_measured_yield_goes_before_the_model():
    own = Planting(crop="maize", bed="vegetable", name="a", measured_yield_kg={"maize": (0.03, 0.045, 0.06)})
    shares = mixture([("a", "maize", (0.0,), 0.25, 0), ("b", "cowpea", (0.375,), 0.2, 0)], 0.75, plantings=[own])
    measured = next(share for share in shares if share.kind.planting == "a")
    assert measured.basis == "measured"
    assert measured.place.likely * LIBRARY["maize"].yield_kg[1] == pytest.approx(0.045)


def test_a_crop_that_yields_nothing_by_the_library_is_worked_out_and_keeps_no_measured_yield():
    nothing = {"maize": LIBRARY["maize"].model_copy(update={"yield_kg": (0.0, 0.0, 0.0)})}
    own = Planting(crop="maize", bed="vegetable", name="a", measured_yield_kg={"maize": (0.03, 0.045, 0.06)})
    share = mixture([("a", "maize", (0.0,), 0.25, 0)], 0.75, crops=nothing, plantings=[own])[0]
    assert share.basis == "model"


def test_a_measured_yield_on_the_ground_follows_density():
    own = Planting(crop="maize", bed="vegetable", name="a", measured_yield_kg={"maize": (0.03, 0.045, 0.06)})
    share = mixture([("a", "maize", (0.0,), 0.5, 0)], 0.75, plantings=[own])[0]
    assert share.ground.likely == pytest.approx(share.density * share.place.likely)


def test_a_measured_sole_yield_is_what_the_ratio_is_taken_from():
    own = {"maize": LIBRARY["maize"].model_copy(update={"sole_yield_t_per_ha": 6.4})}
    share = mixture([("a", "maize", (0.0,), 0.25, 0)], 0.75, crops=own)[0]
    usual = LIBRARY["maize"].yield_kg[1] * LIBRARY["maize"].usual_per_m2 * 10
    assert share.ground.likely == pytest.approx(usual / 6.4, rel=0.01)


def test_an_own_crop_without_usual_density_is_named_and_left_alone():
    own = {"oca": LIBRARY["sweet_potato"].model_copy(update={"usual_per_m2": None})}
    key = Key("vegetable", "m", "oca", "oca", 0, 26)
    scene = Scene(
        Section(1.0, 1, (Line(key, 0.0, 0.3),), ()), {key: canopy_of(own["oca"], south=False)}, Sky(5.0), 0.0, 3
    )
    taken = captures(scene, [Standing(*key[:4], 1, (Stay(1, 0, 17, 26, 26),))], weeks=26, perennial={key: False})
    found = yields_in_company([Sight(1.0, taken, taken, taken)], LIBRARY | own, (), sky="")
    assert found.shares == ()
    ((kind, why),) = found.uncorrected
    assert kind == key
    assert "crops.oca.usual_per_m2" in why


# --- published tables --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("light", "loss"), [(0.8, 0.43), (0.6, 0.56), (0.5, 0.59), (0.4, 0.69), (0.3, 0.80)])
def test_cassava_in_shade_yields_what_was_published(light, loss):
    """Okoli and Wilson 1986: 20, 40, 50, 60 and 70 % shade cost 43, 56, 59, 69 and 80 % of the yield."""
    assert response(LIBRARY["cassava"], light) == pytest.approx(1 - loss)


@pytest.mark.parametrize("code", ["sweet_potato", "groundnut"])
def test_some_crops_fall_in_proportion_to_shade(code):
    """Linear from 0 to 73 % shade (J. Amer. Soc. Hort. Sci. 115: 175, 1990)."""
    assert [response(LIBRARY[code], light) for light in (0.27, 0.5, 0.8)] == pytest.approx([0.27, 0.5, 0.8])


def test_lettuce_keeps_its_yield_in_thirty_per_cent_shade():
    """The same trial: lettuce gains or stays up to 30 to 47 % shade; no gain is promised."""
    assert response(LIBRARY["lettuce"], 0.70) == pytest.approx(1.0)


def test_the_published_example_of_a_land_equivalent_ratio():
    """4000 of 5000 kg of grain and 9000 of 15000 kg of fruit: 1.4 (encyclopedia example of the definition)."""
    assert land_equivalent_ratio({"grain": 4000, "fruit": 9000}, {"grain": 5000, "fruit": 15000}) == pytest.approx(1.4)


# --- published mixtures, as bands --------------------------------------------------------------------------------


def test_maize_with_cowpea_stays_near_what_trials_found():
    """All intercrops 1.22 +- 0.02 (Yu et al. 2015), cereals with legumes 1.26, one trial of this pair 1.58."""
    shares = mixture([("m", "maize", (0.0,), 0.25, 0), ("c", "cowpea", (0.375,), 0.2, 0)], 0.75)
    assert 1.0 <= total(shares) <= 1.6


@pytest.mark.parametrize("code", ["maize", "cowpea"])
def test_cassava_with_a_short_crop_uses_land_better_than_most_mixtures(code):
    """Published 1.76 to 2.24 with other, unknown densities; the model errs low."""
    spacing = {"maize": 0.25, "cowpea": 0.2}[code]
    shares = mixture([("k", "cassava", (0.0,), 1.0, 0), ("s", code, (0.5,), spacing, 0)], 1.0)
    assert 1.4 <= total(shares) <= 2.24


@pytest.mark.parametrize(
    ("tall", "width", "spacing", "band"),
    # per plant -26 and -21 % under cassava (two cultivars), -46 and -58 % under maize
    [("cassava", 1.0, 1.0, (-0.40, -0.10)), ("maize", 0.9, 0.25, (-0.60, -0.30))],
)
def test_sweet_potato_loses_under_a_tall_crop(tall, width, spacing, band):
    both = mixture([("t", tall, (0.0,), spacing, 0), ("s", "sweet_potato", (width / 2,), 0.3, 0)], width)
    change = ground(both)["s"] / alone("sweet_potato", width, 0.3) - 1
    assert band[0] <= change <= band[1]


def test_light_under_a_tall_cereal_is_about_what_was_measured():
    """0.60 to 0.66 of open light reached cowpea under sorghum; maize of 2 m is denser."""
    shares = mixture([("m", "maize", (0.0,), 0.25, 0), ("c", "cowpea", (0.375,), 0.2, 0)], 0.75)
    assert 0.4 <= next(s.incoming for s in shares if s.kind[2] == "c") <= 0.7


def test_the_area_time_ratio_of_crops_one_after_another_is_their_share_of_the_time():
    shares = mixture([("a", "maize", (0.0,), 0.25, 0), ("b", "cowpea", (0.375,), 0.2, 26)], 0.75, weeks=52)
    year = years_of_land(shares, {share.kind: 0 for share in shares})[0]
    stood = sum(share.weeks for share in shares) / 52.18
    assert year.land.likely == pytest.approx(2.0, abs=0.03)
    assert year.area_time.likely == pytest.approx(stood, abs=0.03)


def test_trees_count_only_from_their_first_harvest_on():
    parts = [("t", "citrus", (2.5,), 3.0, 0), ("m", "maize", (0.0,), 0.25, 0)]
    shares = mixture(parts, 5.0, weeks=4 * 52)
    bears = {share.kind: LIBRARY[share.kind[3]].harvest_weeks[0] for share in shares}
    years = {year.year: [code for code, _ in year.crops] for year in years_of_land(shares, bears)}
    assert years[1] == ["maize"]
    assert "citrus" not in years.get(2, [])
    assert years[4] == ["citrus"]


def test_shares_are_looked_up_by_round_and_by_year():
    own = {"bush": Crop.model_validate(LIBRARY["citrus"].model_dump() | {"harvest_weeks": (52, 520)})}
    shares = mixture([("t", "bush", (2.5,), 3.0, 0)], 5.0, weeks=3 * 52, crops=own)
    assert [share.year for share in shares] == [1, 2, 3]


def test_the_range_reaches_half_of_what_company_takes_to_both_sides():
    for share in mixture([("m", "maize", (0.0,), 0.25, 0), ("c", "cowpea", (0.375,), 0.2, 0)], 0.75):
        taken = abs(share.place.likely - share.crowding)
        assert share.place.low <= share.place.likely - taken / 2 + 1e-9
        assert share.place.high >= share.place.likely + taken / 2 - 1e-9


# --- worked by hand ----------------------------------------------------------------------------------------------

KIND = Key("vegetable", "m", "a", "herb", 0, 26)
HERB = Crop(usual_per_m2=0.5, shade_response_pct=((0, 0), (50, 75), (100, 100)), yield_kg=(1.0, 2.0, 5.0))


def capture(captured, *, kind=KIND, per_m2=1.0, alone=1.8, incoming=0.5, fullness=1.5):
    return Capture(kind, 1, 0, 0.0, 26.0, per_m2, captured, alone, 1.0, incoming, fullness)


def test_the_yield_of_a_place_is_reckoned_as_the_module_says():
    """Density 1 / 0.5. By itself 1.8 / (1.8 / 1.2); in company 0.8 x 1.5 / (1.5 / 1.2): 1.2 and 0.96 on two places."""
    found = parts(capture(0.8), HERB, LIKELY)
    assert (found.density, found.crowding, found.shade) == pytest.approx((2.0, 0.6, 1.5))
    assert (found.place, found.company) == pytest.approx((0.48, 0.48 / 0.6 / 1.5))
    sparse = parts(capture(0.8, per_m2=0.25), HERB, Limits(1.2, 0.9))  # a place bears 0.9 of one alone at most
    assert (sparse.density, sparse.place, sparse.crowding) == pytest.approx((0.5, 0.9, 0.9))
    roomy = parts(capture(0.8, fullness=1.1), HERB, LIKELY)  # less than a full stand makes nothing less
    assert roomy.place == pytest.approx(0.8 * 1.5 / 2)


def test_a_crop_that_bears_nothing_in_the_dark_has_a_yield_of_nought():
    dark = HERB.model_copy(update={"shade_response_pct": ((20, 0), (100, 100))})
    found = parts(capture(0.8, incoming=0.1), dark, LIKELY)
    assert (found.place, found.shade, found.company) == (0.0, 0.0, 0.0)


def test_published_land_equivalent_ratios_bound_what_company_makes_of_a_place():
    """1.22 on average of all intercrops and 1.26 of cereals with legumes (Yu et al. 2015); none at all is the low end."""
    assert LOW.fullest == 1.0 < LIKELY.fullest <= 1.22
    assert 1.26 < HIGH.fullest < 1.5
    assert {limits.per_place for limits in (LOW, LIKELY, HIGH)} == {1.0}


def test_bearings_count_by_their_share_of_the_rows():
    one, other = (capture(0.8),), (capture(0.4, incoming=0.9, fullness=1.1),)
    sights = [Sight(1.0, one, one, one), Sight(3.0, other, other, other)]
    (share,) = yields_in_company(sights, {"herb": HERB}, (), sky="open").shares
    shade = (0.75 / 0.5, 0.95 / 0.9)
    place = (0.48, 0.4 * shade[1] / 2)
    assert share.place.likely == pytest.approx((place[0] + 3 * place[1]) / 4)
    assert share.shade == pytest.approx((shade[0] + 3 * shade[1]) / 4)
    assert (share.incoming, share.fullness) == pytest.approx((0.8, 1.2))
    assert share.place.likely == pytest.approx(share.crowding * share.company * share.shade)
    assert share.ground.likely == pytest.approx(2 * share.place.likely)


def spans(low, likely, high, crop=HERB, plantings=()):
    sight = Sight(1.0, (low,), (likely,), (high,))
    (share,) = yields_in_company([sight], {"herb": crop}, plantings, sky="").shares
    return share


def test_the_range_of_a_yield_has_the_ends_that_were_reckoned():
    """Crowding 0.6, likely 0.48: half of what company takes is 0.06; less and more leaf may reach further."""
    same = spans(capture(0.8), capture(0.8), capture(0.8))
    assert same.place == Span(
        *(pytest.approx(v) for v in (0.8 * 1.5 / 1.5 / 2, 0.48, 0.54))
    )  # low by c 1, high by unsure
    wide = spans(capture(0.2), capture(0.8), capture(2.0, fullness=1.0))
    assert wide.place.low == pytest.approx(0.2 * 1.5 / 1.5 / 2)
    assert wide.place.high == pytest.approx(2.0 * 1.5 / 2)  # below 2.5, the library's high yield over its likely one
    assert spans(capture(0.8), capture(0.8), capture(9.0, fullness=1.0)).place.high == pytest.approx(2.5)
    nothing = HERB.model_copy(update={"yield_kg": (0.0, 0.0, 0.0)})
    assert spans(capture(0.8), capture(0.8), capture(9.0, fullness=1.0), nothing).place.high == pytest.approx(1.0)
    little = spans(capture(0.8), capture(0.02), capture(0.02), HERB)
    assert little.place.low == 0.0


def test_a_measured_yield_is_that_of_the_planting_of_its_name_and_kind_of_bed():
    def own(bed, kg, name="a", crop="herb"):
        return Planting(crop=crop, bed=bed, name=name, measured_yield_kg={crop: kg})

    others = [own("tree", (9.0, 9.0, 9.0)), own("vegetable", (8.0, 8.0, 8.0), name="b")]
    other_crop = own("vegetable", (7.0, 7.0, 7.0), crop="fern")
    crop = HERB.model_copy(update={"sole_yield_t_per_ha": 5.0})
    share = spans(*[capture(0.8)] * 3, crop, [*others, other_crop, own("vegetable", (1.0, 1.5, 3.0))])
    assert (share.basis, share.place) == ("measured", Span(0.5, 0.75, 1.5))
    # at the usual density 2 kg on 2 m2 are 10 t/ha by the recipe, twice the sole yield that was measured
    assert share.ground == Span(*(pytest.approx(place * 2 * 2.0) for place in (0.5, 0.75, 1.5)))
    assert spans(*[capture(0.8)] * 3, HERB, [*others, other_crop]).basis == "model"
    empty = Planting(crop="herb", bed="vegetable", name="a")
    assert spans(*[capture(0.8)] * 3, HERB, [empty]).basis == "model"


def test_a_crop_without_a_yield_alone_is_refused_by_name():
    for sole in ({"grain": 2.0}, {"grain": 2.0, "fruit": 0.0}):
        with pytest.raises(DesignError, match="yield of fruit grown alone"):
            land_equivalent_ratio({"grain": 1.0, "fruit": 1.0}, sole)
    assert land_equivalent_ratio({"grain": 0.2}, {"grain": 0.5}) == pytest.approx(0.4)  # however little grows alone
    assert area_time_ratio([0.5, 0.8], [10.0, 30.0], 40.0) == pytest.approx((5 + 24) / 40)


def share_of(name, code, ground, *, year=0, from_week=0.0, weeks=26.0):
    key = KIND._replace(planting=name, crop=code)
    return YieldShare(key, 1, year, from_week, weeks, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, ground, ground, "model", "")


def test_ratios_of_a_year_are_sums_by_crop_and_by_time():
    shares = [
        share_of("a", "herb", Span(0.1, 0.2, 0.3)),
        share_of("b", "herb", Span(0.2, 0.3, 0.4)),
        share_of("c", "vine", Span(0.4, 0.5, 0.6), weeks=60.0, from_week=-10.0),
    ]
    (year,) = years_of_land(shares, {})
    assert year.year == 1
    assert [code for code, _ in year.crops] == ["herb", "vine"]
    assert year.crops[0][1] == Span(*(pytest.approx(v) for v in (0.3, 0.5, 0.7)))
    assert year.land == Span(*(pytest.approx(v) for v in (0.7, 1.0, 1.3)))
    assert year.area_time.likely == pytest.approx((0.2 * 26 + 0.3 * 26 + 0.5 * 60) / 60)
    assert years_of_land(shares[:1], {})[0].area_time.high == pytest.approx(0.3 * 26 / WEEKS_PER_YEAR)


def test_a_round_counts_in_the_year_in_which_it_ends_and_a_perennial_once_it_bears():
    ends = [
        share_of("a", "herb", Span(1, 1, 1), from_week=WEEKS_PER_YEAR - 26, weeks=26.0),  # with the year itself
        share_of("b", "vine", Span(1, 1, 1), from_week=WEEKS_PER_YEAR - 26, weeks=27.0),
    ]
    assert [(y.year, [code for code, _ in y.crops]) for y in years_of_land(ends, {})] == [(1, ["herb"]), (2, ["vine"])]
    tree = share_of("t", "tree", Span(1, 1, 1), year=2, weeks=52.0)
    for first, years in ((2 * 52 - 1, [2]), (2 * 52, [])):  # after two years it bears in the third, as in the season
        assert [y.year for y in years_of_land([tree], {tree.kind: first})] == years


def test_light_is_counted_against_what_the_crop_takes_grown_alone():
    """Sole 2: alone 3.6 / 2 = 1.8 of it, in company 1.6 / 2 = .8, as where sole is 1."""
    doubled = Capture(KIND, 1, 0, 0.0, 26.0, 1.0, 1.6, 3.6, 2.0, 0.5, 1.5)
    assert parts(doubled, HERB, LIKELY) == parts(capture(0.8), HERB, LIKELY)
    alone = Capture(KIND, 1, 0, 0.0, 26.0, 1.0, 1.6, 1.0, 2.0, 0.5, 1.5)  # half of a full stand: no crowding
    assert parts(alone, HERB, LIKELY).crowding == pytest.approx(0.5 / 2)


def test_a_measured_yield_says_nothing_where_the_recipes_own_is_nought():
    nothing = HERB.model_copy(update={"yield_kg": (0.0, 0.0, 0.0)})
    measured = Planting(crop="herb", bed="vegetable", name="a", measured_yield_kg={"herb": (1.0, 1.5, 3.0)})
    assert spans(*[capture(0.8)] * 3, nothing, [measured]).basis == "model"
    unknown = HERB.model_copy(update={"yield_kg": None})
    assert spans(*[capture(0.8)] * 3, unknown, [measured]).basis == "model"


def test_yields_alone_that_are_not_known_leave_the_ground_as_the_recipe_has_it():
    for sole, kg in ((None, (1.0, 2.0, 5.0)), (0.0, (1.0, 2.0, 5.0)), (5.0, None)):
        crop = HERB.model_copy(update={"sole_yield_t_per_ha": sole, "yield_kg": kg})
        share = spans(*[capture(0.8)] * 3, crop)
        assert share.ground.likely == pytest.approx(2 * share.place.likely)
