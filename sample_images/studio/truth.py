"""What is true of a rendered joint in this view, from its geometry and the region buffers.

Lengths and angles are as projected into the picture; what the view hides is listed apart.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import part as P
from .joint import JointModel
from .limits import clearness
from .render import Buffers
from .view import Camera

Array = NDArray[np.float64]


def _seen(camera: Camera, buffers: Buffers, points: Array, joint: int, slack_mm: float) -> NDArray[np.bool_]:
    """Which points (n, 3) are in the frame and not behind something else."""
    xy, depth = camera.project(points)
    col, row = np.rint(xy[:, 0]).astype(int), np.rint(xy[:, 1]).astype(int)
    inside = (col >= 1) & (row >= 1) & (col < camera.width - 1) & (row < camera.height - 1)
    col, row = np.clip(col, 1, camera.width - 2), np.clip(row, 1, camera.height - 2)
    ok = np.zeros(len(points), bool)
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            ok |= (buffers.depth[row + dy, col + dx] > depth - slack_mm) & (buffers.joint[row + dy, col + dx] == joint)
    return ok & inside


def _share_near(buffers: Buffers, xy: Array, radius: float, joint: int) -> float:
    """Share of pixels within `radius` of xy that belong to the joint; 0 outside the frame."""
    h, w = buffers.label.shape
    x, y = xy
    if not (0 <= x < w and 0 <= y < h):
        return 0.0
    r = max(1, round(radius))
    window = buffers.joint[max(0, int(y) - r) : int(y) + r + 1, max(0, int(x) - r) : int(x) + r + 1]
    skin = buffers.label[max(0, int(y) - r) : int(y) + r + 1, max(0, int(x) - r) : int(x) + r + 1]
    return float(((window == joint) & (skin != P.SLEEVE)).mean())


def _wetting(model: JointModel, camera: Camera, buffers: Buffers, joint: int) -> dict[str, Any]:
    spec = model.spec
    total = wet = longest = 0.0
    scale = camera.focal_px / camera.project(model.lip)[1]
    for line in model.lines:
        if len(line.points) < 3:
            continue
        t = np.linspace(0, len(line.points) - 1, 4 * len(line.points))
        fine = np.stack([np.interp(t, np.arange(len(line.points)), line.points[:, k]) for k in range(3)], -1)
        is_wet = line.wet[np.rint(t).astype(int)]
        seen = _seen(camera, buffers, fine, joint, 0.12 + 0.03 * spec.d_mm)
        xy, _ = camera.project(fine)
        step = np.concatenate([[0], np.linalg.norm(np.diff(xy, axis=0), axis=1)])
        step[step > 0.5 * spec.d_mm * scale] = 0
        total += step[seen].sum()
        wet += step[seen & is_wet].sum()
        run = 0.0
        for s, dry in zip(step, seen & ~is_wet, strict=True):
            run = run + s if dry else 0.0
            longest = max(longest, run)
    if total < 0.15 * spec.d_mm * scale:
        return {"wetted": None, "dry_stretch_conductor_diameters": None}
    return {"wetted": float(wet / total), "dry_stretch_conductor_diameters": float(longest / (2 * spec.core_mm * scale))}


def _frame(model: JointModel, camera: Camera) -> tuple[Array, Array, float]:
    """Origin (pixels), unit axis and D (pixels) of the joint frame in the picture."""
    end, depth = camera.project(model.end)
    ahead, _ = camera.project(model.end + model.axis)
    axis = ahead - end
    axis = axis / (np.linalg.norm(axis) + 1e-9)
    return end, axis, float(model.spec.d_mm * camera.focal_px / depth)


def _st(model: JointModel, camera: Camera, points: Array) -> Array:
    end, axis, d_px = _frame(model, camera)
    xy, _ = camera.project(points)
    off = xy - end
    return np.stack([off @ axis, off @ np.array([-axis[1], axis[0]])], -1) / d_px


def _fillet(model: JointModel, camera: Camera) -> list[dict[str, float]]:
    """Per side of the picture: apparent angles and signed convexity of the outline."""
    if model.fillet is None or not len(model.fillet):
        return []
    st = _st(model, camera, model.fillet.reshape(-1, 3)).reshape(*model.fillet.shape[:2], 2)
    core = model.spec.core_mm / model.spec.d_mm
    t0 = _st(model, camera, model.end[None])[0, 1]
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
        first = max(3, len(s) // 4)
        start = np.degrees(np.arctan2(*np.polyfit(np.arange(first), np.column_stack([e, s])[:first], 1)[0]))
        last = np.degrees(np.arctan2(*np.polyfit(np.arange(first), np.column_stack([e, s])[-first:], 1)[0]))
        out.append({"side": side, "angle_conductor_deg": float(start), "angle_cup_deg": float(90 - abs(last)),
                    "convexity": float(rise[np.abs(rise).argmax()] / chord), "chord_D": float(chord)})  # fmt: skip
    return out


def _strands(model: JointModel, camera: Camera, buffers: Buffers, joint: int) -> list[dict[str, Any]]:
    out = []
    for s in model.strands:
        xy, depth = camera.project(s.path)
        step = np.linalg.norm(np.diff(xy, axis=0), axis=1) * depth[1:] / camera.focal_px
        seen = _seen(camera, buffers, s.path, joint, 0.15)
        in_label = np.zeros(len(xy), bool)
        col, row = np.rint(xy).astype(int).T
        inside = (col >= 1) & (row >= 1) & (col < camera.width - 1) & (row < camera.height - 1)
        for dy in (-1, 0, 1):
            for dx in (-1, 0, 1):
                in_label[inside] |= buffers.label[row[inside] + dy, col[inside] + dx] == P.STRAND
        seen &= in_label
        reach = np.linalg.norm(s.path - s.path[0], axis=1).max()
        out.append({"path": np.round(xy, 2).tolist(), "length_mm": float(step.sum()), "visible_mm": float(step[seen[1:]].sum()),
                    "reach_mm": float(reach), "tinned": s.tinned})  # fmt: skip
    return out


def joint_truth(model: JointModel, number: int, camera: Camera, buffers: Buffers) -> dict[str, Any]:
    """The entry of one joint in a scene's JSON; positions in pixels of this picture."""
    spec = model.spec
    end, axis, d_px = _frame(model, camera)
    lip, lip_depth = camera.project(model.lip)
    toe, _ = camera.project(model.toe)
    own = buffers.joint == number
    ys, xs = np.nonzero(own)
    axis3 = model.axis / np.linalg.norm(model.axis)
    to_lip = (model.lip - camera.position) / np.linalg.norm(model.lip - camera.position)
    tilt = float(np.degrees(np.arcsin(np.clip(abs(axis3 @ to_lip), 0, 1))))
    mouth = own & (buffers.marks & P.MOUTH > 0)
    open_mouth = mouth & (buffers.label != P.CONDUCTOR)
    short = open_mouth & (buffers.marks & P.SHORT > 0)
    solder = own & (buffers.label == P.SOLDER)

    def share(bit: int, where: NDArray[np.bool_]) -> float:
        return float((buffers.marks[where] & bit > 0).mean()) if where.any() else 0.0

    def extent(bit: int, label: int | None = None) -> tuple[float, list[float] | None]:
        """Size (longest side, D) of a mark's visible area and its middle."""
        m = own & (buffers.marks & bit > 0)
        if label is not None:
            m &= buffers.label == label
        y, x = np.nonzero(m)
        if len(x) < 3:
            return 0.0, None
        along = (x - end[0]) * axis[0] + (y - end[1]) * axis[1]
        across = -(x - end[0]) * axis[1] + (y - end[1]) * axis[0]
        return float(max(np.ptp(along), np.ptp(across)) / d_px), [float(x.mean()), float(y.mean())]

    values: dict[str, Any] = {"gap_D": float((lip - end) @ axis / d_px), "gap_true_mm": spec.gap_mm, "awg": spec.awg}
    values["fill"] = float(1 - short.sum() / open_mouth.sum()) if open_mouth.sum() > 0.02 * d_px**2 else None
    values |= _wetting(model, camera, buffers, number)
    values["fillet"] = _fillet(model, camera)
    names = ("fillet", "pool", "blob", "collar", "near bridge")
    solid = [p.vertices for p in model.parts if p.label == P.SOLDER and p.name in names]
    values["excess_D"] = 0.0
    if solid:
        st = _st(model, camera, np.concatenate(solid))
        t0 = _st(model, camera, model.lip[None])[0, 1]
        values["excess_D"] = float(max(0.0, np.abs(st[:, 1] - t0).max() - spec.cup.outer * camera.focal_px / lip_depth / d_px))
    values["surplus_share"] = share(P.SURPLUS, solder)
    values["hidden_contour"] = bool(spec.dome_mm > 0)
    spike = [np.linalg.norm(np.diff(camera.project(s)[0], axis=0)) for s in model.spikes]
    values["spike_mm"] = float(max(spike, default=0.0) * lip_depth / camera.focal_px)
    cage = [p for p in model.parts if p.name == "birdcage"]
    values["birdcage_D"] = float(np.ptp(_st(model, camera, cage[0].vertices)[:, 1])) if cage else 2 * spec.core_mm / spec.d_mm
    values["seating"] = spec.seat
    values["seating_visible"] = bool(_share_near(buffers, toe, 0.1 * d_px, number) > 0.5 and mouth.any() and not (spec.cover and spec.supply and spec.dome_mm > 0) and spec.cup.cut != "closed")
    values["rough_share"] = share(P.ROUGH, solder)
    values["rough_size"] = spec.rough
    values["hole_D"], hole_at = extent(P.HOLE)
    values["char_D"], char_at = extent(P.CHAR, P.INSULATION)
    values["ragged_D"] = spec.ragged_mm / spec.d_mm
    values["embed_D"], embed_at = extent(P.EMBED)
    bridge_d, bridge_at = extent(P.BRIDGE)
    values["bridge_D"] = bridge_d
    strands = _strands(model, camera, buffers, number)
    where = {"surface": hole_at, "insulation-damage": char_at, "bridge": bridge_at, "insulation-gap": embed_at}
    truth = {
        "joint": number, "kind": "cup", "wire": f"{spec.awg} AWG", "d_mm": spec.d_mm,
        "end": end.tolist(), "end_visible": _share_near(buffers, end, 0.25 * d_px, number) > 0.3,
        "lip": lip.tolist(), "lip_visible": _share_near(buffers, lip, 0.25 * d_px, number) > 0.3,
        "more_ends": [p.tolist() for p, _ in map(camera.project, model.more_ends) if _share_near(buffers, p, 0.25 * d_px, number) > 0.3],
        "toe": toe.tolist() if values["seating_visible"] else None, "axis": axis.tolist(), "d_px": d_px,
        "mm_per_px": float(lip_depth / camera.focal_px), "tilt_deg": tilt,
        "box": [int(xs.min()), int(ys.min()), int(xs.max()), int(ys.max())] if len(xs) else None,
        "values": values, "strands": strands,
        "planted": [{"check": p.check, "name": p.name, "size": p.size, "where": where.get(p.check) or lip.tolist()} for p in spec.planted],
    }  # fmt: skip
    truth["holds"] = clearness(truth)
    return truth
