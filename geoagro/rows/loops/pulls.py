"""Equations of nudging that every node has, written out in compiled passes: columns and factors, targets and weights."""

from __future__ import annotations

import numpy as np

from geoagro.arrays import Bools, Floats, Ints
from geoagro.planar.compiled import compiled

Block = tuple[Ints, Floats, Floats, Floats]
"""Columns and factors, shape (n, k), target and weight, shape (n,), of n equations in k shifts."""
Nodes = tuple[Floats, Floats, Ints, Ints, Floats]
"""Places and normals of all nodes, shape (n, 2); first node, number of nodes and step of each row."""


@compiled
def _dot(a: Floats, i: int, b: Floats, j: int) -> float:
    return float(a[i, 0] * b[j, 0] + a[i, 1] * b[j, 1])


@compiled
def gaps(
    nodes: Nodes,
    unknown: Ints,
    seen: tuple[Floats, Ints, Floats],
    counted: tuple[Floats, Ints],
    sense: tuple[int, float],
) -> Block:
    """Change of the gap that each of some nodes sees on one side, in its own shift and those of the two nodes met.

    Parameters
    ----------
    seen
        Distance, row and station that each node's normal meets.
    counted
        How much each node counts, and which nodes are asked for. Weights are left at that, targets at the gap.
    sense
        1 to the left, -1 to the right, and what a metre counts.
    """
    _, normal, first, count, step = nodes
    distance, line, station = seen
    importance, asked = counted
    side, scale = sense
    size = len(asked)
    columns, factors = np.empty((size, 3), dtype=np.int64), np.empty((size, 3))
    target, weight = np.empty(size), np.empty(size)
    for e in range(size):
        i = asked[e]
        met = line[i]
        place = station[i] / step[met]
        before = min(max(int(np.floor(place)), 0), count[met] - 2)
        part = min(max(place - before, 0.0), 1.0)
        j = before + first[met]
        columns[e, 0], columns[e, 1], columns[e, 2] = unknown[j], unknown[j + 1], unknown[i]
        factors[e, 0] = side * (1 - part) * _dot(normal, j, normal, i) * scale
        factors[e, 1] = side * part * _dot(normal, j + 1, normal, i) * scale
        factors[e, 2] = -side * scale
        target[e], weight[e] = distance[i], importance[i]
    return columns, factors, target, weight


@compiled
def want_gaps(
    block: Block,
    stretches: tuple[Ints, Ints, Floats, float],
    bounds: tuple[float, float, float, float],
    firmness: tuple[float, float, float, float],
) -> None:
    """Turn gaps (the block's targets) into what they should change by, and how much each counts into its weight.

    Parameters
    ----------
    stretches
        The nodes that the gaps are of, row of each node, step of each row, and the length below which a stretch out of
        bounds is short.
    bounds
        Least, greatest and wanted gap, and what a gap may be off by.
    firmness
        Weight of what is out of bounds, the violation at which it has lost half of that, on a short stretch and else, weight
        of evenness.
    """
    _, _, target, weight = block
    asked, row, step, short_m = stretches
    low, high, aim, off_by = bounds
    firm, give_up_short, give_up_long, even_weight = firmness
    begin = 0
    for end in range(1, len(target) + 1):
        out = target[begin] > high or target[begin] < low
        if end < len(target):
            same = (target[end] > high or target[end] < low) == out
            if same and asked[end] == asked[end - 1] + 1 and row[asked[end]] == row[asked[begin]]:
                continue
        short = out and (end - begin) * step[row[asked[begin]]] < short_m
        give_up = give_up_short if short else give_up_long
        for e in range(begin, end):
            gap = target[e]
            uneven = (gap - aim) / (2 * off_by)
            even = even_weight * (1 / (1 + uneven * uneven))
            off = (min(max(gap, low), high) - gap) / off_by
            given = off / give_up
            pull = 0.0 if off == 0 else weight[e] * firm / (1 + given * given)
            weight[e] = even + pull
            target[e] = ((aim - gap) / off_by * even + off * pull) / max(weight[e], 1e-300)
        begin = end


@compiled
def grades(
    nodes: Nodes, unknown: Ints, along: tuple[Ints, Ints], ground: tuple[Floats, Floats, float], importance: Floats
) -> Block:
    """Grade over the chord around each node (cut at the row's ends), in the shifts of the chord's two ends.

    Parameters
    ----------
    along
        Row of each node, and half a chord of each row in nodes.
    ground
        Height of each node, how it changes per metre along its normal, and the limit that grades are measured in.
    importance
        How much each node counts. Weights are left at that, targets at the grade.
    """
    _, _, first, count, step = nodes
    row, half = along
    height, rise, limit = ground
    size = len(row)
    columns, factors = np.empty((size, 2), dtype=np.int64), np.empty((size, 2))
    target, weight = np.empty(size), importance.copy()
    for i in range(size):
        r = row[i]
        a, b = max(i - half[r], first[r]), min(i + half[r], first[r] + count[r] - 1)
        run = (b - a) * step[r] * limit
        columns[i, 0], columns[i, 1] = unknown[b], unknown[a]
        factors[i, 0], factors[i, 1] = rise[b] / run, -rise[a] / run
        target[i] = (height[b] - height[a]) / run
    return columns, factors, target, weight


@compiled
def want_grades(
    block: Block,
    stretches: tuple[Ints, Floats, float],
    wished: tuple[Floats, Floats, float, float],
    bounds: tuple[Floats, Floats, float, float, float, float],
) -> None:
    """Turn grades (the block's targets) into what they should change by, and how much each counts into its weight.

    Parameters
    ----------
    stretches
        Row of each node, step of each row, and the length below which a stretch out of bounds is short.
    wished
        Least and greatest grade that are wished for at each node, the weight of that, and the violation at which it has
        lost half.
    bounds
        Least and greatest grade that may be, how far inside to aim, the weight of that, and the violation at which it has lost
        half, on a short stretch and else.
    """
    _, _, target, weight = block
    row, step, short_m = stretches
    wish_low, wish_high, wish_firm, wish_give_up = wished
    low, high, margin, firm, give_up_short, give_up_long = bounds
    out = (target < low) | (target > high)
    begin = 0
    for end in range(1, len(row) + 1):
        if end < len(row) and row[end] == row[begin] and out[end] == out[begin]:
            continue
        length = 0.0
        for _ in range(begin, end):
            length += step[row[begin]]
        give_up = give_up_short if out[begin] and length < short_m else give_up_long
        for i in range(begin, end):
            grade = target[i]
            over = min(max(grade, wish_low[i]), wish_high[i]) - grade
            off = min(max(grade, low[i] + margin), high[i] - margin) - grade
            spared, given = over / wish_give_up, off / give_up
            wish = wish_firm / (1 + spared * spared)
            pull = 0.0 if off == 0 else firm * weight[i] / (1 + given * given)
            weight[i] = wish + pull
            target[i] = (over * wish + off * pull) / max(weight[i], 1e-300)
        begin = end


@compiled
def bends(
    nodes: Nodes,
    unknown: Ints,
    along: tuple[Ints, Bools, Ints],
    importance: Floats,
    firmness: tuple[float, float, float, float],
) -> Block:
    """Curvature over a window where it is more than it may be, in the shifts of the window's middle and its two ends.

    Parameters
    ----------
    along
        Row of each node, whether each row is a ring, and half the window of each row in nodes.
    firmness
        Smallest radius, share of the largest curvature that may be, violation at which a pull has lost half its weight, and
        the weight before.
    """
    xy, normal, first, count, step = nodes
    row, ring, half = along
    radius_m, most, give_up, firm = firmness
    size = len(row)
    columns, factors = np.empty((size, 3), dtype=np.int64), np.empty((size, 3))
    target, weight = np.empty(size), np.empty(size)
    e = 0
    for i in range(size):
        r = row[i]
        h, place = half[r], i - first[r]
        if ring[r]:
            a, b = first[r] + (place - h) % (count[r] - 1), first[r] + (place + h) % (count[r] - 1)
        elif place >= h and place + h < count[r]:
            a, b = i - h, i + h
        else:
            continue
        window = h * step[r]
        scale = radius_m / (window * window)
        x, y = xy[a, 0] - 2 * xy[i, 0] + xy[b, 0], xy[a, 1] - 2 * xy[i, 1] + xy[b, 1]
        bend = scale * (x * normal[i, 0] + y * normal[i, 1])
        off = min(max(bend, -most), most) - bend
        if off == 0:
            continue
        given = off / give_up
        columns[e, 0], columns[e, 1], columns[e, 2] = unknown[a], unknown[i], unknown[b]
        factors[e, 0] = scale * _dot(normal, a, normal, i)
        factors[e, 1] = -2 * scale
        factors[e, 2] = scale * _dot(normal, b, normal, i)
        target[e], weight[e] = off, firm * importance[i] / (1 + given * given)
        e += 1
    return columns[:e], factors[:e], target[:e], weight[:e]


@compiled
def stiffness(
    nodes: Nodes,
    along: tuple[Ints, Ints, Bools],
    row: Ints,
    scales: tuple[Floats, Floats],
    weights: tuple[float, float],
) -> tuple[Block, Block]:
    """Shifts that bend little, and curvature that changes gently from node to node.

    Parameters
    ----------
    along
        The nodes before and after each node, and whether it has both.
    scales, weights
        Factor of either equation for each row, and its weight.
    """
    xy, normal = nodes[0], nodes[1]
    before, after, inner = along
    size = 0
    pairs = 0
    for k in range(len(inner)):
        size += inner[k]
        pairs += inner[k] and inner[after[k]]
    first = (np.empty((size, 3), dtype=np.int64), np.empty((size, 3)), np.zeros(size), np.full(size, weights[0]))
    second = (np.empty((pairs, 4), dtype=np.int64), np.empty((pairs, 4)), np.empty(pairs), np.full(pairs, weights[1]))
    sagitta = np.zeros(len(inner))
    for k in range(len(inner)):
        if inner[k]:
            bx = xy[before[k], 0] - 2 * xy[k, 0] + xy[after[k], 0]
            by = xy[before[k], 1] - 2 * xy[k, 1] + xy[after[k], 1]
            sagitta[k] = bx * normal[k, 0] + by * normal[k, 1]
    e = p = 0
    for k in range(len(inner)):
        if not inner[k]:
            continue
        b, a = before[k], after[k]
        scale = scales[0][row[k]]
        first[0][e, 0], first[0][e, 1], first[0][e, 2] = b, k, a
        first[1][e, 0], first[1][e, 1], first[1][e, 2] = scale, -2 * scale, scale
        e += 1
        if not inner[a]:
            continue
        scale = scales[1][row[k]]
        second[0][p, 0], second[0][p, 1], second[0][p, 2], second[0][p, 3] = b, k, a, after[a]
        second[1][p, 0], second[1][p, 1], second[1][p, 2], second[1][p, 3] = scale, -3 * scale, 3 * scale, -scale
        second[2][p] = scale * (sagitta[a] - sagitta[k])
        p += 1
    return first, second
