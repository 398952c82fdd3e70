"""Marks and labels that nobody could see in the picture are taken off.

A pit in a black mirror, black char, a tinned strand that lies on tinned wire, a spike before solder
of its own brightness: what does not stand out (see standing_out) is no pit, char, strand or spike
in the maps, and truth calls it hidden.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from . import part as pt
from .buffers import Buffers
from .bundle import STRAND_MM
from .joint import JointModel
from .joint_frame import seen
from .limits import SPIKE_MM, STRAND_MM as COUNTS_MM
from .standing_out import FEWEST, RING_PX, along, haze_of, singular, spot_differs
from .view import Camera
from .wire_parts import StrandTruth

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
STRAND_SLACK_MM = 0.1  # a strand's own radius, and a little
# Of a line or a spike what has to stand out: ours, no source.
BODY = 0.3  # of a spike's length: from there on it stands free of the solder
RUN = 2.0  # times the smallest that counts: a line is seen by its length
ENOUGH = 0.25  # of that part has to stand out


def only_seen(buffers: Buffers, joints: Sequence[JointModel], camera: Camera) -> Buffers:
    """The buffers without those holes, chars, strands and spikes that do not stand out."""
    marks, label, joint = buffers.marks.copy(), buffers.label.copy(), buffers.joint.copy()
    for bit, of in ((pt.HOLE, pt.SOLDER), (pt.CHAR, pt.INSULATION)):
        bearing = (marks & bit > 0) & (buffers.label == of)
        beside = (buffers.label == of) & ~bearing
        areas, count = ndimage.label(bearing, np.ones((3, 3)))
        for k, box in enumerate(ndimage.find_objects(areas, count), 1):
            wide = tuple(slice(max(0, s.start - RING_PX - 1), s.stop + RING_PX + 1) for s in box)
            mine = areas[wide] == k
            haze = haze_of(buffers, int(buffers.joint[wide][mine][0]))
            shows = spot_differs(buffers.radiance[wide], mine, beside[wide], haze)
            if shows and bit == pt.HOLE:
                shows = _is_singular(buffers, areas == k, beside)
            if not shows:
                marks[wide] &= np.where(mine, ~np.uint16(bit), np.uint16(0xFFFF))
    for model in joints:
        for strand in model.strands:
            _unlabel(buffers, label, marks, joint, _camouflaged(strand, model, camera, buffers))
        for spike in model.spikes:
            mine = _pixels_of(spike, model, camera, buffers)
            if not spike_shows(spike, model, camera, buffers):
                marks[mine] &= ~np.uint16(pt.SPIKE)
    return replace(buffers, marks=marks, label=label, joint=joint)


def strand_shows(
    strand: StrandTruth, model: JointModel, camera: Camera, buffers: Buffers
) -> tuple[Mask, Array]:
    """Which points of a strand's path stand out unhidden; its half width there, pixels."""
    xy, depth = camera.project(strand.path)
    per_mm = camera.focal_px / depth
    half = per_mm * STRAND_MM * (1.5 if strand.tinned else 1.0) / 2
    haze = haze_of(buffers, model.parts[0].joint)
    shows = along(buffers, xy, half, RUN * COUNTS_MM * float(np.median(per_mm)), haze)
    return shows & seen(camera, buffers, strand.path, STRAND_SLACK_MM), half


def spike_shows(base_tip: Array, model: JointModel, camera: Camera, buffers: Buffers) -> bool:
    """Whether the free part of a spike stands out from what lies beside it."""
    (base, tip), depth = camera.project(base_tip)
    mine = _pixels_of(base_tip, model, camera, buffers)
    length = float(np.linalg.norm(tip - base))
    if length < FEWEST or not mine.any():
        return False
    ahead = (tip - base) / length
    off = np.argwhere(mine)[:, ::-1] - base
    s, t = off @ ahead, off @ np.array([-ahead[1], ahead[0]])
    steps = np.arange(np.ceil(BODY * length), np.ceil(length))
    rows = [t[np.abs(s - k) < 0.75] for k in steps]
    known = [
        (k, row.mean(), max(np.ptp(row) / 2, 0.5))
        for k, row in zip(steps, rows, strict=True)
        if len(row)
    ]
    if len(known) < FEWEST:
        return False
    at, aside, half = np.array(known).T
    xy = base + at[:, None] * ahead + aside[:, None] * np.array([-ahead[1], ahead[0]])
    run = SPIKE_MM * float(camera.focal_px / depth[0])
    haze = haze_of(buffers, model.parts[0].joint)
    # it is as thick as it is long, so an outline on one side shows it
    return bool(along(buffers, xy, half, run, haze, both=False).mean() >= ENOUGH)


def _pixels_of(base_tip: Array, model: JointModel, camera: Camera, buffers: Buffers) -> Mask:
    """The joint's spike pixels that are nearer to this spike than to its others."""
    mine = (buffers.joint == model.parts[0].joint) & (buffers.marks & pt.SPIKE > 0)
    if len(model.spikes) < 2 or not mine.any():
        return mine
    at = np.argwhere(mine)[:, ::-1].astype(float)
    away = np.stack([_from_line(at, camera.project(k)[0]) for k in model.spikes])
    which = next(k for k, other in enumerate(model.spikes) if other is base_tip)
    mine[mine] = away.argmin(axis=0) == which
    return mine


def _from_line(points: Array, ends: Array) -> Array:
    """Distance of points (n, 2) from the stretch between two ends (2, 2)."""
    way = ends[1] - ends[0]
    along_it = np.clip((points - ends[0]) @ way / (way @ way + 1e-9), 0, 1)
    return np.linalg.norm(points - ends[0] - along_it[:, None] * way, axis=1)


def _camouflaged(
    strand: StrandTruth, model: JointModel, camera: Camera, buffers: Buffers
) -> Mask | None:
    """A strand's pixels that do not stand out; None if all do."""
    shows, half = strand_shows(strand, model, camera, buffers)
    if shows.all():
        return None
    xy, _ = camera.project(strand.path)
    wide = 2 * int(np.ceil(half.max())) + 3
    lost, kept = (_drawn(xy, k, wide, buffers.label.shape) for k in (~shows, shows))
    return lost & ~kept & (buffers.label == pt.STRAND)


def _drawn(xy: Array, which: Mask, wide: int, shape: tuple[int, ...]) -> Mask:
    """The stretches of a line between points that are both chosen, and single points."""
    canvas = np.zeros(shape, np.uint8)
    places = [(int(x), int(y)) for x, y in np.clip(np.rint(xy), -9999, 9999)]
    for a, b, both in zip(places[:-1], places[1:], which[:-1] & which[1:], strict=True):
        if both:
            cv2.line(canvas, a, b, 1, wide)
    for a in np.flatnonzero(which):
        cv2.circle(canvas, places[a], wide // 2, 1, -1)
    return canvas > 0


def _unlabel(
    buffers: Buffers, label: NDArray[np.uint8], marks: NDArray[np.uint16],
    joint: NDArray[np.uint8], gone: Mask | None,
) -> None:  # fmt: skip
    """Give the pixels `gone` to whatever lies nearest beside them."""
    if gone is None or not gone.any():
        return
    rows, columns = np.nonzero(gone)
    box = np.s_[
        max(0, rows.min() - 9) : rows.max() + 10, max(0, columns.min() - 9) : columns.max() + 10
    ]
    here, strand = gone[box], buffers.label[box] == pt.STRAND
    if strand.all():
        return
    y, x = ndimage.distance_transform_edt(strand, return_distances=False, return_indices=True)
    for field in (label, marks, joint):
        part = field[box]
        part[here] = part[y[here], x[here]]


def _is_singular(buffers: Buffers, mine: Mask, beside: Mask) -> bool:
    """Whether a pit is not one of many such dots on the solder of its joint."""
    joint = int(np.median(buffers.joint[mine]))
    solder = beside & (buffers.joint == joint)
    rows, columns = np.nonzero(solder | mine)
    box = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    haze = haze_of(buffers, joint)
    return singular(buffers.radiance[box].astype(float), mine[box], solder[box], haze)
