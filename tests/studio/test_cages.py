"""The gaps of a bowed-out bundle belong to it; what stands before it does not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sample_images.studio import cages, connector, part as pt
from sample_images.studio.buffers import Buffers
from sample_images.studio.view import looking

WIDTH, HEIGHT, FOCAL, FAR = 240, 180, 1500.0, 100.0
PX = FOCAL / FAR  # pixels per mm in the plane of the bars


def _scene(spacing_d):
    """Bars along x in the plane z = 0, seen from above, with the bench 5 mm below them."""
    rng = np.random.default_rng(2)
    made = connector.make(rng, "train", 1, (("birdcage",),), housed=False, on_bench=True)
    model = made.joints[0]
    d = model.spec.d_mm
    at = np.arange(-1, 2) * spacing_d * d
    x = np.linspace(-0.8 * d, 0.8 * d, 20)
    points = np.array([(u, y, 0.0) for y in at for u in x], np.float32)
    cage = replace(next(p for p in model.parts if p.name == "birdcage"), vertices=points, joint=1)
    model = replace(model, parts=(cage,), end=np.array([-0.8 * d, 0, 0]))
    camera = looking(np.array([0.0, 0, FAR]), np.zeros(3), 0.0, FOCAL, WIDTH, HEIGHT)
    label = np.zeros((HEIGHT, WIDTH), np.uint8)
    depth = np.full((HEIGHT, WIDTH), FAR + 5, np.float32)
    xy, _ = camera.project(points.astype(float))
    bars = np.zeros(label.shape, bool)
    for u, v in np.rint(xy).astype(int):
        bars[v - 1 : v + 2, u - 4 : u + 5] = True
    label[bars], depth[bars] = pt.CONDUCTOR, FAR
    marks = np.full(label.shape, pt.MOUTH, np.uint16)
    buffers = Buffers(
        np.zeros((*label.shape, 3), np.float32), label, marks, bars.astype(np.uint8), depth
    )
    return model, camera, buffers, d * PX


def test_gaps_narrower_than_the_limit_are_the_bundle():
    model, camera, before, d_px = _scene(0.8 * cages.GAP_D)
    got = cages.whole_cages(before, [model], camera)
    filled = (got.label == pt.CONDUCTOR).sum()
    tall, wide = 2 * 0.8 * cages.GAP_D * d_px + 3, 1.6 * d_px + 9
    assert filled == pytest.approx(tall * wide, rel=0.08)  # the rectangle round the bars
    new = (got.label == pt.CONDUCTOR) & (before.label != pt.CONDUCTOR)
    assert new.sum() > 0.5 * filled
    assert (got.joint[new] == 1).all()
    assert not got.marks[new].any()
    assert (got.marks[~new] == before.marks[~new]).all()


def test_wider_gaps_stay_what_shows_through_them():
    model, camera, before, _ = _scene(1.6 * cages.GAP_D)
    got = cages.whole_cages(before, [model], camera)
    assert (got.label != before.label).mean() < 0.002


def test_what_stands_before_the_strands_keeps_its_region():
    model, camera, before, _ = _scene(0.8 * cages.GAP_D)
    tool = np.zeros(before.label.shape, bool)
    tool[:, WIDTH // 2 - 8 : WIDTH // 2 + 8] = True
    label, depth = before.label.copy(), before.depth.copy()
    label[tool], depth[tool] = pt.HOUSING, FAR - 2
    got = cages.whole_cages(replace(before, label=label, depth=depth), [model], camera)
    assert (got.label[tool] == pt.HOUSING).all()
    assert (got.label[:, : WIDTH // 2 - 8] == pt.CONDUCTOR).sum() > 0
