"""Where solder meets other metal in a picture: the contact line that counts, and its dry mark.

A contact line counts where a person could judge it: it shows, solder lies at it, and there is
metal on its other side. Solder that fades into tinned strands has no line to judge; solder that
stops short inside a cup does not reach the lip, so the lip is no contact line (that is the
business of solder-fill). Not wetted is a stretch where the solder ends in a rounded edge or a seam.
The dry mark lies on both sides of just those stretches, where a seam stands out: solder that
stops at a wall without a shadow looks wetted, and only a probe could tell.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from . import part as pt
from .buffers import Buffers
from .joint import JointModel
from .joint_frame import Mask, frame, line_slack_mm, seen
from .standing_out import along, haze_of
from .view import Camera

Array = NDArray[np.float64]
BAND_D = 0.05  # the mark's width on each side of the line
BESIDE_D = 0.06  # how far from a wetted line its solder and its other metal show
SEAM_D = 0.15  # how far solder may have drawn back from the metal that it did not wet
# A seam's looks: ours, no source.
SEAM_HALF_D = (0.015, 0.04)  # half the width of the shadow under an edge that did not wet
RUN_D = 0.2  # a seam is seen by its length
TRIES = 9  # places beside the line where a seam is looked for
SHORTEST_D = 0.08  # a dry stretch that is shorter cannot be told from a wave of the solder
BREAK = 5.0  # a step so many times the usual one parts a line in two
BODIES = ("fillet", "pool", "recessed solder")
GAP_D = 0.2  # how far from a loose bead the wall shows that it did not take to
UNSEEN = 9.0  # conductor diameters that did not wet: that many, where none of them shows


@dataclass(frozen=True)
class ShownLine:
    """A contact line in the picture: pixels (n, 2), depths in mm, wet and counted (n,).

    faint: would count as dry, but no seam stands out there.
    """

    xy: Array
    depth_mm: Array
    wet: Mask
    counts: Mask
    faint: Mask


def shown_lines(model: JointModel, camera: Camera, buffers: Buffers) -> list[ShownLine]:
    """Each contact line of a joint, and which of its points count."""
    d_mm, d_px = model.spec.d_mm, frame(model, camera)[2]
    haze = haze_of(buffers, model.parts[0].joint)
    own = buffers.joint == model.parts[0].joint
    solder = _distance(own & (buffers.label == pt.SOLDER))
    metal = _distance(own & np.isin(buffers.label, (pt.CONDUCTOR, pt.TERMINAL)))
    bodies = [p.vertices for p in model.parts if p.name in BODIES]
    lines = []
    for line in model.lines:
        if len(line.points) < 3 or not bodies:
            continue
        points, wet, whole = _finer(line.points, line.wet)
        touching = cKDTree(np.concatenate(bodies)).query(points)[0] < SEAM_D * d_mm
        visible = seen(camera, buffers, points, line_slack_mm(d_mm)) & whole
        xy, depth = camera.project(points)
        h, w = buffers.label.shape
        x, y = np.clip(np.rint(xy).astype(int), 0, [w - 1, h - 1]).T
        beside = np.where(wet, BESIDE_D, SEAM_D) * d_px + 1
        judged = (solder[y, x] <= beside) & ((metal[y, x] <= beside) | ~wet)
        counts = ndimage.median_filter(visible & touching & judged, 9, mode="nearest")
        counts &= visible
        short = _short(xy, counts & ~wet, SHORTEST_D * d_px)
        counts &= ~short
        plain = wet | ~counts | _seam(buffers, xy, counts & ~wet, d_px, haze)
        lines.append(ShownLine(xy, depth, wet, counts & plain, counts & ~plain))
    return lines


def mark_dry(buffers: Buffers, joints: list[JointModel], camera: Camera) -> Buffers:
    """The buffers with the mark DRY along every stretch that counts and did not wet."""
    marks = buffers.marks.copy()
    for model in joints:
        d_px = frame(model, camera)[2]
        dry = [(s.xy[k], s.depth_mm[k]) for s in shown_lines(model, camera, buffers)
               for k in [s.counts & ~s.wet]]  # fmt: skip
        ys, xs = np.nonzero(bead_edge(model, buffers, d_px))
        dry.append((np.stack([xs, ys], -1).astype(float), buffers.depth[ys, xs].astype(float)))
        if not sum(len(d) for _, d in dry):
            continue
        xy, depth = np.concatenate([a for a, _ in dry]), np.concatenate([b for _, b in dry])
        room = BAND_D * d_px + 2
        low = np.maximum(np.floor(xy.min(axis=0) - room).astype(int), 0)
        high = np.ceil(xy.max(axis=0) + room).astype(int) + 1
        box = np.s_[low[1] : high[1], low[0] : high[0]]
        rows, columns = np.indices(marks[box].shape)
        away, nearest = cKDTree(xy - low).query(np.stack([columns, rows], -1))
        behind = buffers.depth[box] - depth[nearest]
        slack = line_slack_mm(model.spec.d_mm)
        band = (away <= max(BAND_D * d_px, 1.0)) & (behind > -slack)
        band &= behind < slack + SEAM_D * model.spec.d_mm
        band &= buffers.joint[box] == model.parts[0].joint
        band &= np.isin(buffers.label[box], (pt.SOLDER, pt.CONDUCTOR, pt.TERMINAL))
        marks[box] |= np.where(band, pt.DRY, 0).astype(np.uint16)
    return replace(buffers, marks=marks)


def bead_edge(model: JointModel, buffers: Buffers, d_px: float) -> Mask:
    """Pixels (h, w) of a loose bead's outline that lie along the cup which it did not wet."""
    own = buffers.joint == model.parts[0].joint
    solder = own & (buffers.label == pt.SOLDER)
    wall = own & (buffers.label == pt.TERMINAL)
    if model.spec.bead <= 0 or not solder.any() or not wall.any():
        return np.zeros(own.shape, bool)
    inner = cv2.erode(solder.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    edge = solder & ~inner & (_distance(wall) <= max(2.0, GAP_D * d_px))
    return edge if model.spec.cup.cut == "closed" else edge & (buffers.marks & pt.MOUTH > 0)


def _seam(buffers: Buffers, xy: Array, chosen: Mask, d_px: float, haze: float) -> Mask:
    """Where a line darker or brighter than both its sides runs along the chosen stretches."""
    found = np.zeros(len(xy), bool)
    reach = max(1, round(SEAM_D / 2 * d_px))
    offsets = np.unique(np.linspace(-reach, reach, TRIES).round())
    stretches, count = ndimage.label(chosen)
    for k in range(1, count + 1):
        here = np.flatnonzero(stretches == k)
        if len(here) < 2:
            continue
        points = xy[here]
        ahead = np.gradient(points, axis=0)
        normal = np.stack([-ahead[:, 1], ahead[:, 0]], -1)
        normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-9
        for off, wide in product(offsets, SEAM_HALF_D):
            half = np.full(len(here), max(0.7, wide * d_px))
            found[here] |= along(buffers, points + off * normal, half, RUN_D * d_px, haze)
    return found


def _short(xy: Array, chosen: Mask, least_px: float) -> Mask:
    """The points of those chosen stretches that are shorter than `least_px`."""
    stretches, count = ndimage.label(chosen)
    step = np.concatenate([[0], np.linalg.norm(np.diff(xy, axis=0), axis=1)])
    long = ndimage.sum_labels(step, stretches, np.arange(count + 1)) >= least_px
    return chosen & ~long[stretches]


def _distance(mask: Mask) -> NDArray[np.floating]:
    """Distance of each pixel from the nearest one of `mask`; far everywhere if it is empty."""
    if not mask.any():
        return np.full(mask.shape, np.inf)
    return cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)


def _finer(points: Array, wet: Mask) -> tuple[Array, Mask, Mask]:
    """A contact line at four times its points, and where it is whole: not across its breaks."""
    t = np.linspace(0, len(points) - 1, 4 * len(points))
    index = np.arange(len(points))
    fine = np.stack([np.interp(t, index, points[:, k]) for k in range(3)], -1)
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    whole = step <= BREAK * np.median(step)
    return fine, wet[np.rint(t).astype(int)], whole[np.minimum(t.astype(int), len(whole) - 1)]


def wetting(
    model: JointModel, camera: Camera, buffers: Buffers
) -> tuple[dict[str, float | None], list[float] | None]:
    """Wetted share of the contact line that counts, its longest dry stretch; where that is.

    dry_hidden: length that did not wet and does not show it, in conductor diameters.
    """
    spec = model.spec
    total = wet = longest = hidden = 0.0
    where: list[float] | None = None
    scale = camera.focal_px / camera.project(model.lip)[1]
    for line in shown_lines(model, camera, buffers):
        step = np.concatenate([[0], np.linalg.norm(np.diff(line.xy, axis=0), axis=1)])
        step[step > 0.5 * spec.d_mm * scale] = 0
        total += step[line.counts].sum()
        hidden += step[line.faint].sum()
        wet += step[line.counts & line.wet].sum()
        run, first = 0.0, 0
        for k, (s, dry) in enumerate(zip(step, line.counts & ~line.wet, strict=True)):
            if not dry:
                run, first = 0.0, k + 1
                continue
            run += s
            if run > longest:
                longest, where = run, line.xy[(first + k) // 2].tolist()
    edge, count = ndimage.label(bead_edge(model, buffers, spec.d_mm * scale), np.ones((3, 3)))
    for k in range(1, count + 1):
        y, x = np.nonzero(edge == k)
        total += len(x)
        if len(x) > longest:
            longest, where = float(len(x)), [float(np.median(x)), float(np.median(y))]
    if spec.bead > 0 and not count:
        hidden = UNSEEN * 2 * spec.core_mm * scale
    values: dict[str, float | None] = {
        "wetted": None, "dry_stretch_conductor_diameters": None,
        "dry_hidden": float(hidden / (2 * spec.core_mm * scale)),
    }  # fmt: skip
    if total < 0.15 * spec.d_mm * scale:
        return values, None
    values["wetted"] = float(wet / total)
    values["dry_stretch_conductor_diameters"] = float(longest / (2 * spec.core_mm * scale))
    return values, where
