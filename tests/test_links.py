"""Which lip an end belongs to, where solder, insulation or another wire misleads."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector.joints import find_joints
from inspector.links import link
from inspector.model import Mark, Region
from tests.drawn import Cup, draw

D_PX = 60.0
SIZE = (480, 320)


def also_lip(patch, at, strength):
    """`patch` with one more lip mark."""
    y, x = np.indices(patch.labels.shape)
    blob = strength * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2 * 2.5**2))
    marks = patch.marks.copy()
    marks[Mark.LIP] = np.maximum(marks[Mark.LIP], blob)
    return replace(patch, marks=marks)


def test_the_edge_of_a_solder_ring_is_not_the_lip():
    cup = Cup(end=(140, 160), gap=1.0, solder_from=0.0)
    patch = also_lip(draw([cup], D_PX, SIZE), cup.place(0.15, 0, D_PX), 0.95)
    (one,) = link(patch).chosen
    assert np.hypot(*(one.lip.point - cup.place(1.0, 0, D_PX))) < 1.0


def test_the_far_end_of_the_mouth_is_not_the_lip():
    cup = Cup(end=(140, 160), gap=0.2)
    patch = also_lip(draw([cup], D_PX, SIZE), cup.place(0.2 + cup.depth, 0, D_PX), 0.95)
    (one,) = link(patch).chosen
    assert np.hypot(*(one.lip.point - cup.place(0.2, 0, D_PX))) < 1.0


@pytest.mark.parametrize("follows", [True, False])
def test_insulation_over_the_lip_is_a_joint_where_the_cup_follows(follows):
    cup = Cup(end=(140, 160), gap=0.32)
    patch = draw([cup], D_PX, SIZE)
    y, x = np.indices(patch.labels.shape)
    s = (x - 140) / D_PX
    labels = patch.labels.copy()
    labels[(s > 0) & (s < 0.35) & (np.abs(y - 160) < 0.45 * D_PX)] = Region.INSULATION
    if not follows:
        labels[s >= 0.35] = Region.BACKGROUND
    assert len(link(replace(patch, labels=labels)).chosen) == follows


def test_a_wire_that_crosses_behind_the_end_does_not_hide_a_long_bare_joint():
    cup = Cup(end=(140, 100), gap=3.1)
    patch = draw([cup], D_PX, SIZE)
    y, x = np.indices(patch.labels.shape)
    labels = patch.labels.copy()
    s, t = (x - 140) / D_PX, (y - 100) / D_PX
    labels[s < -0.6] = Region.BACKGROUND
    labels[(np.abs(s + 0.1) < 0.5) & (t > 0.5)] = Region.INSULATION  # the other wire lies aside
    (one,) = link(replace(patch, labels=labels)).chosen
    assert np.hypot(*(one.lip.point - cup.place(3.1, 0, D_PX))) < 1.0


@pytest.mark.parametrize("meets_D", [0.3, 1.4])  # how far behind the end they touch
def test_a_wire_taken_for_part_of_another_is_no_ruler(meets_D):  # noqa: N803 - the unit shows
    d_px = 40.0
    cup = Cup(end=(240, 160), gap=0.8)
    patch = draw([cup], d_px, SIZE)
    y, x = np.indices(patch.labels.shape)
    beside = (x < 240 - meets_D * d_px) & (y >= 160) & (y < 160 + 1.5 * d_px)
    labels = np.where(beside, np.uint8(Region.INSULATION), patch.labels)
    (joint,) = find_joints(replace(patch, labels=labels), "cup")
    own = joint.d_px == pytest.approx(d_px, rel=0.05)
    assert own == (meets_D > 1)
    assert own == ("unsure" not in joint.problems)
