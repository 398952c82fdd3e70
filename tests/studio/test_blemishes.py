"""Pits and cracks lie on the solder; things sit where the bundle does not hide them."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from sample_images.studio.blemishes import LIFT_MM, ground, pit
from sample_images.studio.mesh import grid_faces
from sample_images.studio.solder_surfaces import Sheet

ROWS, COLUMNS, CORE_MM = 30, 60, 1.0


def spec(core_mm=CORE_MM, seat=1.0):
    """As much of a joint as a place on its solder hangs on."""
    return SimpleNamespace(
        core_mm=core_mm, seat=seat, offset=(0.0, 0.0), cup=SimpleNamespace(depth=4.0)
    )


def sheet(points, *, wrap):
    faces = grid_faces(points.shape[0], points.shape[1], wrap=wrap)
    return Sheet(points.reshape(-1, 3), faces, np.zeros(len(faces), np.uint16))


def cylinder(radius):
    """A sheet round the wire."""
    x, phi = np.meshgrid(
        np.linspace(0, 3, ROWS), np.linspace(0, 2 * np.pi, COLUMNS, endpoint=False), indexing="ij"
    )
    return sheet(np.stack([x, radius * np.sin(phi), radius * np.cos(phi)], -1), wrap=True)


def plane(height):
    """A sheet that faces what the cup opens to."""
    x, y = np.meshgrid(np.linspace(0, 4, ROWS), np.linspace(-3, 3, COLUMNS), indexing="ij")
    return sheet(np.stack([x, y, np.full_like(x, height)], -1), wrap=False)


def test_normals_point_out_of_the_solder():
    tube = ground(spec(), [(cylinder(1.5), ROWS, COLUMNS)])
    radial = tube.points * [0, 1, 1] / 1.5
    assert (tube.normals * radial).sum(axis=1).min() > 0.9
    flat = ground(spec(), [(plane(1.5), ROWS, COLUMNS)])
    assert np.allclose(flat.normals, [0, 0, 1])


@pytest.mark.parametrize("crack", [False, True])
def test_a_pit_follows_a_round_surface(crack):
    """A flat disc as wide as this would lie up to 0.09 mm under a cylinder of radius 1.5 mm."""
    rng = np.random.default_rng(3)
    on = ground(spec(), [(cylinder(1.5), ROWS, COLUMNS)])
    at, normal = on.pick(rng)
    (points, _), _ = pit(rng, on, at, normal, 0.5, crack=crack)
    height = np.hypot(points[:, 1], points[:, 2]) - 1.5
    assert np.abs(height - LIFT_MM).max() < 0.02
    assert np.ptp(points, axis=0).max() > 0.4


def test_a_crack_ends_with_the_solder():
    rng = np.random.default_rng(4)
    on = ground(spec(), [(plane(1.5), ROWS, COLUMNS)])
    at, normal = on.pick(rng)
    (points, _), _ = pit(rng, on, at, normal, 3.0, crack=True)  # 24 mm long on 6 mm of solder
    assert np.all(np.abs(points[:, 1]) < 3.4)
    assert np.all((points[:, 0] > -0.4) & (points[:, 0] < 4.4))


def test_nothing_sits_in_the_bundle_or_under_it():
    low = ground(spec(), [(plane(-0.3), ROWS, COLUMNS)])
    assert np.all(np.abs(low.points[low.places, 1]) >= CORE_MM)
    short = ground(spec(seat=0.25), [(plane(-0.3), ROWS, COLUMNS)])
    beyond = short.points[short.places]
    assert np.any((np.abs(beyond[:, 1]) < CORE_MM) & (beyond[:, 0] > 1.0))  # past the wire's tip


def test_without_free_solder_there_is_no_ground():
    assert ground(spec(), []) is None
    assert ground(spec(core_mm=5.0), [(plane(-0.3), ROWS, COLUMNS)]) is None
