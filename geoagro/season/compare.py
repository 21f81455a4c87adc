"""Two plans side by side."""

from __future__ import annotations

from typing import Any

import pandas as pd

from geoagro.errors import DesignError
from geoagro.season.records.tables import COMPARISON, SeasonPlan


def compare_plans(first: SeasonPlan, second: SeasonPlan) -> Any:
    """Table COMPARISON: every key figure of both plans, then places and harvest of each crop.

    Raises DesignError where the plans count in different money or over different years.
    """
    for what, a, b in (
        ("currency", first.rule.currency, second.rule.currency),
        ("years", first.rule.years, second.rule.years),
    ):
        if a != b:
            raise DesignError(
                f"season.{what} is {a} in one design and {b} in the other; give both the same to compare."
            )
    both = first.figures.merge(second.figures, on="key", suffixes=("", "_second"), sort=False)
    parts = [
        pd.DataFrame(
            {
                "key": both["key"],
                "figure": both["figure"],
                "unit": both["unit"],
                "first": both["value"],
                "second": both["value_second"],
                "definition": both["definition"],
            }
        ),
        _by_crop(_places(first), _places(second), "places of", "places", "Planting places of all rounds."),
        _by_crop(_harvest(first), _harvest(second), "harvest of", "kg", "Likely harvest of all years."),
    ]
    frame = pd.concat(parts, ignore_index=True)
    frame["difference"] = frame["second"] - frame["first"]
    return COMPARISON.frame({name: frame[name] for name in COMPARISON.columns})


def _places(plan: SeasonPlan) -> Any:
    return plan.material.set_index("crop")["places"]


def _harvest(plan: SeasonPlan) -> Any:
    return plan.yields.groupby("crop")["kg_likely"].sum()


def _by_crop(first: Any, second: Any, stem: str, unit: str, definition: str) -> Any:
    """One line per crop of either plan; a crop that one of them lacks counts 0 there."""
    crops = sorted({*first.index, *second.index})
    columns = {"first": first.reindex(crops, fill_value=0), "second": second.reindex(crops, fill_value=0)}
    frame = pd.DataFrame({k: v.astype(float).to_numpy() for k, v in columns.items()})
    return frame.assign(
        key=[f"{stem.replace(' ', '_')}_{crop}" for crop in crops],
        figure=[f"{stem} {crop}" for crop in crops],
        unit=unit,
        definition=definition,
    )
