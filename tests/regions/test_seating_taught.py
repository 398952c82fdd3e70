"""What training tells the network of a wire's seating, from truth that mostly cannot see it."""

import json

import cv2
import numpy as np
import pytest

from inspector.model import Fault
from inspector.regions.training.scenes import read_scene


def taught(state, seating, *, usable=True):
    """The label of the fault SEATING: 1 has it, 0 is free of it, -1 unknown."""
    joint = {
        "d_px": 40.0, "end": [20.0, 30.0], "lip": [40.0, 30.0], "toe": None,
        "values": {"seating": seating}, "faults": {"seating": state},
    }  # fmt: skip
    truth = {"seed": 1, "look": "train", "usable": usable, "joints": [joint]}
    blank = np.zeros((60, 80), np.uint8)
    files = {
        ".json": json.dumps(truth).encode(),
        ".jpg": cv2.imencode(".jpg", np.zeros((60, 80, 3), np.uint8))[1].tobytes(),
        ".regions.png": cv2.imencode(".png", blank)[1].tobytes(),
        ".marks.png": cv2.imencode(".png", blank.astype(np.uint16))[1].tobytes(),
    }
    scene = read_scene("one", files.__getitem__, lambda _seed, _look: True)
    return int(scene.joints[0].faults[Fault.SEATING])


@pytest.mark.parametrize(
    ("state", "seating", "label"),
    [
        ("bad", 0.4, 1),
        ("sound", 1.0, 0),
        ("near", 0.7, -1),
        ("not-seen", 1.0, 0),  # in to the full: nothing shows that it were not
        ("not-seen", 0.4, -1),  # short, and hidden: nobody could tell
    ],
)
def test_a_full_seat_teaches_no_fault_though_its_end_is_hidden(state, seating, label):
    assert taught(state, seating) == label


def test_a_photo_that_cannot_be_used_teaches_nothing_of_it():
    assert taught("not-seen", 1.0, usable=False) == -1
