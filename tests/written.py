"""A scene as training reads it, from truth made up for a test: blank pictures, no torch."""

import json

import cv2
import numpy as np

from inspector.regions.training.scenes import read_scene


def scene_of(joint, *, fate=None):
    """The scene with this one joint; `fate` is what makes its photo unusable, if anything."""
    truth = {
        "seed": 1, "look": "train", "usable": fate is None, "unusable_because": fate,
        "joints": [joint],
    }  # fmt: skip
    blank = np.zeros((60, 80), np.uint8)
    files = {
        ".json": json.dumps(truth).encode(),
        ".jpg": cv2.imencode(".jpg", np.zeros((60, 80, 3), np.uint8))[1].tobytes(),
        ".regions.png": cv2.imencode(".png", blank)[1].tobytes(),
        ".marks.png": cv2.imencode(".png", blank.astype(np.uint16))[1].tobytes(),
    }
    return read_scene("one", files.__getitem__, lambda _seed, _look: True)
