"""Read what was surveyed in the field: points of stakes or plants, or traces of rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from itertools import chain
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from geoagro.errors import InputError
from geoagro.inputs.files import checksums, find_file, reading
from geoagro.inputs.survey.doubts import doubts
from geoagro.inputs.survey.fit import Known
from geoagro.inputs.survey.raw import Asked
from geoagro.inputs.survey.seen import Reading, Seen, read_seen
from geoagro.inputs.survey.several import above, labels_of, refuse_twice, survey_name, where_all, where_of
from geoagro.values.layers import LayerSpec
from geoagro.values.site import Finding, Site, SourceFile
from geoagro.values.survey import SURVEY_POINTS, SURVEY_TRACES, Survey, SurveyFile, What, numbers
from geoagro.values.words import Sentence

_MOST_TOLD = 8


def read_survey(
    path: Path | Sequence[Path],
    site: Site,
    *,
    what: What | None = None,
    on: date | None = None,
    crs: str | None = None,
    layer: str | None = None,
    repair: str | Sequence[str] | None = None,
    known_marks: frozenset[str] = frozenset(),
    places: Callable[[], Known] | None = None,
    by: str = "",
    receiver: str = "",
) -> Survey:
    """Read a survey (GPX, CSV, GeoPackage, KML and the like) into the working CRS, and check it.

    Several files are one survey: their features are put together in the order of the files, as if they stood in one. Each
    is read in its own CRS and by its own columns; every one of them must hold what the survey is of.

    Parameters
    ----------
    path
        The file, or a sequence of files.
    what
        What its points are; found from names, crops and geometry where left out.
    on
        Day of the survey; taken from the files' own dates (their median) where left out.
    crs
        CRS where a file states none. Lists of points are taken as being in the working CRS otherwise, or in
        longitude and latitude if their columns say so.
    layer
        Layer of every file that has layers; for GPX waypoints, tracks or routes.
    repair
        Mistake to undo, as an earlier run's message named it. It is looked for in every file by itself: one that lies at the
        field as it stands is left so, and where files need different ones several may be given.
    known_marks
        Names of the design's stakes, to tell what the points are.
    places
        Gives names and places of the design, to tell apart mistakes that put the points nearly alike.
    by, receiver
        Who surveyed and with what, as stated.

    Raises
    ------
    InputError, CrsError
        If a file can't be read, lies elsewhere, has an unknown status, is given twice, holds other things than the rest
        do, no file has a date, or what the points are can't be told.

    >>> from pathlib import Path
    >>> from geoagro import example_layout, read_survey
    >>> import tempfile
    >>> laid = example_layout()
    >>> trees = laid.plants.by_crop()["apple"].iloc[:3]
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder, "survey.csv")
    ...     text = trees.rename(columns={"plant": "name"})[["name", "x", "y"]].assign(date="2031-05-02").to_csv(index=False)
    ...     _ = file.write_text(text)
    ...     survey = read_survey(file, laid.site, what="plants")
    >>> survey.points["name"].tolist() == trees["plant"].astype(str).tolist(), str(survey.date)
    (True, '2031-05-02')
    """
    paths = _paths(path)
    labels = labels_of(paths)
    asked, repairs = Asked(crs, layer, several=len(paths) > 1), _repairs(repair)
    how = Reading(site, asked, what, repairs, places, dated=on is not None)
    sources = _sources(paths, labels)
    files = [read_seen(one, where_of(label), how) for one, label in zip(paths, labels, strict=True)]
    _refuse_unneeded(repairs, files, labels)
    points = _joined(SURVEY_POINTS, "point", [one.points for one in files])
    traces = _joined(SURVEY_TRACES, "trace", [one.traces for one in files])
    told = what or _what(files, points, traces, known_marks)
    for one in files:
        _need(one.where, told, one.points, one.traces)
    day, on_days = (on, []) if on is not None else _date(files, labels)
    of_file, of_points, of_traces = (
        tuple(chain.from_iterable(k)) for k in zip(*(s.findings for s in files), strict=True)
    )
    doubted = doubts(points, labels, np.repeat(np.arange(len(files)), [len(one.points) for one in files]))
    return Survey(
        name=survey_name(paths),
        date=day,
        what=told,
        points=points,
        traces=traces,
        findings=(*_together(files, labels, told), *on_days, *of_file, *of_points, *doubted, *of_traces),
        files=tuple(
            SurveyFile(source.path, source.sha256, len(one.points), len(one.traces))
            for source, one in zip(sources, files, strict=True)
        ),
        by=by,
        receiver=receiver,
    )


def _paths(path: Path | Sequence[Path]) -> list[Path]:
    paths = [Path(path)] if isinstance(path, str | Path) else [Path(one) for one in path]
    if not paths:
        raise InputError("survey: no file is given. Name at least one.")
    return paths


def _repairs(repair: str | Sequence[str] | None) -> tuple[str, ...]:
    if repair is None:
        return ()
    return (repair,) if isinstance(repair, str) else tuple(dict.fromkeys(repair))


def _sources(paths: Sequence[Path], labels: Sequence[str]) -> list[SourceFile]:
    """Find every file and take its checksum; none may be there twice."""
    for path, label in zip(paths, labels, strict=True):
        find_file(Path(label), folder=above(path, label), key="survey")
    found: list[SourceFile] = []
    for path, label in zip(paths, labels, strict=True):
        with reading(where_of(label)):
            found += checksums("survey", Path(label), path, [path])
    refuse_twice(paths, labels)
    return found


def _joined(spec: LayerSpec, number: str, frames: Sequence[gpd.GeoDataFrame]) -> gpd.GeoDataFrame:
    """Put layers of several files one below the other, numbered through."""
    if len(frames) == 1:
        return frames[0]
    columns: dict[str, Any] = {
        name: np.concatenate([frame[name].to_numpy() for frame in frames if len(frame)])
        for name in spec.columns if any(map(len, frames))
    }  # fmt: skip
    if not columns:
        return spec.empty(frames[0].crs)
    shapes = np.concatenate([frame.geometry.to_numpy() for frame in frames])
    return spec.frame(columns | {number: np.arange(1, len(shapes) + 1)}, geometry=shapes, crs=frames[0].crs)


def _refuse_unneeded(repairs: Sequence[str], files: Sequence[Seen], labels: Sequence[str]) -> None:
    """Refuse a repair that none of the files needed: it was meant for something."""
    used = frozenset[str]().union(*(one.repairs for one in files))
    placed = any(len(one.traces) or one.points["x"].notna().any() for one in files)
    idle = [repair for repair in repairs if repair not in used]
    if idle and placed:
        raise InputError(f"{where_all(labels)}: repair '{idle[0]}' brings no file to the field. Leave it out.")


def _together(files: Sequence[Seen], labels: Sequence[str], what: What) -> list[Finding]:
    """Say which files were taken as one survey, and which numbers the features of each have."""
    if len(files) == 1:
        return []
    counts = [len(one.traces if what == "rows" else one.points) for one in files]
    ends = np.cumsum(counts)
    told = [f"{label} ({numbers(int(end) - n, n)})" for label, n, end in zip(labels, counts, ends, strict=True)]
    more = ", ..." if len(told) > _MOST_TOLD else ""
    text = Sentence(
        "{n} files taken as one survey, numbered through: {files}",
        n=len(files),
        files=", ".join(told[:_MOST_TOLD]) + more,
    )
    return [Finding("note", "survey", text)]


def _date(files: Sequence[Seen], labels: Sequence[str]) -> tuple[date, list[Finding]]:
    """Take the median of all dates; say so where files differ in theirs."""
    days = [one.days for one in files if len(one.days)]
    if not days:
        none = "has no dates in it" if len(files) == 1 else "none of them has dates in it"
        raise InputError(f"{where_all(labels)}: {none}. Say when it was surveyed with --date, e.g. --date 2026-04-30.")
    day: date = pd.concat(days).median().date()
    first, last = (end([one.median().date() for one in days]) for end in (min, max))
    if first == last:
        return day, []
    text = Sentence("the files are of {first} to {last}; taken as of {day}", first=first, last=last, day=day)
    return day, [Finding("note", "survey", text)]


def _what(
    files: Sequence[Seen], points: gpd.GeoDataFrame, traces: gpd.GeoDataFrame, known_marks: frozenset[str]
) -> What:
    """Tell what all the files hold, as if they were one; refuse files that are plainly of different things."""
    each = {one.where: _kind(one.points, one.traces, known_marks) for one in files}
    plain: dict[What, str] = {}
    for where, kind in each.items():
        if kind is not None:
            plain.setdefault(kind, where)
    if len(plain) > 1:
        (one, first), (other, second) = list(plain.items())[:2]
        raise InputError(
            f"{second}: holds {other}, but {first} {one}. Read them as two surveys, or say with --what what all of them hold."
        )
    found = _kind(points, traces, known_marks)
    if found is not None:
        return found
    unclear = next(where for where, kind in each.items() if kind is None)
    raise InputError(
        f"{unclear}: can't tell whether its points are stakes or plants. Say so with --what stakes or --what plants."
    )


def _kind(points: gpd.GeoDataFrame, traces: gpd.GeoDataFrame, known_marks: frozenset[str]) -> What | None:
    """Tell stakes by their names, plants by their crop or number, rows by lines; None where that doesn't tell."""
    if len(points) == 0 and len(traces):
        return "rows"
    named = [name for name in points["name"] if name]
    if named and np.mean([name in known_marks for name in named]) > 0.5:
        return "stakes"
    if (points["crop"] != "").any() or (named and np.mean([name.isdigit() for name in named]) > 0.5):
        return "plants"
    return None


def _need(where: str, what: What, points: gpd.GeoDataFrame, traces: gpd.GeoDataFrame) -> None:
    if what == "rows" and len(traces) == 0:
        raise InputError(f"{where}: holds no lines to take as traces of rows.")
    if what != "rows" and len(points) == 0:
        raise InputError(f"{where}: holds no points to take as {what}.")
