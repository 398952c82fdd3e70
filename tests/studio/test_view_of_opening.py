"""Where the camera stands: within 50 degrees of the vertical, often before the cup's opening."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from sample_images.studio import stage
from sample_images.studio.sets import request

ASKED = [ask for ask in (request("calibration", n) for n in range(300)) if ask.fate == "usable"]
UP = np.array([0.0, 0.6, 0.8])
JOINT = SimpleNamespace(
    end=np.array([-2.0, 0, 3]), lip=np.array([0.0, 0, 3]), axis=np.array([1.0, 0, 0]), up=UP,
    spec=SimpleNamespace(d_mm=4.5),
)  # fmt: skip


def facing(share, monkeypatch, asked=ASKED):
    """For each photo, how squarely the camera sees the opening: 1 straight on, 0 edge on."""
    monkeypatch.setattr(stage, "FACING", share)
    middle = (JOINT.end + JOINT.lip) / 2
    cameras = [stage.camera_for(np.random.default_rng(a.seed), a, [JOINT]) for a in asked]
    ways = np.array([c.position - middle for c in cameras])
    return (ways / np.linalg.norm(ways, axis=1, keepdims=True)) @ UP


def test_some_photos_look_at_the_opening_more_squarely_and_the_others_as_before(monkeypatch):
    none, half, every = (facing(share, monkeypatch) for share in (0.0, 0.5, 1.0))
    assert every.mean() > none.mean() + 0.08
    same, turned = half == none, half == every
    assert (same | turned).all()
    assert 0.4 < same.mean() < 0.6


def test_a_photo_that_is_to_be_too_steep_stays_so(monkeypatch):
    steep = [a for a in (request("train", n) for n in range(400)) if a.fate == "tilt"]
    assert len(steep) > 5
    before, after = (facing(share, monkeypatch, steep) for share in (0.0, 1.0))
    assert np.array_equal(before, after)


def test_the_direction_lies_within_50_degrees_and_sees_the_most_of_a_few():
    rng = np.random.default_rng(5)
    ways = np.array([stage._facing(rng, UP) for _ in range(200)])
    assert np.linalg.norm(ways, axis=1) == pytest.approx(1)
    assert ways[:, 2].min() >= np.cos(np.radians(50)) - 1e-9
    offs, turns = np.arccos(rng.uniform(np.cos(np.radians(50)), 1, 500)), rng.uniform(0, 6.28, 500)
    single = [stage._direction(*pair) @ UP for pair in zip(offs, turns, strict=True)]
    assert (ways @ UP).mean() > np.mean(single) + 0.1
