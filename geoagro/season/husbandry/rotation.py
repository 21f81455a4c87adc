"""What stands where again too soon: families that come back to a bed before they should."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from geoagro.season.crops import SeasonCrop
from geoagro.values.season import SeasonRule
from geoagro.values.words import CropName, Sentence, say

_MEMORY = "common practice, no source"
USUAL_YEARS: dict[str, tuple[float, str]] = {
    "Solanaceae": (
        3.0,
        "tomatoes lost 3, 30, 74 and 70 % of their leaves in years 1 to 4 of the same family, Penn State",
    ),
    "Brassicaceae": (4.0, _MEMORY),
    "Amaryllidaceae": (4.0, _MEMORY),
    "Apiaceae": (3.0, _MEMORY),
    "Cucurbitaceae": (3.0, _MEMORY),
    "Amaranthaceae": (3.0, _MEMORY),
    "Fabaceae": (2.0, _MEMORY),
    "Convolvulaceae": (2.0, _MEMORY),
    "Zingiberaceae": (3.0, _MEMORY),
    "Dioscoreaceae": (3.0, _MEMORY),
    "Euphorbiaceae": (2.0, _MEMORY),
    "Asteraceae": (2.0, _MEMORY),
}
"""Years that a bed stays without a family, and whose figure that is; families left out here may follow themselves."""

TOGETHER_DAYS = 28
"""What is planted within this many days of each other stands together and doesn't follow."""


def returns(stands: pd.DataFrame, crops: dict[str, SeasonCrop], rule: SeasonRule) -> pd.DataFrame:
    """Each planting that follows its own family in the same bed too soon.

    `stands` holds bed, crop, begin and end of each lot (days). The frame has bed, family, crop, before (the crop that
    stood there), gap_days and years (wanted).
    """
    annual = stands[~stands["crop"].map({code: crop.perennial for code, crop in crops.items()}).astype(bool)]
    annual = annual.assign(family=annual["crop"].map({code: crop.family for code, crop in crops.items()}))
    wanted = {family: years for family, (years, _) in USUAL_YEARS.items()} | dict(rule.rotation_years)
    annual = annual[annual["family"].isin(wanted)]
    pairs = annual.merge(annual, on=["bed", "family"], suffixes=("", "_before"))
    pairs = pairs[pairs["begin"] > pairs["begin_before"] + TOGETHER_DAYS]
    last = pairs.sort_values("end_before").drop_duplicates(["bed", "family", "crop", "begin"], keep="last")
    last = last.assign(gap_days=last["begin"] - last["end_before"], years=last["family"].map(wanted).astype(float))
    last = last[last["gap_days"] < 365 * last["years"]]
    return last.rename(columns={"crop_before": "before"})[["bed", "family", "crop", "before", "gap_days", "years"]]


def rotation_findings(
    stands: pd.DataFrame, crops: dict[str, SeasonCrop], rule: SeasonRule
) -> Iterator[tuple[str, str, str]]:
    """One warning per family that comes back too soon."""
    for family, part in returns(stands, crops, rule).groupby("family", sort=True):
        pairs = part.drop_duplicates(["before", "crop"])[["before", "crop"]].itertuples(index=False)
        names = tuple(
            Sentence("{crop} after {before}", crop=CropName(crops[crop].name), before=CropName(crops[before].name))
            for before, crop in pairs
        )
        gap, years = max(int(part["gap_days"].min()) // 7, 0), float(part["years"].iloc[0])
        source = "season.rotation_years" if family in rule.rotation_years else USUAL_YEARS[str(family)][1]
        told = Sentence(
            "{family} come back in {n} {n:bed|beds}, after {weeks} {weeks:week|weeks} at the shortest ({list}); {years:g} "
            "{years:year|years} without the family are wanted ({source}). Let another family follow: give plantings their own interval under "
            "season.vegetables.by_planting, or sow a cover crop of another family.",
            family=family, n=part["bed"].nunique(), weeks=gap, list=names, years=years, source=Sentence.of(source),
        )  # fmt: skip
        yield "warning", say("rotation"), told
