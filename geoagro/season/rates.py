"""Labour rates for work on whole beds, and the table that tells every rate with its source."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
from pydantic import BaseModel

from geoagro.season import defaults as d
from geoagro.season.crops import OWN, SeasonCrop
from geoagro.season.husbandry.work_rates import CUT_H_PER_M2, PREPARE_H_PER_M2, SOW_H_PER_M2
from geoagro.season.records.tables import RATES
from geoagro.values.season import Hours, SeasonRule
from geoagro.values.words import say


@dataclass(frozen=True)
class BedRates:
    """Hours per square metre, and where each comes from."""

    prepare: float
    mulch: float
    weed: float
    cut: float
    sow: float
    sources: tuple[tuple[str, str, str, str], ...]

    def source_of(self, task: str) -> str:
        """Where the rate of a task comes from."""
        return next(row[3] for row in self.sources if row[0] == f"{task} hours")


def bed_rates(hours: Hours) -> BedRates:
    """Take the user's rates before the defaults."""
    given = {
        "prepare": hours.prepare_h_per_m2,
        "mulch": hours.mulch_h_per_m2,
        "weed": hours.weed_h_per_m2,
        "cut": hours.cut_h_per_m2,
        "sow": hours.sow_h_per_m2,
    }
    defaults = {
        "prepare": PREPARE_H_PER_M2[hours.tool].told,
        "mulch": d.MULCH_H_PER_M2,
        "weed": d.WEED_H_PER_M2,
        "cut": CUT_H_PER_M2[hours.tool].told,
        "sow": SOW_H_PER_M2.told,
    }
    rates = {task: (value, OWN) if value is not None else defaults[task] for task, value in given.items()}
    rows = tuple((f"{task} hours", f"{value:.4g}", "h per m²", source) for task, (value, source) in rates.items())
    return BedRates(**{task: value for task, (value, _) in rates.items()}, sources=rows)


def rate_table(crops: dict[str, SeasonCrop], rates: BedRates, rule: SeasonRule) -> pd.DataFrame:
    """Table RATES: work on beds, then each crop, then what money and chance are reckoned with."""
    rows = [(say("all beds"), *row) for row in rates.sources]
    rows += [(crop.code, *row) for crop in crops.values() for row in crop.sources]
    told = [(*row[:4], _whose(row[4]), row[4]) for row in rows]
    told += [(*row[:4], row[4], "season" if row[4] == "yours" else say("default, no source")) for row in _general(rule)]
    return RATES.frame({key: [row[k] for row in told] for k, key in enumerate(RATES.columns)})


def _whose(source: str) -> str:
    return "yours" if source == OWN or source.endswith(f"({OWN})") else "library"


def _general(rule: SeasonRule) -> list[tuple[str, str, str, str, str]]:
    """Assumptions that hold for the whole plan: subject, item, value, unit, whose."""
    span = " ".join(f"{v:g}" for v in rule.labour_range.values)

    def given(section: BaseModel, *keys: str) -> str:
        return "yours" if section.model_fields_set & set(keys) else "library"

    weeding, simulation = rule.weeding, rule.simulation
    return [
        (say("money"), "discount rate", f"{rule.discount_rate_pct:g}", "% a year", given(rule, "discount_rate_pct")),
        (
            say("money"),
            "region yield",
            f"{rule.region_yield_pct:g}",
            "% of library yields",
            given(rule, "region_yield_pct"),
        ),
        (say("work"), "labour range", span, "x rates", given(rule, "labour_range")),
        (say("weeding"), "bare weeks per round", f"{weeding.bare_weeks:g}", "weeks", given(weeding, "bare_weeks")),
        (say("free beds"), "cuts", f"{weeding.free_cuts_a_year:g}", "a year", given(weeding, "free_cuts_a_year")),
        (
            say("weeding"),
            "cover that shuts weeds out",
            f"{weeding.closed_cover_pct:g}",
            "%",
            given(weeding, "closed_cover_pct"),
        ),
        (say("simulation"), "distribution", simulation.shape, "", given(simulation, "shape")),
        (
            say("simulation"),
            "correlation of crops",
            f"{simulation.correlation:g}",
            "",
            given(simulation, "correlation"),
        ),
        (
            say("simulation"),
            "lasts through the years",
            f"{simulation.lasting:g}",
            "",
            given(simulation, "lasting"),
        ),
    ]
