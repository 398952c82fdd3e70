"""The fillet on drawn joints: angles and convexity as drawn, and what is no fillet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from inspector import fillet_line
from inspector.checks import fillet
from inspector.model import Measurement, NotMeasured
from inspector.outline import evenly
from tests.cups import near, turned, value, view


@settings(max_examples=15, deadline=None)
@given(angle=st.floats(0, 360), theta=st.floats(12, 70), start=st.floats(0.2, 0.6))
def test_fillet_angles_and_convexity(angle, theta, start):
    cup = turned(angle, theta_deg=theta, solder_from=start, core=0.2, outer=0.48, gap=0.9)
    cup = replace(cup, end=(230.0, 230.0))
    found = fillet.measure(view(cup, 96, size=(460, 460)))  # the scale of a close window
    for side in ("left", "right"):
        assert abs(value(found, f"convexity-{side}").quantity.value - cup.convexity) < 0.03
        assert abs(value(found, f"angle-conductor-{side}").quantity.value - theta) < 8
        assert abs(value(found, f"angle-cup-{side}").quantity.value - cup.angle_cup_deg) < 8


def test_fillet_angles_lie_within_their_stated_uncertainty():
    misses = total = 0
    for angle in range(0, 360, 24):
        cup = turned(angle + 1.3, theta_deg=30, core=0.2, outer=0.48, gap=0.9, solder_from=0.4)
        cup = replace(cup, end=(230.0, 230.0))
        found = fillet.measure(view(cup, 96, size=(460, 460)))
        for side in ("left", "right"):
            for name, truth in (("angle-conductor", 30.0), ("angle-cup", cup.angle_cup_deg)):
                q = value(found, f"{name}-{side}").quantity
                total += 1
                misses += abs(q.value - truth) > q.expanded_uncertainty
    assert total == 60
    assert misses <= 6


@pytest.mark.parametrize(
    ("theta", "gap", "told"), [(70.0, 1.4, True), (5.0, 1.4, False), (75.0, 0.6, False)]
)
def test_aslant_a_bulge_counts_where_it_stands_out_of_the_cup(monkeypatch, theta, gap, told):
    monkeypatch.setattr(fillet, "apparent_tilt_deg", lambda _: (25.0, 3.0))
    cup = turned(20, theta_deg=theta, core=0.2, outer=0.48, gap=gap, solder_from=0.3)
    cup = replace(cup, end=(200.0, 230.0))
    found = fillet.measure(view(cup, 96, size=(460, 460)))
    angles = [item for item in found if "angle" in item.name]
    assert all(isinstance(item, NotMeasured) for item in angles)
    for side in ("left", "right"):
        if told:
            assert cup.convexity > fillet.CLEARLY
            near(value(found, f"convexity-{side}"), cup.convexity, 0.03)
        else:
            assert not any(isinstance(item, Measurement) for item in found)


def test_an_outline_cut_off_by_another_joint_is_no_fillet():
    cup = turned(20, theta_deg=30, core=0.2, outer=0.48, gap=0.9, solder_from=0.4)
    seen = view(replace(cup, end=(230.0, 230.0)), 96, size=(460, 460))
    joint = seen.joint
    y, x = np.mgrid[: joint.own.shape[0], : joint.own.shape[1]]
    t = joint.to_frame(np.stack([x, y], axis=-1).reshape(-1, 2))[:, 1].reshape(x.shape)
    cut = replace(seen, joint=replace(joint, own=joint.own & (t < 0.3)))
    whole, found = fillet.measure(seen), fillet.measure(cut)
    assert isinstance(value(whole, "convexity-right"), Measurement)
    near(value(found, "convexity-left"), value(whole, "convexity-left").quantity.value, 0.001)
    assert all(isinstance(item, NotMeasured) for item in found if item.name.endswith("right"))


def test_the_lip_s_rounded_rim_is_left_out_of_a_fillet():
    turn = np.radians(np.linspace(0, 75, 120))
    drawn_in = 60 * np.stack([np.sin(turn), 1 - np.cos(turn)], axis=1)
    back = np.radians(np.linspace(75, 0, 20))
    step = np.stack([np.cos(back), np.sin(back)], axis=1) * 0.5
    rounded = np.vstack([drawn_in, drawn_in[-1] + np.cumsum(step, axis=0)])
    even = evenly(rounded, 0.5)
    kept = fillet_line._without_rim(even, 96)
    assert 0 <= np.hypot(*(kept[-1] - drawn_in[-1])) < 4
    bead = 40 * np.stack([1 - np.cos(2 * turn), np.sin(2 * turn)], axis=1)
    whole = evenly(bead, 0.5)
    assert fillet_line._without_rim(whole, 96) is whole


def test_no_fillet_outside_a_flush_cup():
    found = fillet.measure(view(turned(20, solder_from=1.0)))
    assert all(isinstance(item, NotMeasured) for item in found)
    assert "no fillet shows" in found[0].because  # type: ignore[union-attr]
