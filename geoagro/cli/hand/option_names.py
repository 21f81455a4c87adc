"""What an option of a comparison is called: the setting as a person says it, not as the design's keys spell it."""

from __future__ import annotations

from collections.abc import Mapping

from geoagro.values.words import Sentence, say

_VALUES = {
    ("rows.method", "contour"): say("rows on contour"),
    ("rows.method", "straight"): say("straight rows"),
    ("rows.method", "guide"): say("rows along the guide lines"),
    ("rows.method", "drawn"): say("rows as drawn"),
    ("rows.thorough", "true"): say("thorough search"),
    ("rows.thorough", "false"): say("quick look"),
    ("rows.bearing_deg", "auto"): say("best bearing"),
    ("rows.break_at_drainage", "true"): say("rows end where water gathers"),
    ("rows.break_at_drainage", "false"): say("rows cross where water gathers"),
    ("rows.avoid_low_points", "true"): say("fewer low points"),
    ("rows.avoid_low_points", "false"): say("low points as they come"),
}
_KEYS = {
    "rows.spacing_m": say("rows {value:g} m apart"),
    "rows.max_grade_pct": say("row grade up to {value:g} %"),
    "rows.spacing_tolerance_pct": say("spacing may drift {value:g} %"),
    "rows.target_grade_pct": say("rows fall {value:g} %"),
    "rows.bearing_deg": say("bearing {value:g}°"),
    "rows.min_row_length_m": say("rows of {value:g} m at least"),
    "rows.turning_cost_m": say("two turns cost as much as {value:g} m of row"),
    "rows.min_turn_radius_m": say("bends of {value:g} m radius at least"),
    "beds.tree_bed_width_m": say("tree beds {value:g} m wide"),
    "beds.bed_width_m": say("beds {value:g} m wide"),
    "beds.path_width_m": say("paths {value:g} m wide"),
    "ground.setback_m": say("setback of {value:g} m"),
}


def option_name(file: str, settings: Mapping[str, str]) -> str:
    """Name an option by its file, where several are compared, and by what is varied.

    >>> option_name("", {"rows.method": "contour", "rows.spacing_m": "5"})
    'rows on contour, rows 5 m apart'
    >>> option_name("ridge", {"season.people": "3"})
    'ridge, people: 3'
    """
    told = [_setting(key, value) for key, value in settings.items()]
    return Sentence("{told}", told=(*([file] if file else []), *told))


def _setting(key: str, value: str) -> Sentence:
    if (key, value.lower()) in _VALUES:
        return Sentence(_VALUES[key, value.lower()])
    number = _number(value)
    if key in _KEYS and number is not None:
        return Sentence(_KEYS[key], value=number)
    return Sentence("{key}: {value}", key=key.rpartition(".")[2], value=value)


def _number(value: str) -> float | None:
    try:
        return float(value)
    except ValueError:
        return None
