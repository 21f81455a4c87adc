"""Labour rates for work on whole beds."""

from __future__ import annotations

from dataclasses import dataclass

from geoagro.season import defaults as d
from geoagro.season.crops import OWN
from geoagro.values.season import Hours


@dataclass(frozen=True)
class BedRates:
    """Hours per square metre, and where each comes from."""

    prepare: float
    mulch: float
    weed: float
    sources: tuple[tuple[str, str, str, str], ...]


def bed_rates(hours: Hours) -> BedRates:
    """Take the user's rates before the defaults."""
    given = {"prepare": hours.prepare_h_per_m2, "mulch": hours.mulch_h_per_m2, "weed": hours.weed_h_per_m2}
    defaults = {"prepare": d.PREPARE_H_PER_M2, "mulch": d.MULCH_H_PER_M2, "weed": d.WEED_H_PER_M2}
    rates = {task: (value, OWN) if value is not None else defaults[task] for task, value in given.items()}
    rows = tuple((f"{task} hours", f"{value:.4g}", "h per m2", source) for task, (value, source) in rates.items())
    return BedRates(rates["prepare"][0], rates["mulch"][0], rates["weed"][0], rows)
