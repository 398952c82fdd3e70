"""Joints found in drawn maps come back with the geometry that they were drawn from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from skimage.measure import label, regionprops

from inspector.frame import apparent_tilt_deg
from inspector.joints import find_joints
from inspector.model import Mark, Photo, Region
from inspector.regions.network import CLOSE_D_PX, CLOSE_SIDE_PX
from inspector.windows import Window, match, misjudged, plan_windows
from tests.drawn import Cup, draw

MIDDLE = (200.0, 200.0)
SQUARE = (400, 400)


@settings(max_examples=25, deadline=None)
@given(
    angle=st.floats(0, 360),
    d_px=st.floats(18, 70),
    gap=st.floats(0.1, 2.2),
    dx=st.floats(-0.5, 0.5),
)
def test_a_joint_comes_back_at_any_turn_and_size(angle, d_px, gap, dx):
    cup = Cup(end=(MIDDLE[0] + dx, MIDDLE[1] - dx), angle_deg=angle, gap=gap)
    found = find_joints(draw([cup], d_px, SQUARE), "cup")
    assert len(found) == 1
    joint = found[0]
    assert joint.d_px == pytest.approx(d_px, abs=2.5 * joint.d_standard_uncertainty_px)
    assert joint.d_standard_uncertainty_px < 0.03 * d_px + 0.3
    assert np.hypot(*(np.array(joint.end) - cup.end)) < 0.5
    assert np.hypot(*(np.array(joint.lip) - cup.place(gap, 0, d_px))) < 0.5
    turn = np.degrees(np.arccos(np.clip(np.dot(joint.axis, cup.axis), -1, 1)))
    assert turn < 2.5
    assert "covered" not in joint.problems
    assert joint.own.sum() > 0


def test_d_and_direction_agree_with_regionprops():
    cup = Cup(end=MIDDLE, angle_deg=33, wire_back=2.0)
    patch = draw([cup], 60, SQUARE)
    joint = find_joints(patch, "cup")[0]
    wire = regionprops(label(patch.labels == Region.INSULATION))[0]
    # moments of a rectangle: width = sqrt(12) * standard deviation across, minor axis = 4 * it
    width = wire.axis_minor_length * np.sqrt(12) / 4
    assert joint.d_px == pytest.approx(width, rel=0.01)
    assert abs(np.dot(joint.axis, (np.sin(wire.orientation), np.cos(wire.orientation)))) > 0.999


def poles(pitch, count=3, d_px=48.0, **change):
    cups = [replace(Cup(end=(150, 80 + k * pitch * d_px), gap=0.9), **change) for k in range(count)]
    return cups, d_px


@pytest.mark.parametrize("pitch", [1.0, 1.3, 2.0])
def test_poles_side_by_side_are_kept_apart_and_numbered_from_the_top(pitch):
    cups, d_px = poles(pitch)
    joints = find_joints(draw(cups, d_px, (460, 400)), "cup")
    assert [joint.number for joint in joints] == [1, 2, 3]
    for joint, cup in zip(joints, cups, strict=True):
        assert np.hypot(*(np.array(joint.end) - cup.end)) < 0.6
        assert joint.d_px == pytest.approx(d_px, rel=0.03)
        t = joint.to_frame(np.argwhere(joint.own)[:, ::-1].astype(float))[:, 1]
        assert np.abs(t).max() <= pitch / 2 + 0.03 if pitch < 1.2 else np.abs(t).max() < 0.6
    owned = np.sum([joint.own for joint in joints], axis=0)
    assert owned.max() == 1


def test_a_bridge_is_split_half_way():
    cups, d_px = poles(1.5, count=2)
    patch = draw(cups, d_px, (460, 300))
    labels = patch.labels.copy()
    x = int(cups[0].place(1.1, 0, d_px)[0])
    y0, y1 = (int(cup.end[1]) for cup in cups)
    labels[y0:y1, x : x + 20] = np.where(
        labels[y0:y1, x : x + 20] == 0, Region.SOLDER, labels[y0:y1, x : x + 20]
    )
    joints = find_joints(replace(patch, labels=labels), "cup")
    bridge = (labels != patch.labels) & (np.arange(labels.shape[1]) < x + 20)
    shares = [float(joint.own[bridge].mean()) for joint in joints]
    assert shares == pytest.approx([0.5, 0.5], abs=0.06)


def test_rows_are_read_left_to_right_then_down():
    d_px = 30
    cups = [
        Cup(end=(x, y), angle_deg=90, gap=0.8, wire_back=1.8)
        for x, y in ((60, 78), (160, 70), (260, 75), (60, 280), (160, 286))
    ]
    joints = find_joints(draw(cups, d_px, (330, 420)), "cup")
    ends = [joint.end for joint in joints]
    assert np.abs(np.array(ends) - [cup.end for cup in cups]).max() < 0.6


@pytest.mark.parametrize("missing", [Mark.END, Mark.LIP, None])
def test_a_missing_peak_is_replaced_where_regions_are_clear(missing):
    kept = () if missing is None else tuple({Mark.END, Mark.LIP} - {missing})
    cup = Cup(end=MIDDLE, angle_deg=20, peaks=kept)
    joints = find_joints(draw([cup], 40, SQUARE), "cup")
    assert len(joints) == 1
    assert np.hypot(*(np.array(joints[0].end) - cup.end)) < 3.5
    assert np.hypot(*(np.array(joints[0].lip) - cup.place(1.0, 0, 40))) < 3.5
    assert joints[0].sure < 0.7


@pytest.mark.parametrize("lone", [Region.INSULATION, Region.TERMINAL, Region.SOLDER])
def test_lone_parts_are_no_joint(lone):
    patch = draw([Cup(end=MIDDLE)], 40, SQUARE)
    labels = np.where(patch.labels == lone, patch.labels, 0).astype(np.uint8)
    none = np.zeros_like(patch.marks)
    assert find_joints(replace(patch, labels=labels, marks=none), "cup") == ()
    assert find_joints(replace(patch, labels=labels), "cup") == ()


def test_an_empty_patch_has_no_joint():
    patch = draw([], 40, (60, 50))
    assert find_joints(patch, "cup") == ()


def test_two_wires_in_one_cup_are_named():
    d_px = 40
    first = Cup(end=(150, 180), gap=1.4, core=0.3)
    second = Cup(end=(150, 180 + 1.1 * d_px), gap=1.4)
    patch = draw([first], d_px, SQUARE)
    other = draw([replace(second, peaks=(Mark.END,))], d_px, SQUARE)
    lip = first.place(1.4, 0, d_px)
    labels = patch.labels.copy()
    wire = other.labels == Region.INSULATION
    labels[wire] = Region.INSULATION
    for share in np.linspace(0, 1, 200):  # its strands lead over to the first one's lip
        x, y = np.array(second.end) + share * (lip - second.end)
        labels[int(y) - 8 : int(y) + 8, int(x)] = np.where(
            labels[int(y) - 8 : int(y) + 8, int(x)] == 0,
            Region.CONDUCTOR,
            labels[int(y) - 8 : int(y) + 8, int(x)],
        )
    marks = np.maximum(patch.marks, other.marks)
    joints = find_joints(replace(patch, labels=labels, marks=marks), "cup")
    assert len(joints) == 1
    assert "two-wires" in joints[0].problems


def test_a_joint_cut_by_the_border_is_cropped():
    cup = Cup(end=(30, 100), gap=1.0)
    assert "cropped" in find_joints(draw([cup], 80, (260, 200)), "cup")[0].problems
    whole = Cup(end=(100, 100), gap=1.0)
    assert find_joints(draw([whole], 60, (360, 200)), "cup")[0].problems == ()
    # the same, with the photo's border inside a patch that reaches beyond it
    cut = find_joints(draw([whole], 60, (360, 200)), "cup", photo_size=(140, 200))
    assert "cropped" in cut[0].problems


def test_a_sleeve_over_the_bare_length_is_named():
    cup = Cup(end=(150, 150), sleeve=(0.2, 0.9))
    assert "sleeved" in find_joints(draw([cup], 50, (400, 300)), "cup")[0].problems
    behind = Cup(end=(150, 150), sleeve=(-9, -1.2))
    assert find_joints(draw([behind], 50, (400, 300)), "cup")[0].problems == ()


def test_a_finger_over_the_bare_length_is_named():
    patch = draw([Cup(end=(150, 150), gap=1.6)], 50, (400, 300))
    labels = patch.labels.copy()
    labels[:, 165:205] = Region.BACKGROUND
    found = find_joints(replace(patch, labels=labels), "cup")
    assert all("covered" in joint.problems for joint in found)
    assert len(found) == 1


def test_a_flared_end_does_not_widen_d():
    patch = draw([Cup(end=MIDDLE)], 60, SQUARE)
    labels = patch.labels.copy()
    x, y = (int(v) for v in MIDDLE)
    labels[y - 37 : y + 38, x - 16 : x] = Region.INSULATION
    joint = find_joints(replace(patch, labels=labels), "cup")[0]
    assert joint.d_px == pytest.approx(60, rel=0.02)


def test_a_square_end_shows_no_tilt():
    joint = find_joints(draw([Cup(end=MIDDLE, angle_deg=50)], 60, SQUARE), "cup")[0]
    tilt, u_tilt = apparent_tilt_deg(joint)
    assert tilt <= 2 * u_tilt


def photo(width: int, height: int) -> Photo:
    return Photo("a.jpg", np.zeros((height, width, 3), np.uint8))


def test_three_poles_share_a_window_and_far_joints_do_not():
    cups, d_px = poles(1.6)
    near = find_joints(draw(cups, d_px, (460, 400)), "cup")
    windows = plan_windows(near, photo(2000, 2000))
    assert len(windows) == 1
    window = windows[0]
    assert window.extent * CLOSE_D_PX / window.d_px <= 1.15 * (CLOSE_SIDE_PX + 0.5)
    far = [Cup(end=(90, 80), wire_back=2), Cup(end=(90, 420), wire_back=2)]
    apart = find_joints(draw(far, 30, (300, 500)), "cup")
    assert len(plan_windows(apart, photo(300, 500))) == 2


@settings(max_examples=20, deadline=None)
@given(angle=st.floats(0, 360), gap=st.floats(0.2, 3.5), x=st.integers(110, 290))
def test_a_window_shows_all_around_its_joint(angle, gap, x):
    joints = find_joints(draw([Cup(end=(x, 200), angle_deg=angle, gap=gap)], 24, SQUARE), "cup")
    (window,) = plan_windows(joints, photo(*SQUARE))
    joint = joints[0]
    seen = joint.from_frame(np.array([[-1.7, 0], [gap + 3.0, 0]]))
    seen = np.clip(seen, 0, 399)
    low = np.array(window.center) - window.extent / 2
    assert (seen >= low - 1).all()
    assert (seen <= low + window.extent + 1).all()


def test_the_same_joint_in_two_patches_is_one():
    cup = Cup(end=MIDDLE)
    patch = draw([cup], 40, SQUARE)
    shifted = replace(patch, origin=(0.4, -0.3))
    coarse = find_joints(patch, "cup")
    both = (*coarse, *find_joints(shifted, "cup"))
    assert len(match(coarse, both)) == 1
    lost = match(coarse, ())
    assert "lost" in lost[0].problems


@pytest.mark.parametrize(("sure", "carried"), [(0.9, True), (0.3, False)])
def test_a_second_window_does_not_take_away_what_a_surer_one_shows(sure, carried):
    patch = draw([Cup(end=MIDDLE)], 40, SQUARE)
    (plain,) = coarse = find_joints(patch, "cup")
    plain = replace(plain, sure=0.6)
    shown = replace(plain, sure=sure, problems=("two-wires", "cropped"))
    (kept,) = match(coarse, (plain, shown))
    assert kept.problems == (("two-wires",) if carried else ())


def test_a_window_with_d_far_off_is_taken_again():
    joints = find_joints(draw([Cup(end=MIDDLE)], 40, SQUARE), "cup")
    good, bad = Window((200, 200), 40, 267), Window((200, 200), 62, 413)
    assert misjudged([good], [joints]) == []
    ((index, again),) = misjudged([bad], [joints])
    assert index == 0
    assert again.d_px == pytest.approx(40, rel=0.03)


def test_a_wire_seen_from_behind_is_not_taken_for_covered():
    cup = Cup(end=MIDDLE, gap=0.5)
    patch = draw([cup], 60, SQUARE)
    labels = patch.labels.copy()
    for t in np.linspace(-0.49, 0.49, 200):  # the near rim of the end bows over the bare length
        for s in np.linspace(0.0, 0.3 * np.sqrt(1 - 4 * t * t), 40):
            x, y = np.rint(cup.place(s, t, 60)).astype(int)
            labels[y, x] = Region.INSULATION
    joint = find_joints(replace(patch, labels=labels), "cup")[0]
    assert "covered" not in joint.problems
    tilt, u_tilt = apparent_tilt_deg(joint)
    assert abs(tilt - np.degrees(np.arcsin(0.6))) < 2 * u_tilt
