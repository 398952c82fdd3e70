"""What training tells the network of joints that no photo like theirs can show."""

import pytest

from inspector.model import OPINIONS, Fault, Hindrance
from tests.written import scene_of


def taught(*, tilt_deg=10.0, more_ends=(), fate=None):
    joint = {
        "d_px": 40.0, "end": [20.0, 30.0], "lip": [40.0, 30.0], "toe": None,
        "tilt_deg": tilt_deg, "more_ends": list(more_ends), "faults": {"gap": "bad"},
    }  # fmt: skip
    return [joint.faults for joint in scene_of(joint, fate=fate).joints]


def test_the_numbers_follow_those_of_the_faults():
    assert [*Fault, *Hindrance] == list(range(OPINIONS))


@pytest.mark.parametrize(("tilt_deg", "steep"), [(10.0, 0), (45.0, 0), (50.0, -1), (60.0, 1)])
def test_a_wire_over_the_usable_tilt_is_steep_and_near_it_nothing_is_taught(tilt_deg, steep):
    fate = "tilt" if steep == 1 else None
    (faults,) = taught(tilt_deg=tilt_deg, fate=fate)
    assert faults[Hindrance.STEEP] == steep
    assert faults[Hindrance.PAIR] == 0
    assert faults[Fault.GAP] == (-1 if fate else 1)


def test_a_second_wire_is_taught_at_its_cup_and_not_at_its_own_end():
    first, second = taught(more_ends=[[22.0, 36.0]], fate="two-wires")
    assert (first[Hindrance.PAIR], first[Hindrance.STEEP]) == (1, 0)
    assert (second == -1).all()


@pytest.mark.parametrize("fate", ["covered", "sleeved", "cropped", "focus"])
def test_where_the_joint_does_not_show_nothing_is_taught(fate):
    (faults,) = taught(fate=fate)
    assert (faults == -1).all()
