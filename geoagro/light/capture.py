"""Light that every crop of a section takes through its life, in company, by itself, and grown alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from geoagro.arrays import Bools, Floats
from geoagro.light.canopy import light_in, taken_alone
from geoagro.light.growth import Canopy
from geoagro.light.rays import Sky
from geoagro.values.light import Capture
from geoagro.values.rules.care import WEEKS_PER_YEAR
from geoagro.values.section import Key, Section, key_of
from geoagro.values.timeline import Standing

ALL_YEAR = tuple(range(1, 13))
_FINE_WEEKS, _COARSE_WEEKS = 2.0, 4.0
_FINE_UNTIL = 156.0

Sizes = tuple[float, float]


@dataclass(frozen=True)
class Scene:
    """A section with its sky: rows run to `bearing_deg`, week 0 lies in `first_month` (None where no date is known)."""

    section: Section
    canopies: Mapping[Key, Canopy]
    sky: Sky
    bearing_deg: float
    first_month: int | None

    def months(self, week: float) -> tuple[int, ...]:
        """Calendar month of a week; the whole year where no date is known."""
        if self.first_month is None:
            return ALL_YEAR
        return (int(self.first_month - 1 + week / (WEEKS_PER_YEAR / 12)) % 12 + 1,)


def captures(
    scene: Scene, standings: Sequence[Standing], *, weeks: float, perennial: Mapping[Key, bool]
) -> tuple[Capture, ...]:
    """Sum up light by kind and period over the first `weeks` weeks.

    Steps of 2 weeks, of 4 where more than three years are looked at.
    """
    kinds = [s for s in standings if key_of(s) in scene.canopies and scene.section.per_m2(key_of(s)) > 0]
    step = _FINE_WEEKS if weeks <= _FINE_UNTIL else _COARSE_WEEKS
    times = np.arange(step / 2, weeks, step)
    if not kinds or not len(times):
        return ()
    return tuple(_periods(_run(scene, kinds, times), scene, kinds, (times, step), perennial))


@dataclass(frozen=True, eq=False)
class _Run:
    """Arrays of shape (times, kinds), but `weight` (times)."""

    weight: Floats
    captured: Floats
    alone: Floats
    sole: Floats
    grown: Floats
    incoming: Floats


class _Book:
    """Light of every state that was met, so that equal states are reckoned once."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.met: dict[tuple[object, ...], tuple[Floats, Floats]] = {}

    def together(self, months: tuple[int, ...], sizes: tuple[tuple[Key, Sizes], ...]) -> tuple[Floats, Floats]:
        """Look up captured and incoming light of kinds that stand together in the section."""
        return self._met((months, sizes), months, sizes, None)

    def sole(self, months: tuple[int, ...], kind: Key, sizes: Sizes) -> float:
        """Light that a kind takes where it is grown alone at its usual density."""
        return float(self._met((months, kind, sizes), months, ((kind, sizes),), kind)[0][0])

    def _met(
        self, key: tuple[object, ...], months: tuple[int, ...], sizes: tuple[tuple[Key, Sizes], ...], sole: Key | None
    ) -> tuple[Floats, Floats]:
        if key not in self.met:
            scene = self.scene
            rays = scene.sky.rays(months, scene.bearing_deg)
            if sole is None:
                width, lines = scene.section.width_m, [lines_of(scene.section, kind) for kind, _ in sizes]
            else:
                width, line = scene.canopies[sole].sole_lines()
                lines = [line]
            crowns = [scene.canopies[kind].crown(at, size) for at, (kind, size) in zip(lines, sizes, strict=True)]
            if len(crowns) == 1:
                self.met[key] = np.array([taken_alone(crowns[0], width, rays)]), np.ones(1)
            else:
                light = light_in(crowns, width, rays)
                self.met[key] = light.captured, light.incoming
        return self.met[key]


def lines_of(section: Section, kind: Key) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Places across and spacings of a kind's lines."""
    lines = [line for line in section.lines if line.kind == kind]
    return tuple(line.x_m for line in lines), tuple(line.spacing_m for line in lines)


def _run(scene: Scene, kinds: Sequence[Standing], times: Floats) -> _Run:
    book = _Book(scene)
    shape = len(times), len(kinds)
    blank = np.zeros(shape)
    weights: dict[tuple[int, ...], float] = {}
    run = _Run(np.zeros(len(times)), blank, blank.copy(), blank.copy(), blank.copy(), np.ones(shape))
    for t, week in enumerate(times):
        months = scene.months(float(week))
        if months not in weights:
            weights[months] = float(np.mean([scene.sky.month_weight(month) for month in months]))
        run.weight[t] = weights[months]
        alive = list(_alive(scene, kinds, float(week), months))
        if not alive:
            continue
        state = tuple((key_of(kinds[k]), sizes) for k, sizes in alive)
        captured, incoming = book.together(months, state)
        for place, (k, sizes) in enumerate(alive):
            key = key_of(kinds[k])
            run.captured[t, k], run.incoming[t, k] = captured[place], incoming[place]
            run.alone[t, k] = book.together(months, ((key, sizes),))[0][0]
            run.sole[t, k] = book.sole(months, key, sizes)
            run.grown[t, k] = book.sole(months, key, (1.0, 1.0))
    return run


def _alive(
    scene: Scene, kinds: Sequence[Standing], week: float, months: tuple[int, ...]
) -> Iterator[tuple[int, Sizes]]:
    for k, standing in enumerate(kinds):
        stay, canopy = standing.stay_at(week), scene.canopies[key_of(standing)]
        bare = len(months) == 1 and months[0] in canopy.leafless
        if stay is not None and canopy.casts and not bare:
            yield k, canopy.sizes(stay, week)


def _periods(
    run: _Run, scene: Scene, kinds: Sequence[Standing], steps: tuple[Floats, float], perennial: Mapping[Key, bool]
) -> Iterator[Capture]:
    times, step = steps
    spans = [list(_spans(standing, times, perennial[key_of(standing)])) for standing in kinds]
    rate = np.zeros_like(run.sole)
    for k, standing in enumerate(kinds):
        for _, _, inside in spans[k]:
            stood = float(run.weight[inside].sum())
            mean = run.weight[inside] @ run.sole[inside, k] / stood
            rate[inside, k] = run.grown[inside, k] if perennial[key_of(standing)] else mean
    used = run.captured.sum(axis=1)
    wanted = (run.captured * rate).sum(axis=1)
    for k, standing in enumerate(kinds):
        for round_, year, inside in spans[k]:
            weight, taken = run.weight[inside], run.captured[inside, k]
            total = float(weight @ taken)
            if total <= 0:
                continue
            all_taken = float(weight @ used[inside])
            usual = float(weight @ wanted[inside]) / all_taken
            yield Capture(
                kind=key_of(standing),
                round=round_,
                year=year,
                from_week=float(times[inside][0] - step / 2),
                weeks=float(np.count_nonzero(inside) * step),
                per_m2=scene.section.per_m2(key_of(standing)),
                captured=total,
                alone=float(weight @ run.alone[inside, k]),
                sole=float(weight @ run.sole[inside, k]),
                incoming=float((weight * taken) @ run.incoming[inside, k]) / total,
                fullness=all_taken / float(weight.sum()) / usual if usual > 0 else 1.0,
            )


def _spans(standing: Standing, times: Floats, perennial: bool) -> Iterator[tuple[int, int, Bools]]:
    """Round, year and moments of each period: a whole round, or a year of the plan."""
    if not perennial:
        for stay in standing.stays:
            inside = (times >= stay.plant_week) & (times < stay.end_week)
            if inside.any():
                yield stay.round, 0, inside
        return
    stay = standing.stays[0]
    stands = (times >= stay.plant_week) & (times <= stay.end_week)
    year = (times // WEEKS_PER_YEAR).astype(np.int64) + 1
    for number in np.unique(year[stands]):
        yield 1, int(number), stands & (year == number)
