"""True shapes in the picture: fillet profiles, strands, spikes; and those from other modules.

Lengths and angles are as projected into the picture; what the view hides does not count.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .buffers import Buffers
from .contact_truth import wetting
from .joint import JointModel
from .joint_frame import frame, in_frame, line_slack_mm, seen
from .plain_sight import spike_shows, strand_shows
from .view import Camera

Array = NDArray[np.float64]

__all__ = [
    "fillets", "frame", "in_frame", "line_slack_mm", "seen", "spikes", "strands", "wetting",
]  # fmt: skip


def fillets(model: JointModel, camera: Camera) -> list[dict[str, float]]:
    """Per side of the picture: apparent angles and signed convexity of the outline."""
    if model.fillet is None or not len(model.fillet):
        return []
    st = in_frame(model, camera, model.fillet.reshape(-1, 3)).reshape(*model.fillet.shape[:2], 2)
    core = model.spec.core_mm / model.spec.d_mm
    t0 = in_frame(model, camera, model.end[None])[0, 1]
    out = []
    for side in (-1, 1):
        # the meridian that stands out most at its middle is the silhouette of this side
        across = side * (st[..., 1] - t0)
        column = across[across.shape[0] // 2 :].mean(axis=0).argmax()
        s, e = st[:, column, 0], across[:, column]
        if e[-1] < core * 1.04:
            continue
        chord = np.hypot(s[-1] - s[0], e[-1] - e[0])
        if chord < 0.06 or s[-1] - s[0] < 0.02:
            continue
        n = np.array([-(e[-1] - e[0]), s[-1] - s[0]]) / chord
        rise = (s - s[0]) * n[0] + (e - e[0]) * n[1]
        start, last = _slopes_deg(s, e)
        out.append({
            "side": side, "angle_conductor_deg": start, "angle_cup_deg": 90 - last,
            "convexity": float(rise[np.abs(rise).argmax()] / chord), "chord_D": float(chord),
        })  # fmt: skip
    return out


def _slopes_deg(s: Array, e: Array) -> tuple[float, float]:
    """Slope angle of a profile at its first and at its last point, degrees from the axis.

    The angle at the contact is what the criteria limit, so a parabola through the end third gives
    its tangent there; a mean slope would read a curved fillet steeper or flatter than it meets.
    """
    both = np.column_stack([e, s])
    third = max(4, len(s) // 3)
    index = np.arange(third)

    def tangent(points: Array) -> float:
        rise, run = np.polyfit(index, points, 2)[1]
        return float(np.degrees(np.arctan2(rise, run)))

    return tangent(both[:third]), tangent(both[::-1][:third] * -1)


def strands(
    model: JointModel, camera: Camera, buffers: Buffers
) -> tuple[list[dict[str, Any]], list[float] | None]:
    """Each stray strand, and the middle of what shows of the one that shows most."""
    out = []
    most, where = 0.0, None
    for s in model.strands:
        xy, depth = camera.project(s.path)
        step = np.linalg.norm(np.diff(xy, axis=0), axis=1) * depth[1:] / camera.focal_px
        visible, _ = strand_shows(s, model, camera, buffers)
        shown = visible[1:] & visible[:-1]
        visible_mm = float(step[shown].sum())
        if visible_mm > most:
            most, where = visible_mm, xy[1:][shown].mean(axis=0).tolist()
        reach = np.linalg.norm(s.path - s.path[0], axis=1).max()
        out.append({
            "path": np.round(xy, 2).tolist(), "length_mm": float(step.sum()),
            "visible_mm": visible_mm, "reach_mm": float(reach), "tinned": s.tinned,
        })  # fmt: skip
    return out, where


def spikes(
    model: JointModel, camera: Camera, buffers: Buffers
) -> tuple[float, bool, list[float] | None]:
    """Projected length (mm) of the longest spike that stands out; whether some are hidden; tip."""
    longest, hidden, where = 0.0, False, None
    for base_tip in model.spikes:
        xy, depth = camera.project(base_tip)
        tip = seen(camera, buffers, base_tip[1:], line_slack_mm(model.spec.d_mm))[0]
        if not (tip and spike_shows(base_tip, model, camera, buffers)):
            hidden = True
            continue
        length = float(np.linalg.norm(xy[1] - xy[0]) * depth[0] / camera.focal_px)
        if length > longest:
            longest, where = length, xy[1].tolist()
    return longest, hidden, where
