"""What a careful adviser would say about water on these rows, gravest first."""

from __future__ import annotations

import math
from dataclasses import replace

from geoagro.values.rules.water import WaterRule
from geoagro.values.site import Finding
from geoagro.water.records.tables import WaterPlan
from geoagro.water.records.words import CAUTION


def water_findings(plan: WaterPlan, rule: WaterRule | None) -> WaterPlan:
    """Add the findings to a plan."""
    told = [
        *_edge(plan),
        *_storm(plan, rule),
        *_low_points(plan, rule),
        *_ways(plan, rule),
        *_crossings(plan),
        *_machines(plan),
    ]
    return replace(plan, findings=(*told, Finding("note", "water", CAUTION)))


def _edge(plan: WaterPlan) -> list[Finding]:
    rows = plan.row_water
    beyond = int(rows["beyond"].sum())
    if beyond == 0:
        return []
    text = (
        f"water may come from beyond the elevation onto {beyond} of {len(rows)} rows; their ground and volumes are the least "
        "there can be, and no verdict is given on them. Give a raster that reaches to the top of the slope."
    )
    return [Finding("warning", "inputs.elevation", text)]


def _storm(plan: WaterPlan, rule: WaterRule | None) -> list[Finding]:
    if rule is None:
        text = (
            "no storm was reckoned with, as the design has no section `water`. Say there what rows are for, and the rain and "
            "soil of your place: water: { rows: store, rain_mm: ..., soil_group: ... }."
        )
        return [Finding("note", "water", text)]
    if rule.rows == "lead":
        return []
    rows = plan.row_water
    over = rows[rows["over_m3"] > 0.01]
    if over.empty:
        text = f"all {len(rows)} rows hold the storm of {rule.rain_mm:g} mm ({plan.runoff_mm:.0f} mm run off) behind the ridge given"
        return [Finding("note", "water", text)]
    first = over.iloc[int(over["first_over_rain_mm"].fillna(float("inf")).argmin())]
    rain = first["first_over_rain_mm"]
    alone = f", which its own ground alone fills at {rain:.0f} mm" if math.isfinite(rain) else ""
    left = float(plan.water_balance.set_index("item")["volume_m3"]["left"])
    text = (
        f"in the storm of {rule.rain_mm:g} mm ({plan.runoff_mm:.0f} mm run off) {len(over)} of {len(rows)} rows run over, first row "
        f"{int(first['row'])}{alone}; {left:.0f} m3 of {plan.row_water['caught_m3'].sum():.0f} m3 leave the last row. "
        "Raise water.ridge.height_m, lead the water away, or take more of it up above."
    )
    return [Finding("warning", "water.ridge", text)]


def _low_points(plan: WaterPlan, rule: WaterRule | None) -> list[Finding]:
    rows = plan.row_water
    count = int(rows["low_points"].sum())
    if count == 0:
        return []
    deepest = rows.iloc[int(rows["deepest_m"].argmax())]
    elsewhere = plan.low_points[(plan.low_points["depth_m"] >= 0.15) & ~plan.low_points["on_flow_line"]]
    text = (
        f"{int((rows['low_points'] > 0).sum())} of {len(rows)} rows have {count} inner low points of 0.15 m or deeper, the "
        f"deepest {deepest['deepest_m']:.2f} m in row {int(deepest['row'])}; {len(elsewhere)} of them lie off the flow lines. "
        "Water stands there, and a full furrow breaks there first"
    )
    return [Finding("warning" if rule is not None and rule.rows == "lead" else "note", "water", text + ".")]


def _ways(plan: WaterPlan, rule: WaterRule | None) -> list[Finding]:
    pieces = plan.row_profile
    wrong = pieces[pieces["problem"] != ""]
    if rule is None or wrong.empty:
        return []
    worst = wrong.iloc[int(wrong["length_m"].argmax())]
    text = (
        f"{len(wrong)} of {len(pieces)} pieces of row break a limit, e.g. row {int(worst['row'])} from {worst['from_m']:.0f} to "
        f"{worst['to_m']:.0f} m: {worst['problem']} (layer row_profile)"
    )
    return [Finding("warning", "water", text)]


def _crossings(plan: WaterPlan) -> list[Finding]:
    met = plan.flow_crossings
    if len(met) == 0:
        return []
    text = (
        f"{met['row'].nunique()} rows cross lines of gathered flow at {len(met)} places. Keep a grass strip along them "
        "(rows.break_at_drainage with rows.drainage_width_m), or see that nothing there can wash out"
    )
    return [Finding("warning", "rows", text)]


def _machines(plan: WaterPlan) -> list[Finding]:
    above = plan.slope_classes[plan.slope_classes["above_limit"]]
    share, ends = float(above["share_pct"].sum()), int(above["row_ends"].sum())
    if share < 0.05:
        return []
    limit = float(above["from_pct"].min())
    text = f"{share:.1f} % of the row length and {ends} row ends lie on ground that slopes more than {limit:g} % across the row"
    return [Finding("warning", "water.machine_slope_pct", text)]
