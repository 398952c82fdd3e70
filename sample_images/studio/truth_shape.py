"""True shapes in the picture: joint frame, wetting, fillet profiles, strands, spikes.

Lengths and angles are as projected into the picture; what the view hides does not count.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .buffers import Buffers
from .joint import JointModel
from .view import Camera

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
STRAND_SLACK_MM = 0.1  # a strand's own radius, and a little


def line_slack_mm(d_mm: float) -> float:
    """How far a contact line may lie behind what covers it: rounded rims, waves of the solder."""
    return 0.12 + 0.03 * d_mm


def seen(camera: Camera, buffers: Buffers, points: Array, slack_mm: float) -> Mask:
    """Which points (n, 3) are in the frame and not behind something else by over `slack_mm`."""
    xy, _ = camera.project(points)
    inside = ((xy >= 0) & (xy <= [camera.width - 1, camera.height - 1])).all(axis=1)
    return inside & buffers.sight(points, slack_mm)


def frame(model: JointModel, camera: Camera) -> tuple[Array, Array, float]:
    """Origin (pixels), unit axis and D (pixels) of the joint frame in the picture."""
    end, depth = camera.project(model.end)
    ahead, _ = camera.project(model.end + model.axis)
    axis = ahead - end
    axis = axis / (np.linalg.norm(axis) + 1e-9)
    return end, axis, float(model.spec.d_mm * camera.focal_px / depth)


def in_frame(model: JointModel, camera: Camera, points: Array) -> Array:
    """Points (n, 3) to (s, t) of the joint frame, in D."""
    end, axis, d_px = frame(model, camera)
    xy, _ = camera.project(points)
    off = xy - end
    return np.stack([off @ axis, off @ np.array([-axis[1], axis[0]])], -1) / d_px


def _finer(points: Array, wet: Mask) -> tuple[Array, Mask]:
    """A contact line at four times its points."""
    t = np.linspace(0, len(points) - 1, 4 * len(points))
    index = np.arange(len(points))
    fine = np.stack([np.interp(t, index, points[:, k]) for k in range(3)], -1)
    return fine, wet[np.rint(t).astype(int)]


def wetting(
    model: JointModel, camera: Camera, buffers: Buffers
) -> tuple[dict[str, Any], list[float] | None]:
    """Wetted share of the visible contact line and its longest dry stretch; where that is."""
    spec = model.spec
    total = wet = longest = 0.0
    where: list[float] | None = None
    scale = camera.focal_px / camera.project(model.lip)[1]
    for line in model.lines:
        if len(line.points) < 3:
            continue
        fine, is_wet = _finer(line.points, line.wet)
        visible = seen(camera, buffers, fine, line_slack_mm(spec.d_mm))
        xy, _ = camera.project(fine)
        step = np.concatenate([[0], np.linalg.norm(np.diff(xy, axis=0), axis=1)])
        step[step > 0.5 * spec.d_mm * scale] = 0
        total += step[visible].sum()
        wet += step[visible & is_wet].sum()
        run, first = 0.0, 0
        for k, (s, dry) in enumerate(zip(step, visible & ~is_wet, strict=True)):
            if not dry:
                run, first = 0.0, k + 1
                continue
            run += s
            if run > longest:
                longest, where = run, xy[(first + k) // 2].tolist()
    values: dict[str, Any] = {"wetted": None, "dry_stretch_conductor_diameters": None}
    if total < 0.15 * spec.d_mm * scale:
        return values, None
    values["wetted"] = float(wet / total)
    values["dry_stretch_conductor_diameters"] = float(longest / (2 * spec.core_mm * scale))
    return values, where


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
        visible = seen(camera, buffers, s.path, STRAND_SLACK_MM)
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
    """Projected length (mm) of the longest spike whose tip shows; whether some are hidden; tip."""
    longest, hidden, where = 0.0, False, None
    for base_tip in model.spikes:
        xy, depth = camera.project(base_tip)
        if not seen(camera, buffers, base_tip[1:], line_slack_mm(model.spec.d_mm))[0]:
            hidden = True
            continue
        length = float(np.linalg.norm(xy[1] - xy[0]) * depth[0] / camera.focal_px)
        if length > longest:
            longest, where = length, xy[1].tolist()
    return longest, hidden, where
