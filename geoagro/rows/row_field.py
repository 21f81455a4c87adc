"""The row field phi, whose level lines phi = k d are the rows.

|grad phi| = 1 is right spacing; grad phi parallel to grad z is level. On real ground both can't hold everywhere. `level_start` spreads the error smoothly; `legal_field` gathers it in thin
seams, where rows end, so that the rest holds both limits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sp
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from geoagro.arrays import Floats
from geoagro.planar.vectors import dot
from geoagro.rows.lattice import Lattice

_TINY = 1e-12
_ANCHOR = 1e-8
"""Fixes the free constant of phi (and of every part of the domain): a pull to the phi before, so that it bends nothing."""


@dataclass(frozen=True)
class Limits:
    """What a row may do.

    Attributes
    ----------
    tolerance
        Share of the spacing it may drift off.
    low, high
        Least and greatest grade (ratio), walking with the upslope side on the left: numbers, or one per triangle.
    """

    tolerance: float
    low: Any
    high: Any

    @property
    def half(self) -> Any:
        """Half of what lies between the least and the greatest grade."""
        return (self.high - self.low) / 2


def factor(matrix: Any) -> Any:
    """Factor a sparse symmetric positive definite matrix for repeated solves."""
    return splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True, "DiagPivotThresh": 0.0})


def poisson_start(lattice: Lattice, direction: Floats) -> Floats:
    """Return the phi whose gradient is nearest to `direction` (shape (T, 2)) in the mean square."""
    G = lattice.gradient
    return np.asarray(factor(G.T @ G + _ANCHOR * sp.identity(lattice.nodes)).solve(G.T @ direction.T.ravel()))


def centred(lattice: Lattice, phi: Floats) -> Floats:
    """Return phi with mean 0 on each connected part of the lattice, where the equations leave its constant free.

    The anchor holds it no better than rounding does.
    """
    count, part = connected_components(abs(lattice.gradient).T @ abs(lattice.gradient), directed=False)
    mean = np.bincount(part, weights=phi, minlength=count) / np.bincount(part, minlength=count)
    level: Floats = phi - mean[part]
    return level


@dataclass(frozen=True, eq=False)
class Pinned:
    """Points where phi is given: sparse reading (P, N), values (P,), and the weight of a metre off."""

    reading: Any
    values: Floats
    weight: float

    @property
    def matrix(self) -> Any:
        """What the points add to the normal equations."""
        return self.weight * (self.reading.T @ self.reading)

    @property
    def right(self) -> Floats:
        """What the points add to the right-hand side."""
        side: Floats = self.weight * (self.reading.T @ self.values)
        return side


def nowhere(lattice: Lattice) -> Pinned:
    """No given points."""
    return Pinned(sp.csr_matrix((0, lattice.nodes)), np.zeros(0), 0.0)


def level_start(
    lattice: Lattice, phi: Floats, limits: Limits, *, bend_m: float, pinned: Pinned, rounds: int = 20
) -> Floats:
    """Even out spacing, grade beyond the limit, and bending, all in the mean square.

    Minimises, over nodal phi,
        sum |grad phi - u|^2 / x^2 + (S/g)^2 (beyond the limit only) (t . grad phi)^2 + (b/h)^2 |jump of grad phi|^2 / x^2
    with u = grad phi / |grad phi|, t the contour direction, S the slope, x and g the limits, b = `bend_m` a length
    that bends tighter than about b / x begin to cost. u and the part of the grade within the limit are held while
    phi is solved for, then renewed: each step lowers the energy and uses the same factorisation.
    """
    G, triangles = lattice.gradient, len(lattice.slope)
    along = np.column_stack([-lattice.uphill[:, 1], lattice.uphill[:, 0]])
    share = lattice.slope / limits.half
    grade = (sp.diags(along[:, 0] * share) @ G[:triangles] + sp.diags(along[:, 1] * share) @ G[triangles:]).tocsr()
    spacing = 1.0 / limits.tolerance**2
    bend = spacing * (bend_m / lattice.step_m) ** 2
    solver = factor(
        spacing * (G.T @ G)
        + grade.T @ grade
        + bend * (lattice.bending.T @ lattice.bending)
        + spacing * pinned.matrix
        + _ANCHOR * sp.identity(lattice.nodes)
    )
    for _ in range(rounds):
        gradient = lattice.gradient_of(phi)
        unit = gradient / np.maximum(np.hypot(gradient[:, 0], gradient[:, 1]), _TINY)[:, None]
        allowed = np.clip(dot(gradient, along) * share, limits.low / limits.half, limits.high / limits.half)
        phi = solver.solve(
            spacing * (G.T @ unit.T.ravel()) + grade.T @ allowed + spacing * pinned.right + _ANCHOR * phi
        )
    return phi


@dataclass(frozen=True, eq=False)
class LegalGradients:
    """Gradients that hold both limits: on each triangle a sector of a ring about the uphill direction.

    Attributes
    ----------
    up, left
        Unit vectors uphill and to its left, shape (T, 2).
    lowest, highest
        Angles to uphill of the least and the greatest grade, asin(g/S): free, up to square, where S <= g.
    tolerance
        Lengths stay in [1/(1+x), 1/(1-x)].
    """

    up: Floats
    left: Floats
    lowest: Floats
    highest: Floats
    tolerance: float

    @classmethod
    def of(cls, lattice: Lattice, limits: Limits) -> LegalGradients:
        """Read them from the ground."""
        up, slope = lattice.uphill, np.maximum(lattice.slope, _TINY)
        lowest, highest = (np.arcsin(np.clip(grade / slope, -1.0, 1.0)) for grade in (limits.low, limits.high))
        return cls(up, np.column_stack([-up[:, 1], up[:, 0]]), lowest, highest, limits.tolerance)

    def nearest(self, gradient: Floats) -> Floats:
        """Project gradients, shape (T, 2), onto those that are legal."""
        angle = np.arctan2(dot(gradient, self.left), dot(gradient, self.up))
        kept = np.clip(angle, self.lowest, self.highest)
        excess = np.minimum(np.abs(angle - kept), np.pi / 2)
        radius = np.hypot(gradient[:, 0], gradient[:, 1]) * np.cos(excess)
        radius = np.clip(radius, 1 / (1 + self.tolerance), 1 / (1 - self.tolerance))
        legal: Floats = radius[:, None] * (np.cos(kept)[:, None] * self.up + np.sin(kept)[:, None] * self.left)
        return legal


def legal_field(
    lattice: Lattice,
    phi: Floats,
    limits: Limits,
    *,
    pinned: Pinned,
    outlier: float = 0.06,
    outer: int = 8,
    inner: int = 4,
) -> Floats:
    """Make grad phi legal on as much ground as can be, and gather what can't be in thin seams.

    Minimises sum log(1 + |grad phi - C|^2 / c^2), with C the legal gradients and c = `outlier`, by iteratively
    reweighted least squares: the loss grows so slowly that a few large violations are cheaper than many small
    ones.
    """
    G, all_legal = lattice.gradient, LegalGradients.of(lattice, limits)
    gradient = lattice.gradient_of(phi)
    legal, right = all_legal.nearest(gradient), pinned.right
    for _ in range(outer):
        away = gradient - legal
        off = dot(away, away)
        weight = np.maximum(outlier**2 / (off + outlier**2), 1e-4)
        twice = np.concatenate([weight, weight])
        solver = factor(G.T @ sp.diags(twice) @ G + pinned.matrix + _ANCHOR * sp.identity(lattice.nodes))
        for _ in range(inner):
            phi = solver.solve(G.T @ (twice * legal.T.ravel()) + right + _ANCHOR * phi)
            gradient = lattice.gradient_of(phi)
            legal = all_legal.nearest(gradient)
    return phi
