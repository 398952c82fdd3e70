"""Grounds: looks kept apart, albedo in range, level, quick to repeat."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.studio import grounds

ALL = [(look, name) for look in ("train", "test") for name in grounds.families(look)]


def test_the_test_look_shares_no_ground_with_training() -> None:
    train, test = set(grounds.families("train")), set(grounds.families("test"))
    assert not train & test
    assert set(grounds.families("tuning")) == set(grounds.families("calibration")) == train
    assert 0.25 < len(test) / len(train | test) < 0.45
    assert {"foil", "dotted"} <= test


@pytest.mark.parametrize(("look", "name"), ALL)
def test_every_family_lies_at_zero_with_a_plausible_albedo(look: grounds.Look, name: str) -> None:
    for seed in range(3):  # some strokes and stains come only now and then
        (sheet,) = grounds.ground(np.random.default_rng(seed), look, name)
    z = sheet.vertices[:, 2]
    assert z.max() <= 1e-6
    assert z.min() > -6.0
    assert np.abs(sheet.vertices[:, :2]).max(axis=0).min() >= 200
    assert sheet.label == 0
    texture = sheet.material.texture
    assert texture is not None
    assert texture.dtype == np.float32
    assert texture.shape[0] >= 1024
    assert texture.min() > 0.0
    assert texture.max() <= 0.95
    first = sheet.vertices[sheet.faces].astype(float)
    normals = np.cross(first[:, 1] - first[:, 0], first[:, 2] - first[:, 0])
    assert (normals[:, 2] > 0).all()


def test_the_same_seed_lays_the_same_ground() -> None:
    a, b, c = (grounds.ground(np.random.default_rng(s), "train")[0] for s in (9, 9, 10))
    assert a.name == b.name
    np.testing.assert_array_equal(a.material.texture, b.material.texture)
    np.testing.assert_array_equal(a.uv, b.uv)
    assert not np.array_equal(a.uv, c.uv)
