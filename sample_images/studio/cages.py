"""A bundle that bowed out is one region, as a person outlines it: its gaps belong to it.

Rays pass between the strands of a birdcage and meet the bench or the insulation behind. What a
person sees there is the bundle still, and its width is what the criteria limit; the gaps that lie
open between strands are therefore conductor in the region map. What stands before the strands
keeps its own region.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from scipy import ndimage

from . import part as pt
from .buffers import Buffers
from .joint import JointModel
from .joint_frame import frame
from .view import Camera

GAP_D = 0.4  # widest gap between strands that still counts as within the bundle
BEHIND_MM = 0.15  # a pixel nearer than the strands beside it, by more than this, is before them


def whole_cages(buffers: Buffers, joints: list[JointModel], camera: Camera) -> Buffers:
    """The buffers with the gaps of each birdcage labelled as its conductor, without marks."""
    label, marks, joint = buffers.label.copy(), buffers.marks.copy(), buffers.joint.copy()
    for number, model in enumerate(joints, 1):
        cage = [p.vertices for p in model.parts if p.name == "birdcage"]
        if not cage:
            continue
        gap_px = GAP_D * frame(model, camera)[2]
        xy, _ = camera.project(np.concatenate(cage).astype(float))
        room = int(np.ceil(gap_px)) + 1
        low = np.maximum(np.floor(xy.min(axis=0)).astype(int) - room, 0)
        high = np.ceil(xy.max(axis=0)).astype(int) + room + 1
        box = np.s_[low[1] : max(high[1], 0), low[0] : max(high[0], 0)]
        strands = (label[box] == pt.CONDUCTOR) & (joint[box] == number)
        if not strands.any():
            continue
        gaps = _closed(strands, gap_px / 2) & ~strands
        beside = ndimage.distance_transform_edt(
            ~strands, return_distances=False, return_indices=True
        )
        behind = buffers.depth[box] > buffers.depth[box][tuple(beside)] - BEHIND_MM
        gaps &= behind & (label[box] != pt.STRAND)
        label[box][gaps], marks[box][gaps], joint[box][gaps] = pt.CONDUCTOR, 0, number
    return replace(buffers, label=label, marks=marks, joint=joint)


def _closed(mask: np.ndarray, radius_px: float) -> np.ndarray:
    """`mask` with every gap filled that a disc of this radius does not fit in."""
    r = max(1, round(radius_px))
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1))
    room = np.pad(mask.astype(np.uint8), r + 1)
    return cv2.morphologyEx(room, cv2.MORPH_CLOSE, disc)[r + 1 : -r - 1, r + 1 : -r - 1] > 0
