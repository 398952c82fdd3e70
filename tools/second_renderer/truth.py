"""What is known of a photo, as the JSON that is written beside it.

{"photo", "kind", "wire_awg", "d_px": D in pixels, mean of the joints, "tilt_deg", "poles", "seed",
 "why": what makes an unusable photo so, else left out,
 "joints": [{"end_px": insulation's end, "lip_px": the cup's entry, "sound",
   "defects": [{"check", "what", "size", "unit"}]}]}
A bridge is told at both joints that it connects, and is one defect. The joints of unusable photos
are sound as modelled. Sizes are those of the model: whether the view shows them is not told.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from .joint import Joint
from .pinhole import Pinhole
from .shot import Shot, View

Json = dict[str, Any]


def truth_of(shot: Shot, view: View, joints: Sequence[Joint], pinhole: Pinhole) -> Json:
    """The truth of a photo that shows these joints of the shot: all, or none."""
    entries, d_px = [], 0.0
    for joint in joints:
        end, entry = pinhole.project([joint.end, joint.entry])
        d_px += pinhole.focal_px / end[2] / len(joints)
        entries.append(_entry(joint, end, entry))
    truth: Json = {
        "photo": f"{shot.plan.number:03d}.jpg",
        "kind": shot.plan.kind,
        "wire_awg": shot.wire_awg,
        "d_px": round(float(d_px), 2),
        "tilt_deg": round(float(np.degrees(view.tilt)), 2),
        "poles": len(joints),
        "joints": entries,
        "seed": shot.plan.seed,
    }
    if shot.plan.hindrance:
        truth["why"] = shot.plan.hindrance
    return truth


def _entry(joint: Joint, end: np.ndarray, entry: np.ndarray) -> Json:
    defect = joint.defect
    found = []
    if defect:
        size = round(float(defect.size), 3)
        found = [{"check": defect.check, "what": defect.what, "size": size, "unit": defect.unit}]
    return {
        "end_px": [round(float(place), 1) for place in end[:2]],
        "lip_px": [round(float(place), 1) for place in entry[:2]],
        "sound": defect is None,
        "defects": found,
    }
