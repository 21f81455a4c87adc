"""Rows given by hand, taken in: trimmed to the open ground, parted where the field is laid anew, numbered as before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from shapely import LineString, MultiPolygon

from geoagro.arrays import Ints
from geoagro.errors import LayoutError
from geoagro.rows.clipping import clipped
from geoagro.values.rows import TreeRows
from geoagro.values.site import DrawnRows, Finding
from geoagro.values.words import Sentence

ROUNDING_M = 1e-3
"""A row that reaches this little over the edge is left as it is: it ended there when it was written."""
SHORTEST_M = 0.01
LEAST_PASSAGE = 3.0
"""A row that only grazes the ground laid anew, by less than this many spacings, is left: no new piece would fit between."""
SAME_PLACE = 0.5
"""A row laid anew takes the number of an earlier one that it follows on this share of its length, within half a spacing."""


@dataclass(frozen=True)
class Earlier:
    """A row, or a piece of one, with the number (0: none) and name that it had."""

    line: LineString
    number: int
    name: str


@dataclass(frozen=True)
class HandRows:
    """Rows given by hand as they stand in the field.

    Attributes
    ----------
    rows
        To be kept as they are.
    replaced
        Pieces that gave way where the field is laid anew.
    most
        Highest number that was ever given.
    findings
        What was trimmed.
    """

    rows: tuple[Earlier, ...]
    replaced: tuple[Earlier, ...]
    most: int
    findings: tuple[Finding, ...]

    @property
    def lines(self) -> tuple[LineString, ...]:
        """Lines of the rows to be kept."""
        return tuple(row.line for row in self.rows)


def take_in(drawn: DrawnRows, open_ground: Any, spacing_m: float) -> HandRows:
    """Trim drawn rows to the field without kept-free ground, and part them at the edge of what is laid anew.

    A row that needs neither comes back as the same coordinates. The longest piece of a row keeps its number and name.

    Raises LayoutError where none lies in the field, or the ground to lay anew holds no part of it.
    """
    given = [Earlier(*row) for row in zip(drawn.lines, drawn.numbers, drawn.names, strict=True)]
    roomy = shapely.buffer(open_ground, ROUNDING_M)
    rows, findings = _trimmed(given, open_ground, roomy)
    if not rows:
        raise LayoutError(
            "inputs.rows: none of its lines lies in the field and off the ground kept free. Name the right layer, and check "
            "its CRS."
        )
    replaced: list[Earlier] = []
    if drawn.only_where is not None:
        if not shapely.intersects(drawn.only_where, open_ground):
            raise LayoutError(
                "rows.only_where: its polygons lie outside the field. Name the right layer, check its CRS."
            )
        rows, replaced = _parted(rows, drawn.only_where, LEAST_PASSAGE * spacing_m)
    return HandRows(tuple(rows), tuple(replaced), max([0, *drawn.numbers]), tuple(findings))


def _trimmed(given: list[Earlier], ground: Any, roomy: Any) -> tuple[list[Earlier], list[Finding]]:
    shapely.prepare(roomy)
    whole = shapely.covers(roomy, np.array([row.line for row in given], dtype=object))
    rows: list[Earlier] = []
    findings: list[Finding] = []
    for row, fits in zip(given, whole, strict=True):
        pieces = [row.line] if fits else clipped(row.line, ground, SHORTEST_M)
        rows += _with_number(row, pieces)
        lost = row.line.length - sum(piece.length for piece in pieces)
        if not fits and (lost > ROUNDING_M or not pieces):
            findings.append(_told_trim(row, ground, lost, pieces))
    return rows, findings


def _with_number(row: Earlier, pieces: list[LineString]) -> list[Earlier]:
    """Pieces of a row, the longest with its number and name."""
    longest = max(range(len(pieces)), key=lambda k: pieces[k].length, default=-1)
    return [Earlier(piece, *((row.number, row.name) if k == longest else (0, ""))) for k, piece in enumerate(pieces)]


def _told_trim(row: Earlier, ground: Any, lost: float, pieces: list[LineString]) -> Finding:
    outside = shapely.difference(row.line, ground)
    place = shapely.get_coordinates(shapely.line_interpolate_point(shapely.get_parts(outside), 0.5, normalized=True))[0]
    kept = Sentence("nothing of it is left") if not pieces else Sentence("the rest stays")
    if len(pieces) > 1:
        kept = Sentence("{n} {n:piece stays|pieces stay}", n=len(pieces))
    text = Sentence(
        "{lost:.2f} m of {length:.1f} m lie outside the field or on ground kept free and were trimmed "
        "(at {x} {y}); {kept}",
        lost=lost,
        length=row.line.length,
        x=f"{place[0]:.1f}",
        y=f"{place[1]:.1f}",
        kept=kept,
    )
    return Finding("warning", Sentence("inputs.rows, {row}", row=words_for(row)), text)


def words_for(row: Earlier) -> Sentence:
    """Name a drawn row for people: by number, name, or where it starts."""
    if row.number:
        told = {"number": str(row.number), "name": row.name}
        return Sentence("row {number} '{name}'", **told) if row.name else Sentence("row {number}", **told)
    x, y = row.line.coords[0]
    return (
        Sentence("row '{name}'", name=row.name)
        if row.name
        else Sentence("the row from {x} {y}", x=f"{x:.1f}", y=f"{y:.1f}")
    )


def _parted(rows: list[Earlier], area: MultiPolygon, least_m: float) -> tuple[list[Earlier], list[Earlier]]:
    """Rows outside an area, and the pieces inside; a row that has no piece of `least_m` in it is left as it is."""
    shapely.prepare(area)
    kept: list[Earlier] = []
    replaced: list[Earlier] = []
    for row in rows:
        inside = clipped(row.line, area, SHORTEST_M)
        if max((line.length for line in inside), default=0.0) < least_m:
            kept.append(row)
            continue
        pieces = clipped(row.line, shapely.difference(shapely.envelope(row.line).buffer(1.0), area), SHORTEST_M)
        kept += _with_number(row, pieces)
        replaced += [replace(row, line=line) for line in inside]
    return kept, replaced


def with_numbers(rows: TreeRows, hand: HandRows, *, reuse: bool) -> TreeRows:
    """Give rows by hand their numbers and names back, and the others numbers of their own.

    Parameters
    ----------
    rows
        All rows, numbered from the top.
    hand
        What was kept, as lines of `rows`.
    reuse
        True where the others take the lowest free numbers, from the top; else they go on after the highest ever given,
        so that no number of a row that is gone comes back elsewhere.
    """
    frame = rows.frame
    by_line = {_key(row.line): row for row in hand.rows}
    mine = [by_line.get(_key(line)) for line in frame.geometry.to_numpy()]
    number = np.array([row.number if row else 0 for row in mine], dtype=np.int64)
    names = [row.name if row else "" for row in mine]
    for index, earlier in _followed(frame.geometry, number, mine, hand.replaced, rows.spacing_m):
        number[index], names[index] = earlier.number, earlier.name
    number = _filled(number, 0 if reuse else hand.most)
    frame = frame.assign(row=number, name=names, by_hand=[row is not None for row in mine])
    for column in ("up_rows", "down_rows"):
        frame[column] = [_renumbered(text, number) for text in frame[column]]
    return replace(rows, frame=frame.sort_values("row", ignore_index=True))


def _key(line: LineString) -> bytes:
    """One key for a line and its reverse."""
    return min(bytes(shapely.to_wkb(one)) for one in (line, shapely.reverse(line)))


def _followed(
    lines: gpd.GeoSeries, number: Ints, mine: Sequence[Earlier | None], replaced: Sequence[Earlier], spacing_m: float
) -> list[tuple[int, Earlier]]:
    """Find new rows that run where a replaced one ran, each with it; no number twice."""
    used = set(number[number > 0].tolist())
    fresh = [k for k, row in enumerate(mine) if row is None]
    pairs = []
    for earlier in replaced:
        if earlier.number and earlier.number not in used:
            near = shapely.buffer(earlier.line, spacing_m / 2, cap_style="flat")
            pairs += [(shapely.length(shapely.intersection(lines.iloc[k], near)), k, earlier) for k in fresh]
    found: list[tuple[int, Earlier]] = []
    for shared, k, earlier in sorted(pairs, key=lambda pair: (-pair[0], pair[1])):
        taken = earlier.number in used or any(k == other for other, _ in found)
        if not taken and shared >= SAME_PLACE * lines.iloc[k].length:
            found.append((k, earlier))
            used.add(earlier.number)
    return found


def _filled(number: Ints, after: int) -> Ints:
    """Give rows without a number the lowest ones above `after` that no row has, in order."""
    number = number.copy()
    empty = np.flatnonzero(number == 0)
    free = np.setdiff1d(np.arange(after + 1, after + 1 + len(number) + number.max(initial=0)), number)
    number[empty] = free[: len(empty)]
    return number


def _renumbered(text: str, number: Ints) -> str:
    if not text:
        return text
    return ",".join(str(k) for k in sorted(int(number[int(part) - 1]) for part in text.split(",")))
