"""Circles through outline points, against analytic arcs and against scipy's least squares."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from scipy.optimize import least_squares

from inspector.arcfit import fit_arc
from inspector.outline import evenly, outlines


def arc(radius, start_deg, sweep_deg, count=60, centre=(40.0, 25.0)):
    turn = np.radians(np.linspace(start_deg, start_deg + sweep_deg, count))
    return np.stack([np.cos(turn), np.sin(turn)], axis=1) * radius + centre


def heading(tangent):
    return np.degrees(np.arctan2(tangent[1], tangent[0]))


@settings(max_examples=60, deadline=None)
@given(
    radius=st.floats(15, 5000),
    start=st.floats(-180, 180),
    length=st.floats(25, 120),
)
def test_exact_arcs_come_back_exactly(radius, start, length):
    sweep = np.degrees(min(length / radius, 4.5))
    points = arc(radius, start, sweep)
    found = fit_arc(points)
    assert found is not None
    assert found.curvature == pytest.approx(1 / radius, rel=1e-3, abs=1e-7)
    for point, at, first in ((points[0], start, True), (points[-1], start + sweep, False)):
        off = (heading(found.tangent(point, at_start=first)) - (at + 90) + 180) % 360 - 180
        assert abs(off) < 0.02


def test_a_straight_line_is_a_circle_without_curvature():
    x = np.linspace(0, 50, 40)
    found = fit_arc(np.stack([x, 0.5 * x + 3], axis=1))
    assert found is not None
    assert found.curvature < 1e-9
    assert heading(found.tangent(np.array([0.0, 3.0]))) == pytest.approx(26.565, abs=1e-3)


def scipy_circle(points):
    """Geometric fit with scipy, the outside reference."""
    start = [*points.mean(axis=0), np.ptp(points)]
    return least_squares(
        lambda p: np.hypot(points[:, 0] - p[0], points[:, 1] - p[1]) - p[2], start, method="lm"
    ).x


@pytest.mark.parametrize("seed", range(5))
def test_noisy_arcs_agree_with_scipy(seed):
    rng = np.random.default_rng(seed)
    points = arc(40, 10, 80) + rng.normal(0, 0.2, (60, 2))
    found = fit_arc(points)
    assert found is not None
    x, y, radius = scipy_circle(points)
    for point, first in ((points[0], True), (points[-1], False)):
        reference = heading((point - (x, y))[::-1] * (-1, 1))
        off = (heading(found.tangent(point, at_start=first)) - reference + 180) % 360 - 180
        assert abs(off) < 1.5
    assert 1 / found.curvature == pytest.approx(radius, rel=0.05)


def test_a_lump_does_not_pull_the_arc():
    points = arc(40, 10, 90)
    clean = fit_arc(points)
    points[25:31] += 4.0
    found = fit_arc(points)
    assert clean is not None
    assert found is not None
    off = heading(found.tangent(points[0])) - heading(clean.tangent(points[0]))
    assert abs(off) < 0.5


def test_the_stated_uncertainty_of_the_tangent_is_what_noise_does():
    rng = np.random.default_rng(3)
    truth = arc(45, 0, 70, 50)
    errors, stated = [], []
    for _ in range(300):
        found = fit_arc(truth + rng.normal(0, 0.25, truth.shape), correlation_px=0.0)
        assert found is not None
        errors.append(heading(found.tangent(truth[0])) - 90)
        stated.append(found.u_start_deg)
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(np.median(stated), rel=0.35)


@pytest.mark.parametrize("radius", [9.3, 20.0, 47.7])
def test_sub_pixel_outlines_of_a_disc(radius):
    y, x = np.mgrid[0:120, 0:120]
    soft = np.clip(radius - np.hypot(x - 60.3, y - 58.8) + 0.5, 0, 1)
    (line,) = outlines(soft)
    away = np.hypot(*(line - (60.3, 58.8)).T)
    assert np.abs(away - radius).max() < 0.1
    smooth = evenly(line)
    length = np.hypot(*np.diff(smooth, axis=0).T).sum()
    assert length == pytest.approx(2 * np.pi * radius, rel=0.02)


def test_too_few_or_coincident_points_are_no_arc():
    assert fit_arc(np.zeros((4, 2))) is None
    assert fit_arc(np.ones((20, 2))) is None
