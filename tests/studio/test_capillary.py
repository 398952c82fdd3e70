"""Solder surfaces against solutions of the Young-Laplace equation that are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.studio.capillary import fillet, meridian


def _profile(r0, psi0, two_h, length, steps=400):
    one = np.ones(1)
    return meridian(r0 * one, psi0 * one, two_h * one, length * one, steps)[..., 0]


@pytest.mark.parametrize("two_h", [-0.8, -0.2, 0.0, 0.3, 1.1, 1.9])
@pytest.mark.parametrize("theta_deg", [5, 30, 80, 120])
def test_delaunay_first_integral_is_constant(two_h, theta_deg):
    # Delaunay 1841: r cos(psi) - H r^2 is the same all along a profile of constant curvature
    _, r, psi = _profile(1.0, np.radians(theta_deg), two_h, 1.2).T
    whole = r > 0.2  # the solver guards the axis itself
    first = r * np.cos(psi) - 0.5 * two_h * r**2
    assert np.ptp(first[whole]) < 1e-6


@pytest.mark.parametrize("theta_deg", [0, 12, 45, 70])
def test_no_mean_curvature_is_the_catenoid(theta_deg):
    # r = c cosh((x - x0) / c), with c = r0 cos(theta) where the slope is theta
    theta = np.radians(theta_deg)
    x, r, psi = _profile(0.9, theta, 0.0, 3.0).T
    c = 0.9 * np.cos(theta)
    x0 = -c * np.arccosh(0.9 / c)
    assert r == pytest.approx(c * np.cosh((x - x0) / c), abs=1e-6)
    assert np.tan(psi) == pytest.approx(np.sinh((x - x0) / c), abs=1e-5)


def test_a_sphere_has_two_h_of_two_over_its_radius():
    radius, r0 = 1.7, 0.6
    psi0 = np.arccos(r0 / radius)  # on a sphere r = R cos(psi)
    x, r, _ = _profile(r0, psi0, 2 / radius, 2.0).T
    middle = radius * np.sin(psi0)
    assert np.hypot(x - middle, r) == pytest.approx(np.full(len(x), radius), abs=1e-6)


def test_a_cylinder_has_two_h_of_one_over_its_radius():
    x, r, psi = _profile(0.8, 0.0, 1 / 0.8, 4.0).T
    assert r == pytest.approx(np.full(len(r), 0.8), abs=1e-9)
    assert psi == pytest.approx(np.zeros(len(r)), abs=1e-9)
    assert x[-1] == pytest.approx(4.0)


@pytest.mark.parametrize("theta_deg", [4, 20, 44])
@pytest.mark.parametrize("reach", [1.2, 1.75, 3.0])
def test_meniscus_on_a_fibre_has_the_catenarys_height(theta_deg, reach):
    # on a thin fibre gravity does not count near the fibre and the profile is a catenary
    # (the inner solution of James, J. Fluid Mech. 63, 1974, from memory):
    # x(r) = c (arccosh(R / c) - arccosh(r / c)), c = r0 cos(theta)
    one = np.ones(1)
    theta = np.radians(theta_deg)
    x, r = fillet(one, reach * one, theta * one, 0 * one, bulge=False, points=30)[..., 0].T
    c = np.cos(theta)
    step = (3.5 * (reach - 1) + 2.5) / 140  # the profile ends at its first point past the lip
    assert 0 <= r[-1] - reach < step
    height = c * (np.arccosh(r[-1] / c) - np.arccosh(1 / c))
    assert -x[0] == pytest.approx(height, rel=1e-4)
    # in between, points lie on chords of the steps
    assert x == pytest.approx(-c * (np.arccosh(r[-1] / c) - np.arccosh(r / c)), abs=0.2 * step)


@pytest.mark.parametrize("theta_deg", [5, 25, 60, 110])
@pytest.mark.parametrize("pressure", [-0.3, 0.0, 0.25])
def test_a_fillet_starts_at_its_wetting_angle(theta_deg, pressure):
    one = np.ones(1)
    got = fillet(one, 1.5 * one, np.radians(theta_deg) * one, pressure * one, bulge=False)
    x, r = got[..., 0].T
    # the slope at the wire, from the first chord back by half of what the profile turns in it
    chord = np.degrees(np.arctan2(np.diff(r), np.diff(x)))[:2]
    assert chord[0] - (chord[1] - chord[0]) / 2 == pytest.approx(theta_deg, abs=1.5)


def test_a_bead_passes_its_widest_place_and_comes_back():
    one = np.ones(1)
    radius, lip = 1.4, 1.15
    theta = np.arccos(1 / radius)
    x, r = fillet(one, lip * one, theta * one, 2 / radius * one, bulge=True, points=40)[..., 0].T
    assert r.max() == pytest.approx(radius, rel=5e-3)
    assert r[-1] == pytest.approx(lip, rel=0.03)
    assert x[-1] == 0
    # a sphere cut at r0 on one side and at the lip on the other is this long
    assert -x[0] == pytest.approx(np.sqrt(radius**2 - 1) + np.sqrt(radius**2 - lip**2), rel=0.03)
