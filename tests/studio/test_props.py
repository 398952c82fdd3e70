"""Props: sound meshes, right labels, nothing before the joint unless asked."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.studio import props
from sample_images.studio.part import CONDUCTOR, HOUSING, INSULATION, SLEEVE, SOLDER, TERMINAL, Part
from sample_images.studio.props_shapes import (
    Mesh,
    ball,
    box,
    circle,
    part,
    plate,
    spline,
    tube,
    turned,
)

CAMERA = np.array([30.0, -40.0, 150.0])
JOINT = (np.array([0.0, 0.0, 4.0]), 8.0)
LABELS = {
    "crossing-wire": {INSULATION},
    "wire-end": {INSULATION, CONDUCTOR, SOLDER},
    "offcuts": {INSULATION},
    "heat-shrink": {SLEEVE},
    "ring-terminal": {TERMINAL, HOUSING},
    "loose-contact": {TERMINAL},
    "empty-connector": {TERMINAL, HOUSING},
}


def volume_mm3(mesh: Mesh) -> float:
    """Signed volume of a closed mesh: positive if its faces look outward."""
    a, b, c = (mesh.vertices[mesh.faces[:, i]] for i in range(3))
    return float((a * np.cross(b, c)).sum() / 6.0)


def _hits(parts: list[Part], origin: np.ndarray, goals: np.ndarray) -> np.ndarray:
    """Brute force: which segments origin-goal a triangle cuts (Moeller and Trumbore 1997)."""
    tri = np.concatenate([p.vertices[p.faces] for p in parts]).astype(float)
    a, e1, e2 = tri[:, 0], tri[:, 1] - tri[:, 0], tri[:, 2] - tri[:, 0]
    out = []
    for goal in goals:
        d = goal - origin
        h = np.cross(d, e2)
        det = (e1 * h).sum(1)
        ok = np.abs(det) > 1e-12
        inv = 1 / np.where(ok, det, 1)
        s = origin - a
        u = (s * h).sum(1) * inv
        q = np.cross(s, e1)
        v, t = (q @ d) * inv, (e2 * q).sum(1) * inv
        out.append(bool((ok & (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0) & (t < 1)).any()))
    return np.array(out)


@pytest.mark.parametrize("kind", list(props.KINDS))
def test_every_kind_is_a_sound_mesh_on_the_bench(kind: str) -> None:
    for seed in range(4):
        parts = props.make(np.random.default_rng(seed), kind, "train")
        again = props.make(np.random.default_rng(seed), kind, "train")
        assert parts
        for p, q in zip(parts, again, strict=True):
            np.testing.assert_array_equal(p.vertices, q.vertices)
            assert np.isfinite(p.vertices).all()
            assert p.faces.max() < len(p.vertices)
            assert p.uv is not None
            assert len(p.uv) == len(p.vertices)
            assert p.label in LABELS.get(kind, {0})
            assert all(0 <= k <= 1 for k in p.material.rgb)
        assert min(float(p.vertices[:, 2].min()) for p in parts) > -1e-3


def test_closed_shapes_look_outward() -> None:
    assert volume_mm3(box((1, 2, 3))) == pytest.approx(6)
    assert volume_mm3(tube([[0, 0, 0], [0, 0, 5], [0, 0, 10]], 1, 60, "flat")) == pytest.approx(
        10 * np.pi, rel=0.01
    )
    assert volume_mm3(tube(spline([[0, 0, 0], [5, 3, 1], [10, 0, 0]]), 0.5, 30)) > 0
    assert volume_mm3(turned([(0, 0), (1, 0), (1, 3), (0, 3)], 60)) == pytest.approx(
        3 * np.pi, rel=0.01
    )
    assert volume_mm3(plate(circle(2, 60), circle(1, 60), 1)) == pytest.approx(3 * np.pi, rel=0.01)
    assert volume_mm3(ball(1, 60)) == pytest.approx(4 / 3 * np.pi, rel=0.01)


def test_clutter_leaves_the_joint_in_sight() -> None:
    goals = JOINT[0] + JOINT[1] * 0.9 * np.random.default_rng(0).uniform(-0.57, 0.57, (20, 3))
    placed = 0
    for seed in range(25):
        parts = props.clutter(np.random.default_rng(seed), "test", [JOINT], CAMERA, 4)
        placed += len(parts)
        if parts:
            assert not _hits(parts, CAMERA, goals).any(), seed
    assert placed > 60  # and it is not empty by dropping everything


def test_blocks_tells_before_from_behind_and_aside() -> None:
    material = props.plastic(np.random.default_rng(0))
    plate_ = part("plate", box((6, 6, 1)), material)
    w = (CAMERA - JOINT[0]) / np.linalg.norm(CAMERA - JOINT[0])
    assert props.blocks(props.place([plate_], None, JOINT[0] + 40 * w)[0], [JOINT], CAMERA)
    assert props.blocks(props.place([plate_], None, JOINT[0])[0], [JOINT], CAMERA)
    assert not props.blocks(props.place([plate_], None, JOINT[0] - 25 * w)[0], [JOINT], CAMERA)
    assert not props.blocks(props.place([plate_], None, JOINT[0] + [40, 0, 0])[0], [JOINT], CAMERA)
    assert props.blocks(props.place([plate_], None, CAMERA - 10 * w)[0], [], CAMERA)


def test_cover_hides_what_it_should() -> None:
    goals = JOINT[0] + 3.0 * np.random.default_rng(0).uniform(-0.57, 0.57, (12, 3))
    for seed in range(12):
        parts = props.cover(np.random.default_rng(seed), JOINT[0], CAMERA, 4.0)
        assert _hits(parts, CAMERA, goals).all(), seed


def test_holders_stay_behind_their_grip() -> None:
    grip, away = np.array([-25.0, 0.0, 20.0]), np.array([-1.0, 0.0, 0.0])
    near = (np.array([0.0, 0.0, 20.0]), 8.0)
    for seed in range(8):
        for hold in (props.hand, props.clip, props.vice):
            extra = (CAMERA,) if hold is props.hand else ()
            parts = hold(np.random.default_rng(seed), grip, away, 2.0, *extra)
            assert all(p.label == 0 for p in parts)
            assert not any(props.blocks(p, [near], CAMERA) for p in parts), (seed, hold)
