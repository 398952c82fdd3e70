"""What training tells the network of a wire's seating, from truth that mostly cannot see it."""

import pytest

from inspector.model import Fault
from tests.written import scene_of


def taught(state, seating, *, fate=None):
    """The label of the fault SEATING: 1 has it, 0 is free of it, -1 unknown."""
    joint = {
        "d_px": 40.0, "end": [20.0, 30.0], "lip": [40.0, 30.0], "toe": None,
        "values": {"seating": seating}, "faults": {"seating": state},
    }  # fmt: skip
    return int(scene_of(joint, fate=fate).joints[0].faults[Fault.SEATING])


@pytest.mark.parametrize(
    ("state", "seating", "label"),
    [
        ("bad", 0.4, 1),
        ("sound", 1.0, 0),
        ("near", 0.7, -2),
        ("not-seen", 1.0, 0),  # in to the full: nothing shows that it were not
        ("not-seen", 0.4, -1),  # short, and hidden: nobody could tell
    ],
)
def test_a_full_seat_teaches_no_fault_though_its_end_is_hidden(state, seating, label):
    assert taught(state, seating) == label


def test_a_photo_that_cannot_be_used_teaches_nothing_of_it():
    assert taught("not-seen", 1.0, fate="covered") == -1
