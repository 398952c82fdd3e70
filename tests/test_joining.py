"""Solder between wire and terminal is seen where it is drawn, and not where it is not."""

import numpy as np
import pytest

from inspector.checks import registry
from inspector.joining import solder_joins
from inspector.kinds import registry as kinds
from inspector.model import Outcome, Region, Verdict
from inspector.settings import Settings
from inspector.verdict import judge
from tests.defects import PLAIN, box, changed, view

ANGLES = [0, 50, 135, 270]
COPPER = (Region.CONDUCTOR, [box(0.0, 2.2, -0.27, 0.27)])
WALL = (Region.TERMINAL, [box(1.0, 3.0, -0.42, 0.42)])
FILLET = (
    Region.SOLDER,
    [np.array([[0.6, -0.27], [0.9, -0.30], [1.0, -0.38], [1.0, 0.38], [0.9, 0.30], [0.6, 0.27]])],
)
TINNED = (Region.SOLDER, [box(0.2, 1.0, -0.27, 0.27)])


def drawn(*regions, angle=0.0):
    """A cup with nothing in it but what is given, drawn in that order."""
    ground = (Region.BACKGROUND, [box(0.0, 1.0, -0.6, 0.6)])
    return view(changed(PLAIN, angle_deg=angle, regions=(ground, *regions)))


@pytest.mark.parametrize("angle", ANGLES)
def test_solder_in_the_opening_or_a_fillet_at_a_closed_cup_joins(angle):
    assert solder_joins(view(changed(PLAIN, angle_deg=angle)).joint)
    assert solder_joins(drawn(COPPER, WALL, FILLET, angle=angle).joint)


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize(
    "regions", [(WALL, COPPER), (COPPER, WALL), (COPPER, WALL, TINNED)],
    ids=["bare in an open cup", "bare in a closed cup", "tinned in a closed cup"],
)  # fmt: skip
def test_a_wire_that_only_lies_in_its_cup_is_not_joined(angle, regions):
    assert not solder_joins(drawn(*regions, angle=angle).joint)


@pytest.mark.parametrize("angle", ANGLES)
def test_in_a_short_gap_the_wire_itself_is_no_fillet(angle):
    # what lies in the slit is called solder; it is as wide as a bundle, or widens to the cup
    def slit(*solder):
        ground = (Region.BACKGROUND, [box(0.0, 1.0, -0.6, 0.6)])
        wall = (Region.TERMINAL, [box(0.14, 2.0, -0.42, 0.42)])
        regions = (ground, wall, (Region.SOLDER, list(solder)))
        return solder_joins(view(changed(PLAIN, gap=0.14, angle_deg=angle, regions=regions)).joint)

    in_cup = box(0.14, 0.2, -0.27, 0.27)  # too little by itself
    assert not slit(box(0.0, 0.14, -0.29, 0.29), in_cup)
    assert slit(box(0.0, 0.14, -0.38, 0.38), in_cup)
    # the insulation's rounded edge bares a narrow part of it behind its end
    edge = box(-0.1, 0.0, -0.2, 0.2)
    assert not slit(box(0.0, 0.14, -0.29, 0.29), edge, in_cup)


def test_where_none_is_seen_that_is_a_doubt_and_no_pass():
    v = drawn(COPPER, WALL, TINNED)
    found = judge(v.joint, v, registry(), kinds()["cup"], Settings())
    (doubt,) = (f for f in found.findings if f.check == "unsoldered")
    assert doubt.outcome is Outcome.DOUBT
    assert found.verdict is not Verdict.PASS
    sound = view(PLAIN)
    named = {
        f.check for f in judge(sound.joint, sound, registry(), kinds()["cup"], Settings()).findings
    }
    assert "unsoldered" not in named
