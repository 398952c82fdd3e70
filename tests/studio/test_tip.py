"""The conductor's end counts as seen where its own rim is, not where solder lies above it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sample_images.studio import connector, truth
from sample_images.studio.buffers import Buffers
from sample_images.studio.view import looking


def shows(level):
    """Whether a tip along x shows from above through still solder up to `level` of its rim.

    -1 is the rim's bottom, 1 its top; the film through which strands show comes on top.
    """
    made = connector.make(np.random.default_rng(4), "train", 1, ((),), housed=False, on_bench=True)
    model = made.joints[0]
    model = replace(model, axis=np.array([1.0, 0, 0]), toe=np.zeros(3))
    surface = level * truth.TIP_RIM * model.spec.core_mm + truth.FILM_MM
    camera = looking(np.array([0.0, 0, 100.0]), np.zeros(3), 0.0, 4000.0, 200, 200)
    none = np.zeros((200, 200), np.uint8)
    buffers = Buffers(
        np.zeros((200, 200, 3), np.float32), none, none.astype(np.uint16), none,
        none.astype(np.float32), lambda points, slack: points[:, 2] + slack >= surface,
    )  # fmt: skip
    return truth._tip_shows(model, camera, buffers)


@pytest.mark.parametrize(
    ("level", "seen"),
    # a quarter of a circle lies above cos(45 deg) of its radius
    [(-1.1, True), (0.0, True), (0.6, True), (0.8, False), (1.0, False), (3.0, False)],
)
def test_a_tip_shows_as_long_as_a_quarter_of_its_rim_does(level, seen):
    assert shows(level) is seen
