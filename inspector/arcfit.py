"""Circle through noisy outline points, robust, safe for straight lines, with its uncertainty.

The circle is kept as a (x^2 + y^2) + b x + c y + e = 0 after Pratt's normalisation
b^2 + c^2 - 4 a e = 1, so that a straight line is just a = 0 and needs no special case.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from inspector.model import Points
    from inspector.outline import Floats

FEWEST = 6
ENDS = 8  # part of the points that says which way the outline runs at its ends
TUKEY = 4.685
TINY = 1e-9
LEAST_WEIGHT = 3.0
_PRATT = np.array([[0, 0, 0, -2.0], [0, 1, 0, 0], [0, 0, 1, 0], [-2.0, 0, 0, 0]])


@dataclass(frozen=True, slots=True)
class Arc:
    """A fitted circle or line. scatter: standard deviation of the points from it, px."""

    a: float
    b: float
    c: float
    e: float
    scatter: float
    u_start_deg: float  # standard uncertainty of the tangent at the first point
    u_end_deg: float  # and at the last
    start: tuple[float, float]  # from the first point to those that follow
    end: tuple[float, float]  # and to the last point from those before

    @property
    def curvature(self) -> float:
        """1 / radius in 1/px, unsigned; 0 for a line."""
        return abs(2 * self.a)

    def distance(self, points: Points) -> Floats:
        """Signed distances of points (n, 2) to the curve, px."""
        return _distance(np.array([self.a, self.b, self.c, self.e]), points)

    def tangent(self, point: Points, *, at_start: bool = True) -> Points:
        """Unit tangent (2,) at the place nearest to `point`, pointing as the outline runs there.

        at_start: as it runs at its first points, else at its last. The chord would not do: an
        outline that bulges may leave at more than a right angle from it.
        """
        normal = np.array([2 * self.a * point[0] + self.b, 2 * self.a * point[1] + self.c])
        along = np.array([-normal[1], normal[0]]) / max(float(np.hypot(*normal)), 1e-12)
        return (
            along if float(along @ np.array(self.start if at_start else self.end)) >= 0 else -along
        )

    def meets(self, point: Points, slope: float, most_px: float) -> Points:
        """Where the curve meets the line through `point` (2,) with dy/dx = slope, near `point`.

        Where it does not reach the line, the place of closest approach; never farther than
        `most_px` from `point`. An outline that leaves a surface at a grazing angle parts from it
        visibly only some way on: its own curve, carried back, says where and how.
        """
        along = np.array([1.0, slope]) / np.hypot(1.0, slope)
        square = self.a
        linear = 2 * self.a * float(point @ along) + self.b * along[0] + self.c * along[1]
        rest = self.a * float(point @ point) + self.b * point[0] + self.c * point[1] + self.e
        if abs(square) < TINY:
            roots = np.array([-rest / linear]) if abs(linear) > TINY else np.zeros(1)
        else:
            root = np.sqrt(max(linear**2 - 4 * square * rest, 0.0))
            roots = np.array([-linear - root, -linear + root]) / (2 * square)
        nearest = float(roots[np.argmin(np.abs(roots))])
        return np.asarray(point + np.clip(nearest, -most_px, most_px) * along, float)


def _distance(fit: Floats, points: Points) -> Floats:
    x, y = points[:, 0], points[:, 1]
    value = fit[0] * (x * x + y * y) + fit[1] * x + fit[2] * y + fit[3]
    return np.asarray(2 * value / (1 + np.sqrt(np.maximum(1 + 4 * fit[0] * value, 1e-12))), float)


def _pratt(points: Points, weight: Floats) -> Floats | None:
    """Weighted algebraic fit; None when the points determine no curve."""
    x, y = points[:, 0], points[:, 1]
    rows = np.stack([x * x + y * y, x, y, np.ones_like(x)], axis=1)
    moments = rows.T @ (rows * weight[:, None]) / weight.sum()
    values, vectors = np.linalg.eig(np.linalg.solve(_PRATT, moments))
    real = np.where(np.abs(values.imag) < TINY, values.real, np.inf)
    real = np.where(real < -TINY, np.inf, real)
    k = int(np.argmin(real))
    if not np.isfinite(real[k]):
        return None
    fit = vectors[:, k].real
    scale = fit[1] ** 2 + fit[2] ** 2 - 4 * fit[0] * fit[3]
    return np.asarray(fit / np.sqrt(scale), float) if scale > 0 else None


def fit_arc(
    points: Points, weights: Floats | None = None, correlation_px: float = 3.0
) -> Arc | None:
    """Robust circle through ordered `points` (n, 2); None for too few or degenerate points.

    correlation_px: length over which neighbouring outline points share their error.
    """
    if len(points) < FEWEST:
        return None
    base = np.ones(len(points)) if weights is None else weights
    centre = points.mean(axis=0)
    size = float(np.abs(points - centre).max())
    if size <= 0:
        return None
    scaled = (points - centre) / size
    fit, weight = np.zeros(4), base
    for _ in range(6):
        again = _pratt(scaled, np.maximum(weight, TINY))
        if again is None:
            return None
        fit = again
        rest = np.abs(_distance(fit, scaled))
        scale = max(1.4826 * float(np.median(rest)), TINY)
        weight = base * np.clip(1 - (rest / (TUKEY * scale)) ** 2, 0, None) ** 2
        if weight.sum() < LEAST_WEIGHT:
            return None
    a, b, c, e = (float(value) for value in fit)
    # back to pixels: substitute (p - centre) / size
    a /= size * size
    b, c = b / size - 2 * a * centre[0], c / size - 2 * a * centre[1]
    e = e - (b * centre[0] + c * centre[1]) - a * float(centre @ centre)
    norm = float(np.sqrt(max(b * b + c * c - 4 * a * e, 1e-18)))
    fit_px = np.array([a, b, c, e]) / norm
    rest = _distance(fit_px, points)
    scatter = float(np.sqrt((weight @ rest**2) / max(float(weight.sum()) - 3, 1.0)))
    u_start, u_end = _tangent_uncertainty(points, weight, scatter, correlation_px)
    few = max(1, len(points) // ENDS)
    start, end = points[few] - points[0], points[-1] - points[-1 - few]
    return Arc(
        float(fit_px[0]),
        float(fit_px[1]),
        float(fit_px[2]),
        float(fit_px[3]),
        scatter,
        u_start,
        u_end,
        (float(start[0]), float(start[1])),
        (float(end[0]), float(end[1])),
    )


def _tangent_uncertainty(
    points: Points, weight: Floats, scatter: float, correlation_px: float
) -> tuple[float, float]:
    """Standard uncertainty of the slope at both ends, degrees, from a parabola on the chord."""
    chord = points[-1] - points[0]
    length = max(float(np.hypot(*chord)), 1e-6)
    x = (points - points[0]) @ chord / length**2
    basis = np.stack([np.ones_like(x), x, x * x], axis=1)
    gaps = np.hypot(np.diff(points[:, 0]), np.diff(points[:, 1]))
    step = max(float(np.median(gaps)), 1e-6)
    shared = max(1.0, correlation_px / step)
    normal = basis.T @ (basis * weight[:, None]) + 1e-9 * np.eye(3)
    covariance = np.linalg.inv(normal) * (max(scatter, 0.05) ** 2) * shared
    found = []
    for at in (0.0, 1.0):
        gradient = np.array([0.0, 1.0, 2.0 * at]) / length
        u_slope = max(float(gradient @ covariance @ gradient), 0.0) ** 0.5
        found.append(float(np.degrees(np.arctan(u_slope))))
    return found[0], found[1]
