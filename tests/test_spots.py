"""Signs of a joint that no joint accounts for are boxed; plain wires and clutter are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from inspector.joints import find_joints
from inspector.model import Mark, Region, Verdict
from inspector.settings import Settings
from inspector.spots import SPOT
from inspector.verdict import judge, judge_photo
from inspector.windows import match, plan_windows
from tests.drawn import Cup, draw
from tests.test_joints import photo

D_PX = 48.0
SIZE = (460, 400)
FIRST, SECOND = Cup(end=(150, 110), gap=0.9), Cup(end=(150, 270), gap=0.9)


def boxed(joints):
    return [joint for joint in joints if SPOT in joint.problems]


def painted(patch, where, region):
    """`patch` with `region` where the mask of (x, y) says."""
    y, x = np.indices(patch.labels.shape)
    labels = np.where(where(x, y), np.uint8(region), patch.labels)
    return replace(patch, labels=labels, sure=np.ones(labels.shape, np.float32))


def test_a_lip_in_solder_whose_wire_is_hidden_is_boxed():
    hidden = replace(SECOND, peaks=(Mark.LIP,))
    patch = draw([FIRST, hidden], D_PX, SIZE)
    patch = painted(patch, lambda x, y: (y > 200) & (x < 170), Region.BACKGROUND)
    joints = find_joints(patch, "cup")
    assert len(joints) == 2
    (spot,) = boxed(joints)
    assert np.hypot(*(np.array(spot.lip) - hidden.place(0.9, 0, D_PX))) < 1.0
    assert spot.own.any()
    x0, y0, x1, y1 = spot.box
    assert x0 < spot.lip[0] < x1
    assert y0 < spot.lip[1] < y1


def test_an_empty_terminal_is_no_spot():
    empty = replace(SECOND, peaks=(Mark.LIP,), solder=False, wire_back=0.0)
    patch = draw([FIRST, empty], D_PX, SIZE)
    strands = patch.labels == Region.CONDUCTOR
    patch = painted(patch, lambda _, y: (y > 200) & strands, Region.BACKGROUND)
    assert (patch.labels[200:] == Region.TERMINAL).any()
    assert len(find_joints(patch, "cup")) == 1


@pytest.mark.parametrize(("beyond", "spots"), [(Region.HOUSING, 1), (Region.BACKGROUND, 0)])
def test_bare_metal_that_leads_into_a_housing_is_boxed_and_a_stripped_wire_is_not(beyond, spots):
    bare = replace(SECOND, peaks=(Mark.END,), solder=False)
    patch = draw([FIRST, bare], D_PX, SIZE)
    patch = painted(patch, lambda x, y: (y > 200) & (x > 180), beyond)
    joints = find_joints(patch, "cup")
    assert len(boxed(joints)) == spots
    assert len(joints) == 1 + spots


def test_a_wire_that_cannot_be_measured_is_boxed():
    patch = draw([FIRST, SECOND], D_PX, SIZE)
    # of the second wire's insulation a sliver shows
    patch = painted(patch, lambda x, y: (y > 200) & (x < 146), Region.BACKGROUND)
    joints = find_joints(patch, "cup")
    assert len(joints) == 2
    (spot,) = boxed(joints)
    assert np.hypot(*(np.array(spot.lip) - SECOND.place(0.9, 0, D_PX))) < 1.0


def test_more_marks_on_a_joint_that_is_found_are_its_own():
    patch = draw([FIRST], D_PX, SIZE)
    other = draw([replace(FIRST, end=(150 + 0.6 * D_PX, 110 + 0.2 * D_PX))], D_PX, SIZE)
    marks = np.maximum(patch.marks, other.marks)
    assert boxed(find_joints(replace(patch, marks=marks), "cup")) == []


def test_plain_and_crossing_wires_are_no_spots():
    patch = draw([FIRST], D_PX, SIZE)
    patch = painted(patch, lambda x, y: np.abs(y - 300 - 0.1 * x) < D_PX / 2, Region.INSULATION)
    patch = painted(patch, lambda x, y: np.abs(x - 400 + 0.2 * y) < D_PX / 2, Region.INSULATION)
    assert len(find_joints(patch, "cup")) == 1


def test_a_spot_stays_until_a_joint_accounts_for_it():
    patch = draw([FIRST, replace(SECOND, peaks=(Mark.LIP,))], D_PX, SIZE)
    patch = painted(patch, lambda x, y: (y > 200) & (x < 170), Region.BACKGROUND)
    coarse = find_joints(patch, "cup")
    sound = find_joints(draw([FIRST, SECOND], D_PX, SIZE), "cup")
    assert len(boxed(match(coarse, sound[:1]))) == 1
    assert boxed(match(coarse, sound)) == []
    assert len(match(coarse, sound)) == 2


@pytest.mark.parametrize(("sure", "unsure"), [(0.3, True), (0.8, False)])
def test_a_weak_joint_seen_close_up_only_is_not_judged(sure, unsure):
    (joint,) = find_joints(draw([FIRST], D_PX, SIZE), "cup")
    joint = replace(joint, sure=sure)
    (alone,) = match((), (joint,))
    assert ("unsure" in alone.problems) == unsure
    (twice,) = match((joint,), (joint,))
    assert twice.problems == ()


def test_windows_go_to_joints_before_spots():
    far = draw([replace(FIRST, end=(150, 1200)), replace(SECOND, peaks=(Mark.LIP,))], D_PX,
               (460, 1400))  # fmt: skip
    far = painted(far, lambda x, y: (y < 600) & (x < 170), Region.BACKGROUND)
    joints = find_joints(far, "cup")
    assert SPOT in joints[0].problems  # it comes first in reading order
    windows = plan_windows(joints, photo(460, 1400))
    assert [window.center[1] > 700 for window in windows] == [True, False]


def test_a_photo_with_a_spot_cannot_pass():
    patch = draw([FIRST, replace(SECOND, peaks=(Mark.LIP,))], D_PX, SIZE)
    patch = painted(patch, lambda x, y: (y > 200) & (x < 170), Region.BACKGROUND)
    (spot,) = boxed(find_joints(patch, "cup"))
    result = judge(spot, None, {}, None, Settings())  # of a spot nothing is measured
    assert result.verdict is Verdict.RETAKE
    assert "looks like a joint" in result.findings[0].text
    passed = replace(result, findings=(), verdict=Verdict.PASS)
    assert judge_photo([passed, result]) is Verdict.RETAKE
