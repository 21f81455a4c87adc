"""What company leaves of yields, in harvest and money, and whose assumptions money rests on."""

import numpy as np
import pandas as pd
import pytest
import season_cases as cases

from geoagro.season.plan import plan_season
from geoagro.values.section import key_of
from geoagro.values.timeline import Timeline
from geoagro.values.yields import Span, YieldShare, YieldsInCompany


def shares(rule, place):
    """The same shares for all rounds; `place` by crop and year (0 for crops harvested once)."""
    _, plants = cases.field()
    found = []
    for kind in Timeline.of(plants.frame, cases.CROPS, rule).kinds:
        for (crop, year, round_), span in place.items():
            if crop == kind.crop:
                rest = {"from_week": 0.0, "weeks": 17.0, "per_m2": 1.0, "density": 1.0, "crowding": 1.0, "company": 1.0}
                rest |= {"shade": 1.0, "incoming": 1.0, "fullness": 1.0, "basis": "model", "response": ""}
                found.append(YieldShare(key_of(kind), round_, year, place=span, ground=span, **rest))
    return YieldsInCompany(tuple(found), (), "")


def plan(rule, yields):
    beds, plants = cases.field()
    given = {"name": "f", "start": cases.START, "area_ha": 0.36, "yields": yields}
    return plan_season(plants, beds, cases.CROPS, cases.cover(beds), rule, **given)


def kg(plan, crop):
    return (
        plan.yields.query("crop == @crop")
        .groupby(plan.yields["month"].dt.year)[["kg_low", "kg_likely", "kg_high"]]
        .sum()
    )


RULE = cases.rule(vegetables={"every_weeks": 52, "years": 2})
BEFORE = plan(RULE, None)


def test_each_round_yields_its_own_share_of_what_a_place_yields_alone():
    some = shares(RULE, {("maize", 0, 1): Span(0.5, 0.5, 0.5), ("maize", 0, 2): Span(0.25, 0.25, 0.25)})
    after = kg(plan(RULE, some), "maize")["kg_likely"] / kg(BEFORE, "maize")["kg_likely"]
    assert after.tolist() == pytest.approx([0.5, 0.25])


def test_a_perennial_yields_the_share_of_each_year():
    some = shares(RULE, {("lemon", year, 1): Span(0.1 * year, 0.1 * year, 0.1 * year) for year in range(1, 7)})
    after = (kg(plan(RULE, some), "lemon")["kg_likely"] / kg(BEFORE, "lemon")["kg_likely"]).dropna()
    assert after.iloc[-1] == pytest.approx(0.6, abs=0.02)
    assert after.is_monotonic_increasing


def test_the_range_of_company_widens_that_of_the_yield():
    some = shares(RULE, {("maize", 0, 1): Span(0.4, 0.5, 0.6), ("maize", 0, 2): Span(0.4, 0.5, 0.6)})
    after, before = kg(plan(RULE, some), "maize").iloc[0], kg(BEFORE, "maize").iloc[0]
    assert after["kg_low"] / before["kg_low"] == pytest.approx(0.5 * 0.8)
    assert after["kg_high"] / before["kg_high"] == pytest.approx(0.5 * 1.2)


def test_an_own_share_by_round_goes_before_the_model_of_rounds():
    own = cases.rule(vegetables={"every_weeks": 52, "years": 2, "yield_pct": [100, 80]})
    some = shares(own, {("maize", 0, 1): Span(0.5, 0.5, 0.5), ("maize", 0, 2): Span(0.1, 0.1, 0.1)})
    after = kg(plan(own, some), "maize")["kg_likely"] / kg(BEFORE, "maize")["kg_likely"]
    assert after.tolist() == pytest.approx([0.5, 0.4])


def test_a_region_scales_the_librarys_yields_and_never_the_users():
    own = {"maize": {"yield_kg": [0.05, 0.1, 0.15]}}
    rule = RULE.model_copy(update={"region_yield_pct": 50})
    scaled = plan(rule, None)
    assert np.allclose((kg(scaled, "cassava") / kg(BEFORE, "cassava")).to_numpy(), 0.5)
    users = plan(cases.rule(vegetables=RULE.vegetables, region_yield_pct=50, crops=cases.RULE["crops"] | own), None)
    pd.testing.assert_frame_equal(kg(users, "maize"), kg(BEFORE, "maize"))


def test_money_says_whose_assumptions_it_rests_on_and_which_one_decides():
    found = BEFORE.findings.query("subject == 'money'")["text"].tolist()
    assert any("good-practice yields, not a forecast" in text and "Cassava" in text for text in found)
    top = BEFORE.sensitivity[BEFORE.sensitivity["subject"] != "all crops"].iloc[0]
    assert any(
        f"What decides most is the {top['item']} of {str(top['subject']).replace('_', ' ')}" in text for text in found
    )
    assert set(BEFORE.sensitivity.query("item == 'yield'")["whose"]) == {"library"}
    assert set(BEFORE.sensitivity.query("item == 'price'")["whose"]) == {"yours"}
