"""What surveys found, against the layout and against the survey before."""

from __future__ import annotations

from typing import Any

from geoagro.errors import LayoutError
from geoagro.values.report import SURVIVAL

NEEDED = ("survey", "crop", "planned", "found", "alive")


def survival_table(surveys: Any) -> Any:
    """Table SURVIVAL from counts by survey and crop, surveys in the order in which they come.

    Survival is 100 x alive / found planted, inside what was surveyed only (public guidance on restoration
    monitoring, "Proportion of surviving seedlings").

    Raises LayoutError if more plants are alive than were found, or a column is missing.
    """
    if surveys is None or len(surveys) == 0:
        return SURVIVAL.empty()
    missing = [name for name in NEEDED if name not in surveys.columns]
    if missing:
        raise LayoutError(f"The survey's counts lack the columns {', '.join(missing)}; read the survey in again.")
    table = surveys[list(NEEDED)].reset_index(drop=True)
    wrong = table[(table["alive"] > table["found"]) | (table["alive"] < 0)]
    if len(wrong):
        first = wrong.iloc[0]
        raise LayoutError(
            f"Survey {first['survey']}, crop {first['crop']}: {first['alive']} alive of {first['found']} found; "
            "alive must lie between 0 and found. Correct the survey file."
        )
    found = table["found"].astype(float)
    table["survival_pct"] = (100 * table["alive"] / found.where(found > 0)).round(1)
    table["change_alive"] = table.groupby("crop")["alive"].diff().fillna(0).astype("int64")
    return SURVIVAL.frame({name: table[name] for name in SURVIVAL.columns})
