"""Survey an invented field many times by chance: `python scripts/simulate_surveys.py [SURVEYS] [CASE ...]`.

Prints for each case the truth, the mean of what `survey` says, its bias, and how often its interval (or for shifts two
standard errors) holds the truth; 200 surveys per case unless told otherwise.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from pyproj import CRS

from geoagro.errors import LayoutError
from geoagro.stakeout.as_built import as_built
from geoagro.stakeout.plots import PlotRule, lay_plots
from geoagro.stakeout.records.as_built import AsBuilt
from geoagro.values.beds import BEDS, PATHS, TREE_BEDS, Beds
from geoagro.values.plants import PLANTS
from geoagro.values.rows import TREE_ROWS, TreeRows
from geoagro.values.survey import SURVEY_POINTS, SURVEY_TRACES, Survey, SurveyFile, nothing_noted

UTM = CRS.from_epsg(32633)
EAST, NORTH = 500_000.0, 5_000_000.0
ROWS, SPACING_M, STEP_M = 24, 4.5, 2.0
DEAD = 0.07
DRIFT_ROWS = 3.0  # a phone's drift goes together over about as many rows (our own choice)


@dataclass(frozen=True)
class Field:
    """Rows on a gentle arc with a tree bed each, and plants along them."""

    rows: TreeRows
    beds: Beds
    plants: Any


@dataclass(frozen=True)
class Told:
    """What one survey said of one quantity: the truth, the estimate, and the interval if there is one."""

    truth: float
    said: float
    low: float = np.nan
    high: float = np.nan


def field(rows: int = ROWS) -> Field:
    """Make the field: arcs of 300 m radius, upslope to the north."""
    angle = np.radians(np.linspace(-10, 10, 60))
    radius = 300 + SPACING_M * np.arange(rows)
    lines = [
        shapely.linestrings(np.column_stack([EAST + r * np.sin(angle), NORTH + 500 - r * np.cos(angle)]))
        for r in radius
    ]
    number = np.arange(1, rows + 1)
    columns: dict[str, Any] = {
        name: [""] * rows if spec.kind == "text" else np.zeros(rows)
        for name, spec in zip(TREE_ROWS.columns, TREE_ROWS.fields, strict=True)
    }
    columns |= {"row": number, "length_m": shapely.length(lines)}
    cut = gpd.GeoDataFrame({"reason": []}, geometry=gpd.GeoSeries([], crs=UTM), crs=UTM)
    frame = TREE_ROWS.frame(columns, geometry=lines, crs=UTM)
    bed = [f"R{k:03d}-T" for k in number]
    strips = shapely.buffer(np.array(lines, dtype=object), 0.5, cap_style="flat")
    widths = {"row": number, "width_m": np.ones(rows), "length_m": shapely.length(lines)}
    beds = TREE_BEDS.frame(widths | {"bed": bed, "area_m2": shapely.area(strips)}, geometry=strips, crs=UTM)
    return Field(
        TreeRows(frame, SPACING_M, cut), Beds(beds, BEDS.empty(UTM), PATHS.empty(UTM)), _plants(lines, number, bed)
    )


def _plants(lines: Any, number: Any, bed: list[str]) -> Any:
    counts = np.floor(shapely.length(lines) / STEP_M).astype(int)
    station = np.concatenate([np.arange(n) * STEP_M for n in counts])
    points = shapely.line_interpolate_point(np.repeat(np.array(lines, dtype=object), counts), station)
    n = len(points)
    columns: dict[str, Any] = {
        name: [""] * n if spec.kind == "text" else np.zeros(n)
        for name, spec in zip(PLANTS.columns, PLANTS.fields, strict=True)
    }
    columns |= {
        "plant": np.arange(1, n + 1), "crop": ["apple"] * n, "planting": ["apple"] * n, "mixture": ["tree"] * n,
        "bed_kind": ["tree"] * n, "row": np.repeat(number, counts), "bed": np.repeat(bed, counts), "line": np.ones(n),
        "station_m": station, "x": shapely.get_x(points), "y": shapely.get_y(points),
        "stratum": ["emergent"] * n, "direction": ["all_round"] * n,
    }  # fmt: skip
    for name, spec in zip(PLANTS.columns, PLANTS.fields, strict=True):
        if spec.kind == "date":
            columns[name] = np.full(n, np.datetime64("2031-03-03"))
    return PLANTS.frame(columns, geometry=points, crs=UTM)


def survey_of(xy: Any, *, names: Any = None, status: Any = "") -> Survey:
    """Make a survey of plants from places, names and states."""
    n = len(xy)
    columns = {
        "point": np.arange(1, n + 1), "name": [""] * n if names is None else [str(k) for k in names],
        "status": np.broadcast_to(status, n), "crop": [""] * n, "x": xy[:, 0], "y": xy[:, 1], "z": np.full(n, np.nan),
        "far": np.zeros(n, dtype=bool), **nothing_noted(n),
    }  # fmt: skip
    points = SURVEY_POINTS.frame(columns, geometry=shapely.points(xy), crs=UTM)
    files = (SurveyFile("simulated.csv", "00", len(points), 0),)
    return Survey("simulated", date(2031, 5, 1), "plants", points, SURVEY_TRACES.empty(UTM), (), files)


def drift(chance: np.random.Generator, row: Any, sigma_m: float) -> Any:
    """Error that a receiver carries from row to row: a chain that forgets itself over a few rows, one value per row."""
    number, one = np.unique(row, return_inverse=True)
    keep = np.exp(-1 / DRIFT_ROWS)
    out = np.empty((len(number), 2))
    out[0] = chance.normal(0, sigma_m, 2)
    for k in range(1, len(out)):
        out[k] = keep * out[k - 1] + chance.normal(0, sigma_m * np.sqrt(1 - keep**2), 2)
    return out[one]


def _planned(one: Field) -> Any:
    return one.plants[["x", "y"]].to_numpy()


def _whole(built: AsBuilt) -> Told:
    assert built.survival is not None
    line = built.survival.iloc[0]
    return Told(1 - DEAD, *(float(line[key]) / 100 for key in ("survival_pct", "low_pct", "high_pct")))


def _area(built: AsBuilt, alive: float) -> Told:
    """Give the share of tree beds that stands planted beside the share of plants alive; plants are evenly spaced here."""
    line = built.areas.set_index("item").loc["tree_beds_planted"]
    return Told(alive, float(line["built_m2"] / line["designed_m2"]))


def phone_with_numbers(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """All trees by number, a phone of 3 m noise that drifts by 2 m."""
    return _phone(one, chance, noise_m=3.0, drift_m=2.0)


def drifting_phone(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """All trees by number, a phone whose noise is small and whose drift is large: 0.5 m and 4 m."""
    return _phone(one, chance, noise_m=0.5, drift_m=4.0)


def _phone(one: Field, chance: np.random.Generator, *, noise_m: float, drift_m: float) -> dict[str, Told]:
    xy = _planned(one)
    row = one.plants["row"].to_numpy()
    dead = chance.uniform(size=len(xy)) < DEAD
    seen = xy + chance.normal(0, noise_m, xy.shape) + drift(chance, row, drift_m)
    built = as_built(
        survey_of(seen, names=one.plants["plant"], status=np.where(dead, "dead", "planted")), one.rows, one.beds,
        plants=one.plants,
    )  # fmt: skip
    assert built.accuracy is not None and built.row_offsets is not None and built.alignment is not None
    return {
        "survival": _whole(built),
        "area as built, share": _area(built, 1 - float(dead.mean())),
        "noise of the receiver, m": Told(noise_m, built.accuracy.scatter_m),
        "drift of the receiver, m": Told(drift_m, built.accuracy.drift_m),
        "rows named though in place": Told(0.0, float(built.row_offsets["off_place"].sum())),
        "told that all points moved": Told(0.0, float(bool(built.alignment.told))),
    }


def rows_off(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """RTK, plants set to 5 cm, and row 8 set 0.40 m downslope, row 15 0.25 m upslope."""
    xy = _planned(one)
    row = one.plants["row"].to_numpy()
    down = _downslope(xy)
    planted = xy + chance.normal(0, 0.05, xy.shape) + ((row == 8) * 0.40 - (row == 15) * 0.25)[:, None] * down
    seen = planted + chance.normal(0, 0.02, xy.shape)
    built = as_built(survey_of(seen, names=one.plants["plant"]), one.rows, one.beds, plants=one.plants)
    assert built.row_offsets is not None
    off = built.row_offsets.set_index("row")
    named = off.index[off["off_place"]].tolist()
    return {
        "row 8, m across": _with_errors(-0.40, off.loc[8, "across_m"], off.loc[8, "across_se_m"]),
        "row 15, m across": _with_errors(0.25, off.loc[15, "across_m"], off.loc[15, "across_se_m"]),
        "rows named rightly, of 2": Told(2.0, float(len({8, 15} & set(named)))),
        "rows named wrongly": Told(0.0, float(len(set(named) - {8, 15}))),
    }


def _downslope(xy: Any) -> Any:
    out = xy - np.array([EAST, NORTH + 500])
    return out / np.hypot(*out.T)[:, None]


def _with_errors(truth: float, said: float, error: float) -> Told:
    return Told(truth, float(said), float(said - 1.96 * error), float(said + 1.96 * error))


def measured_again(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """Survey with a receiver of 0.30 m, plants set to 0.10 m, sixty of them measured again."""
    xy = _planned(one)
    planted = xy + chance.normal(0, 0.10, xy.shape)
    again = chance.choice(len(xy), 60, replace=False)
    which = np.concatenate([np.arange(len(xy)), again])
    seen = planted[which] + chance.normal(0, 0.30, (len(which), 2))
    names = one.plants["plant"].to_numpy()[which]
    built = as_built(survey_of(seen, names=names), one.rows, one.beds, plants=one.plants)
    assert built.accuracy is not None
    return {
        "the receiver's own, m": Told(0.30, built.accuracy.receiver_m),
        "receiver and plants, m": Told(float(np.hypot(0.30, 0.10)), built.accuracy.scatter_m),
    }


def wrong_base(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """All points 1.20 m north-east, RTK, by number; a tenth of the numbers are mixed up."""
    return _moved(one, chance, shift=1.20 * np.sqrt(0.5) * (1 + 1j), turn_deg=0.0, scale=1.0)


def magnetic_north(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """All points turned by 3 degrees and scaled by 1.002, RTK, by number; a tenth of the numbers are mixed up."""
    return _moved(one, chance, shift=0j, turn_deg=3.0, scale=1.002)


def nothing_wrong(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """Nothing moved, a phone that drifts: how often a shift or turn is told all the same."""
    xy = _planned(one)
    seen = xy + chance.normal(0, 3.0, xy.shape) + drift(chance, one.plants["row"].to_numpy(), 2.0)
    built = as_built(survey_of(seen, names=one.plants["plant"]), one.rows, one.beds, plants=one.plants)
    assert built.alignment is not None
    return {"told that all points moved": Told(0.0, float(bool(built.alignment.told)))}


def _moved(
    one: Field, chance: np.random.Generator, *, shift: complex, turn_deg: float, scale: float
) -> dict[str, Told]:
    xy = _planned(one)
    middle = xy.mean(axis=0)
    z = (xy - middle) @ np.array([1, 1j]) * scale * np.exp(-1j * np.radians(turn_deg)) + shift
    seen = np.column_stack([z.real, z.imag]) + middle + chance.normal(0, 0.03, xy.shape)
    names = one.plants["plant"].to_numpy().copy()
    mixed = chance.choice(len(names), len(names) // 10, replace=False)
    names[mixed] = names[np.roll(mixed, 1)]
    built = as_built(survey_of(seen, names=names), one.rows, one.beds, plants=one.plants)
    assert built.alignment is not None
    found = built.alignment.similarity
    told = {
        "shift east, m": _with_errors(shift.real, found.east_m, found.shift_se_m),
        "shift north, m": _with_errors(shift.imag, found.north_m, found.shift_se_m),
    }
    if turn_deg:
        told |= {
            "turn, degrees": _with_errors(turn_deg, found.turn_deg, found.turn_se_deg),
            "scale": _with_errors(scale, found.scale, found.scale_se),
        }
    return told | {"said": Told(1.0, float(bool(built.alignment.told)))}


def without_numbers(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """Living plants only, without numbers, a receiver of 0.25 m."""
    xy = _planned(one)
    lives = chance.uniform(size=len(xy)) >= DEAD
    seen = (xy + chance.normal(0, 0.25, xy.shape))[lives]
    return {"survival": _whole(as_built(survey_of(seen), one.rows, one.beds, plants=one.plants))}


def phone_without_numbers(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """Living plants only, without numbers, a phone of 3 m: refused, since places tell nothing."""
    xy = _planned(one)
    lives = chance.uniform(size=len(xy)) >= DEAD
    seen = survey_of((xy + chance.normal(0, 3.0, xy.shape))[lives])
    try:
        as_built(seen, one.rows, one.beds, plants=one.plants, covers="all")
    except LayoutError as error:
        return {"refused for its receiver": Told(1.0, float("receiver's error" in str(error)))}
    return {"refused for its receiver": Told(1.0, 0.0)}


def sample_plots(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """Lay plots by chance, plants near each other sharing their luck, by number, a phone of 3 m."""
    xy = _planned(one)
    area = shapely.union_all(shapely.buffer(one.rows.frame.geometry.to_numpy(), SPACING_M / 2))
    rule = PlotRule(
        radius_m=5.642, expected_pct=90, precision_pct=6, by_chance=True, seed=int(chance.integers(1 << 31))
    )
    plots, _ = lay_plots(area, xy, crs=UTM, rule=rule)
    patch = (np.floor((xy - xy.min(axis=0)) / 12) @ [1000, 1]).astype(int)
    luck = chance.beta(9.3, 0.7, patch.max() + 1)[patch]
    dead = chance.uniform(size=len(xy)) > luck
    near = shapely.dwithin(shapely.points(xy), shapely.union_all(plots.geometry.to_numpy()), 0.0)
    built = as_built(
        survey_of(
            (xy + chance.normal(0, 3.0, xy.shape))[near], names=one.plants["plant"][near],
            status=np.where(dead, "dead", "planted")[near],
        ),
        one.rows, one.beds, plants=one.plants, plots=plots, covers="plots",
    )  # fmt: skip
    line, alive = _whole(built), 1 - float(dead.mean())
    return {
        "survival of the field": Told(alive, line.said, line.low, line.high),
        "area as built, share": _area(built, alive),
    }


def feet_of_another_kind(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """US survey feet taken where the file holds feet (2 millionths of the coordinates), RTK, by number."""
    xy = _planned(one)
    seen = xy * (1 + 2e-6) + chance.normal(0, 0.03, xy.shape)
    built = as_built(survey_of(seen, names=one.plants["plant"]), one.rows, one.beds, plants=one.plants)
    assert built.alignment is not None
    found, moved = built.alignment.similarity, 2e-6 * xy.mean(axis=0)
    return {
        "shift east, m": _with_errors(moved[0], found.east_m, found.shift_se_m),
        "shift north, m": _with_errors(moved[1], found.north_m, found.shift_se_m),
        "told that it is the unit": Told(1.0, float("the unit" in built.alignment.told)),
    }


def undone_shift(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """Wrong base by 1.20 m, RTK of 3 cm, undone as asked: what remains, and survival."""
    xy = _planned(one)
    dead = chance.uniform(size=len(xy)) < DEAD
    seen = xy + np.array([0.85, 0.85]) + chance.normal(0, 0.03, xy.shape)
    survey = survey_of(seen, names=one.plants["plant"], status=np.where(dead, "dead", "planted"))
    built = as_built(survey, one.rows, one.beds, plants=one.plants, undo=True)
    assert built.alignment is not None and built.row_offsets is not None
    return {
        "half lie within, m": Told(0.03 * float(np.sqrt(2 * np.log(2))), built.alignment.after_m),
        "survival": _whole(built),
        "area as built, share": _area(built, 1 - float(dead.mean())),
        "rows named though in place": Told(0.0, float(built.row_offsets["off_place"].sum())),
    }


def unknown_points(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """Twelve points in the list whose names are no plant's, a phone of 3 m."""
    xy = _planned(one)
    strange = xy[chance.choice(len(xy), 12, replace=False)]
    seen = np.vstack([xy, strange]) + chance.normal(0, 3.0, (len(xy) + 12, 2))
    names = [*one.plants["plant"].tolist(), *range(900_001, 900_013)]
    built = as_built(survey_of(seen, names=names), one.rows, one.beds, plants=one.plants)
    told = " ".join(finding.text for finding in built.findings)
    return {
        "points that match nothing": Told(12.0, float(len(built.extra))),
        "first of them named": Told(1.0, float("900001" in told)),
    }


def replanting_list(one: Field, chance: np.random.Generator) -> dict[str, Told]:
    """All trees by number, a phone of 3 m that drifts: who stands on the list to plant again."""
    xy = _planned(one)
    number = one.plants["plant"].to_numpy()
    dead = chance.uniform(size=len(xy)) < DEAD
    seen = xy + chance.normal(0, 3.0, xy.shape) + drift(chance, one.plants["row"].to_numpy(), 2.0)
    survey = survey_of(seen, names=number, status=np.where(dead, "dead", "planted"))
    built = as_built(survey, one.rows, one.beds, plants=one.plants)
    assert built.replant is not None
    listed, gone = set(built.replant["plant"].tolist()), set(number[dead].tolist())
    return {
        "of the dead listed, share": Told(1.0, len(listed & gone) / max(len(gone), 1)),
        "listed though alive": Told(0.0, float(len(listed - gone))),
    }


CASES: dict[str, Callable[[Field, np.random.Generator], dict[str, Told]]] = {
    case.__name__: case
    for case in (
        phone_with_numbers, drifting_phone, phone_without_numbers, without_numbers, sample_plots, rows_off, measured_again, wrong_base,
        magnetic_north, nothing_wrong, feet_of_another_kind, undone_shift, unknown_points, replanting_list,
    )
}  # fmt: skip


def simulated(name: str, surveys: int, *, rows: int = ROWS) -> dict[str, list[Told]]:
    """Survey the field `surveys` times and collect what is said of each quantity; same seed, same surveys."""
    one = field(rows)
    out: dict[str, list[Told]] = {}
    for seed in range(surveys):
        for quantity, told in CASES[name](one, np.random.default_rng([seed, len(name)])).items():
            out.setdefault(quantity, []).append(told)
    return out


def coverage(told: Iterable[Told]) -> float:
    """Share of intervals that hold the truth; NaN where there are none."""
    held = [one.low <= one.truth <= one.high for one in told if np.isfinite(one.low)]
    return float(np.mean(held)) if held else float("nan")


def main(surveys: int, names: list[str]) -> None:
    """Print a line per case and quantity."""
    for name in names:
        for quantity, told in simulated(name, surveys).items():
            truth, said = (float(np.mean([getattr(one, key) for one in told])) for key in ("truth", "said"))
            held = coverage(told)
            print(
                f"{name} | {quantity} | {truth:.4f} | {said:.4f} | {said - truth:+.4f} | "
                f"{'' if np.isnan(held) else f'{held:.1%}'}"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, sys.argv[2:] or list(CASES))
