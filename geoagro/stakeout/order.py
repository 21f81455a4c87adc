"""The order in which rows are walked: each once, end to end, with as little walking between as can be found.

Begins with the nearest end each time, and with rows back and forth by number; improves both by turning round
stretches of the order (2-opt; a single row turned round is walked the other way) and by moving up to three
rows elsewhere (Or 1976), until neither helps. A lower bound tells how far from the best it can be at most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from geoagro.arrays import Floats, Ints

_WINDOWS = (60, 250)  # rows; short stretches first, as they are quick to try
_BEST_BOUND_ROWS = 1000
_TRIES = 400  # orders to begin with times rows: small fields can afford more


@dataclass(frozen=True, eq=False)
class Order:
    """Rows (0, 1, ...) in walking order; `turned` where a row is walked from its end to its start.

    Row k begins at place 2 k and ends at place 2 k + 1; the last place is where the walk begins.
    """

    rows: Ints
    turned: Ints

    def places(self) -> Ints:
        """Places passed, beginning with the start."""
        enter, leave = 2 * self.rows + self.turned, 2 * self.rows + 1 - self.turned
        start = np.array([-1])
        return np.concatenate([start, np.column_stack([enter, leave]).ravel()])


def between(order: Order, length: Floats) -> float:
    """Metres walked between rows, from the start on."""
    places = order.places()
    return float(length[places[0::2], np.append(places[1::2], places[-1])].sum())


def one_way(rows: int) -> Order:
    """Each row from its start, by number: the way it is done without thinking."""
    return Order(np.arange(rows), np.zeros(rows, dtype=np.int64))


def back_and_forth(rows: int, length: Floats) -> Order:
    """Rows by number, each entered at the end that is nearer."""
    turned, here = [], -1
    for row in range(rows):
        turn = int(length[here, 2 * row + 1] < length[here, 2 * row])
        turned.append(turn)
        here = 2 * row + 1 - turn
    return Order(np.arange(rows), np.array(turned, dtype=np.int64))


def nearest_next(rows: int, length: Floats, first: int | None = None) -> Order:
    """Go on to the nearest end not yet walked; begin with the end `first`, or the nearest."""
    left = np.ones(2 * rows, dtype=bool)
    picked, turned, here = [], [], -1
    for k in range(rows):
        enter = int(np.where(left, length[here, : 2 * rows], np.inf).argmin())
        enter = first if k == 0 and first is not None else enter
        row, turn = divmod(enter, 2)
        picked.append(row)
        turned.append(turn)
        left[[2 * row, 2 * row + 1]] = False
        here = 2 * row + 1 - turn
    return Order(np.array(picked, dtype=np.int64), np.array(turned, dtype=np.int64))


def best_order(rows: int, length: Floats) -> Order:
    """Find the shortest order; `length` holds the ways between all places, the start last."""
    tries = max(_TRIES // rows, 1)
    nearest = np.argsort(length[-1, : 2 * rows], kind="stable")[:tries]
    starts = [back_and_forth(rows, length), *(nearest_next(rows, length, int(first)) for first in nearest)]
    return min((improved(order, length) for order in starts), key=lambda o: between(o, length))


def improved(order: Order, length: Floats) -> Order:
    """Turn stretches round and move rows until nothing gets shorter."""
    for window in _WINDOWS:
        while better := _turn_stretch(order, length, window) or _move_rows(order, length, window):
            order = better
    return order


def lower_bound(rows: int, length: Floats) -> float:
    """Metres between rows that no order can go below.

    Every place but one (the end of the walk) has one way that leads to another row. Half of the cheapest
    assignment of places to places is below the cheapest such pairing; above 1,000 rows half of the sum of
    nearest ways is used, which is weaker.
    """
    n = 2 * rows + 1
    cost = np.array(length[:n, :n], dtype=float)
    k = np.arange(rows)
    cost[2 * k, 2 * k + 1] = cost[2 * k + 1, 2 * k] = np.inf
    np.fill_diagonal(cost, np.inf)
    if rows > _BEST_BOUND_ROWS:
        nearest = cost.min(axis=1)
        return float((nearest.sum() - nearest.max()) / 2)
    free_end = np.zeros((n + 1, n + 1))
    free_end[:n, :n] = np.where(np.isfinite(cost), cost, 1e9)
    free_end[n, n] = free_end[n, n - 1] = free_end[n - 1, n] = 1e9
    return float(free_end[linear_sum_assignment(free_end)].sum() / 2)


def _ends(order: Order) -> tuple[Ints, Ints]:
    """Place entered and place left, of each row in order, with the start before (left only)."""
    return 2 * order.rows + order.turned, np.concatenate([[-1], 2 * order.rows + 1 - order.turned])


def _turn_stretch(order: Order, length: Floats, window: int) -> Order | None:
    """Turn the stretch of rows round that shortens the walk most; None if none does."""
    enter, left = _ends(order)
    n = len(enter)
    i = np.arange(n)[:, None]
    j = i + np.arange(min(n, window))[None, :]
    ok = j < n
    j = np.minimum(j, n - 1)
    after = np.append(enter, 0)[j + 1]
    last = j == n - 1
    now = length[left[i], enter[i]] + np.where(last, 0.0, length[left[j + 1], after])
    then = length[left[i], left[j + 1]] + np.where(last, 0.0, length[enter[i], after])
    gain = np.where(ok, now - then, -np.inf)
    at = int(gain.argmax())
    if gain.ravel()[at] <= 1e-6:
        return None
    a, b = int(i[at // gain.shape[1], 0]), int(j.ravel()[at])
    rows, turned = order.rows.copy(), order.turned.copy()
    rows[a : b + 1] = order.rows[a : b + 1][::-1]
    turned[a : b + 1] = 1 - order.turned[a : b + 1][::-1]
    return Order(rows, turned)


def _move_rows(order: Order, length: Floats, window: int) -> Order | None:
    """Move one to three rows in a line to another place in the order; None if that never helps."""
    best, found = 1e-6, None
    for count in range(1, min(3, len(order.rows) - 1) + 1):
        for turn in (False, True):
            gain, i, j = _best_move(order, length, count, turn, window)
            if gain > best:
                best, found = gain, (i, j, count, turn)
    return None if found is None else _moved(order, *found)


def _best_move(order: Order, length: Floats, count: int, turn: bool, window: int) -> tuple[float, int, int]:
    """Gain of moving rows i .. i + count - 1 to before row j of what remains, best over i and j."""
    enter, left = _ends(order)
    n = len(enter)
    follow = np.append(enter, -2)
    i = np.arange(n - count + 1)[:, None]
    j = i + np.arange(-window, window + 1)[None, :]
    ok = (j >= 0) & (j <= n) & ((j < i) | (j > i + count))
    j = np.clip(j, 0, n)
    head, tail = enter[i], left[i + count]

    def way(a: Ints, b: Ints) -> Floats:
        return np.where(b == -2, 0.0, length[a, b])

    out = way(left[i], head) + way(tail, follow[i + count]) - way(left[i], follow[i + count])
    first, last = (tail, head) if turn else (head, tail)
    into = length[left[j], first] + way(last, follow[j]) - way(left[j], follow[j])
    gain = np.where(ok, out - into, -np.inf)
    at = int(gain.argmax())
    return float(gain.ravel()[at]), at // gain.shape[1], int(j.ravel()[at])


def _moved(order: Order, i: int, j: int, count: int, turn: bool) -> Order:
    index = np.arange(len(order.rows))
    piece = index[i : i + count]
    rest = np.delete(index, piece)
    at = j if j < i else j - count
    piece = piece[::-1] if turn else piece
    new = np.concatenate([rest[:at], piece, rest[at:]])
    turned = order.turned.copy()
    turned[piece] = 1 - turned[piece] if turn else turned[piece]
    return Order(order.rows[new], turned[new])
