"""What a step in a setting wins, in words: read from options that differ in that setting alone."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from geoagro.values.results.options import BED_SHARE_OF_FIELD, FIELD_HA, OptionResult
from geoagro.values.words import Sentence, say

ROW_LENGTH_KEY = "row_length"


def trades(options: Sequence[OptionResult]) -> list[str]:
    """Name the option with most beds, and what each step of a varied setting wins, all else as in that option.

    Empty where no setting was varied in numbers, or where only one option could be laid out.
    """
    laid = [option for option in options if not option.problem and option.settings and not math.isnan(_beds_m2(option))]
    if len(laid) < 2:
        return []
    best = max(laid, key=_beds_m2)
    steps = [text for key in best.settings for text in _steps(key, best, laid)]
    if not steps:
        return []
    first = Sentence(
        "Most beds: {option}, {beds:.0f} m² of beds beside {row:.0f} m of row.",
        option=best.name, beds=_beds_m2(best), row=_row_m(best),
    )  # fmt: skip
    return [first, *steps]


def _steps(key: str, best: OptionResult, laid: Sequence[OptionResult]) -> Iterator[str]:
    """Each step between neighbouring values of one setting."""
    alike = [
        option
        for option in laid
        if (_others(option, key), option.design_file) == (_others(best, key), best.design_file)
    ]
    if not all(_is_number(option.settings[key]) for option in alike):
        return
    alike = sorted(alike, key=lambda option: float(option.settings[key]))
    for one, other in pairwise(alike):
        beds, row = _beds_m2(other) - _beds_m2(one), _row_m(other) - _row_m(one)
        yield Sentence(
            _STEPS[beds >= 0, row >= 0],
            key=key, value=other.settings[key], than=one.settings[key],
            beds=abs(beds), share=100 * abs(beds / _beds_m2(one)), row=abs(row),
        )  # fmt: skip


# by whether beds and row grow
_STEPS = {
    (True, True): say(
        "{key} {value} instead of {than}: {beds:.0f} m² more of beds (+{share:.1f} %), {row:.0f} m more of row."
    ),
    (True, False): say(
        "{key} {value} instead of {than}: {beds:.0f} m² more of beds (+{share:.1f} %), {row:.0f} m less of row."
    ),
    (False, True): say(
        "{key} {value} instead of {than}: {beds:.0f} m² less of beds (-{share:.1f} %), {row:.0f} m more of row."
    ),
    (False, False): say(
        "{key} {value} instead of {than}: {beds:.0f} m² less of beds (-{share:.1f} %), {row:.0f} m less of row."
    ),
}


def _others(option: OptionResult, key: str) -> dict[str, str]:
    return {name: value for name, value in option.settings.items() if name != key}


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def _beds_m2(option: OptionResult) -> float:
    """Area of all beds, m²."""
    return option.value(BED_SHARE_OF_FIELD) / 100 * option.value(FIELD_HA) * 1e4


def _row_m(option: OptionResult) -> float:
    found = option.figures.get(ROW_LENGTH_KEY)
    return math.nan if found is None else float(found)
