"""Training windows: where to look in a scene, and the scene seen through that window.

Two windows in three are what the close pass sees (D about 128 pixels), one what the first pass sees
(the whole frame, D 12 to 50 pixels), turned, mirrored, sheared and in mild perspective.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from inspector.model import OPINIONS, Mark, Region
from inspector.regions.training.labels import (
    IGNORED,
    STRAND_SHARE,
    Bits,
    Picture,
    shrink_bits,
    shrink_labels,
    shrink_picture,
)
from inspector.regions.training.scenes import JointTruth, Scene

MOST_JOINTS = 8
LARGEST_GAIN = 2.0  # the close pass never magnifies by more
_CLOSE_SHARE = 0.68  # what is measured is seen by the close pass
_RARE_SHARE = 0.4  # of the close windows look at a rare thing, if the scene has one
_RARE_MARKS = (Mark.DRY, Mark.HOLE, Mark.SPIKE, Mark.EMBED, Mark.BRIDGE, Mark.SHORT)
_JITTER_D = 1.0  # of a close window; most of it shows the whole joint
# of the close windows lie as the look along a joint does (decision 0017); ours, no source
_ALONG_SHARE = 0.2
_ALONG_SPREAD = (0.05, 0.1, 0.3)  # of turn (radians), scale (natural log), middle (D)
_ALONG_D_PX = 128.0  # as inspector.regions.network.CLOSE_D_PX
_SHRINK_FROM = 0.8  # below this scale, average before resampling
_BORDERS = (cv2.BORDER_REPLICATE, cv2.BORDER_REFLECT_101, cv2.BORDER_CONSTANT)


@dataclass(frozen=True, slots=True)
class Crop:
    """A square window: rgb (S, S, 3), labels (S, S) with IGNORED, bits (S, S).

    peaks (MOST_JOINTS, 3, 4): x, y, D, seen; D in pixels of the window; rows unused are zero.
    faults (MOST_JOINTS, OPINIONS): 1 has it, 0 is free of it, NEAR or UNKNOWN otherwise.
    """

    rgb: Picture
    labels: Picture
    bits: NDArray[np.int16]
    peaks: NDArray[np.float32]
    faults: NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Aim:
    """Centre in the scene and scale (window pixels for one scene pixel)."""

    x: float
    y: float
    scale: float
    turn: float | None = None  # radians that lay the joint along the rows; None: any


def _middle(joint: JointTruth) -> tuple[float, float] | None:
    seen = joint.peaks[joint.peaks[:, 2] > 0, :2]
    return None if len(seen) == 0 else (float(seen[:, 0].mean()), float(seen[:, 1].mean()))


def _rare(scene: Scene, rng: Generator) -> tuple[float, float] | None:
    """A place in the scene with a strand or a rare mark, if it has any.

    The kind is drawn before the place: a pin hole is looked at as often as a large bridge, a strand
    as often as all marks together.
    """
    strand = scene.labels == Region.STRAND
    held = int(np.bitwise_or.reduce(scene.bits, axis=None))
    marks = [m for m in _RARE_MARKS if (held >> int(m)) & 1]
    if strand.any() and (not marks or rng.random() < 0.5):  # noqa: PLR2004 - even chance
        flat = np.flatnonzero(strand)
    elif marks:
        flat = np.flatnonzero(scene.bits & (1 << int(marks[rng.integers(len(marks))])))
    else:
        return None
    y, x = np.unravel_index(int(flat[rng.integers(len(flat))]), scene.labels.shape)
    return float(x), float(y)


def aim(scene: Scene, rng: Generator, size: int) -> Aim:
    """Choose a window: near a joint, the whole frame, or anywhere."""
    height, width = scene.labels.shape
    whole = size / max(height, width)
    shown = [j for j in scene.joints if _middle(j) is not None]
    close = rng.random() < _CLOSE_SHARE
    if not shown:
        top = max(whole * 1.3, min(1.6, 4.0 * whole))
        scale = float(np.exp(rng.uniform(np.log(whole * 0.8), np.log(top))))
        return _somewhere(scene, rng, min(scale, LARGEST_GAIN), whole)
    joint = shown[rng.integers(len(shown))]
    middle = _middle(joint)
    if close and rng.random() < _ALONG_SHARE and (lying := _along(joint, rng)) is not None:
        return lying
    if close and rng.random() < _RARE_SHARE and (rare := _rare(scene, rng)) is not None:
        middle = rare
    if close and middle is not None:
        usual = rng.random() < 0.8  # noqa: PLR2004 - the rest is wider
        d_px = np.exp(rng.uniform(*np.log((85, 165) if usual else (45, 190))))
        jitter = rng.uniform(-_JITTER_D, _JITTER_D, 2) * joint.d_px
        scale = min(float(d_px) / joint.d_px, LARGEST_GAIN)
        return Aim(middle[0] + jitter[0], middle[1] + jitter[1], scale)
    scale = whole * float(np.exp(rng.uniform(np.log(0.75), np.log(1.6))))
    largest = max(j.d_px for j in shown)
    scale = float(np.clip(scale, 10 / largest, max(60 / largest, 0.6 * whole)))
    return _somewhere(scene, rng, min(scale, LARGEST_GAIN), whole)


def _along(joint: JointTruth, rng: Generator) -> Aim | None:
    """A window with the joint's axis along its rows; None unless end and lip are seen."""
    end, lip = joint.peaks[:2]
    if end[2] <= 0 or lip[2] <= 0:
        return None
    turn, zoom, off = _ALONG_SPREAD
    x, y = (end[:2] + lip[:2]) / 2 + rng.normal(0, off, 2) * joint.d_px
    ahead = float(np.arctan2(lip[1] - end[1], lip[0] - end[0]))
    scale = float(_ALONG_D_PX / joint.d_px * np.exp(rng.normal(0, zoom)))
    return Aim(float(x), float(y), min(scale, LARGEST_GAIN), rng.normal(0, turn) - ahead)


def _somewhere(scene: Scene, rng: Generator, scale: float, whole: float) -> Aim:
    """Anywhere, but so that the window lies mostly within the scene."""
    height, width = scene.labels.shape
    room = 0.08 + 0.5 * max(0.0, 1 - whole / scale)
    x, y = 0.5 + rng.uniform(-room, room, 2)
    return Aim(float(width * x), float(height * y), scale)


def _matrix(at: Aim, rng: Generator, size: int) -> NDArray[np.float64]:
    """Scene to window, (3, 3); pixel centres at integers."""
    turn = rng.uniform(0, 2 * np.pi)
    if rng.random() < 0.5:  # noqa: PLR2004 - half the windows nearly upright
        turn = rng.integers(4) * np.pi / 2 + rng.normal(0, 0.12)
    stretch = np.exp(rng.normal(0, 0.05))
    mirror = rng.choice((-1.0, 1.0))
    if at.turn is not None:
        turn = at.turn * mirror + (np.pi if mirror < 0 else 0.0)  # it always points ahead
    cos, sin = np.cos(turn), np.sin(turn)
    linear = np.array([[cos, -sin], [sin, cos]]) @ np.array(
        [[stretch * mirror, rng.normal(0, 0.06)], [0.0, 1 / stretch]]
    )
    matrix = np.eye(3)
    matrix[:2, :2] = linear * at.scale
    matrix[:2, 2] = -matrix[:2, :2] @ (at.x, at.y)
    if rng.random() < 0.35:  # noqa: PLR2004 - mild perspective
        tilt = np.eye(3)
        tilt[2, :2] = rng.normal(0, 0.12, 2) / size
        matrix = tilt @ matrix
    middle = np.eye(3)
    middle[:2, 2] = (size - 1) / 2
    return np.asarray(middle @ matrix)


def plain_matrix(at: Aim, size: int) -> NDArray[np.float64]:
    """Scene to window without any distortion, (3, 3)."""
    middle = (size - 1) / 2
    return np.array(
        [
            [at.scale, 0, middle - at.scale * at.x],
            [0, at.scale, middle - at.scale * at.y],
            [0, 0, 1],
        ]
    )


def _apply(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    out = np.concatenate([points, np.ones((len(points), 1))], 1) @ matrix.T
    return np.asarray(out[:, :2] / out[:, 2:])


def _source(
    scene: Scene, matrix: NDArray[np.float64], size: int, scale: float
) -> tuple[Picture, Picture, Picture, Bits, NDArray[np.float64]]:
    """The part of the scene that the window needs, averaged down, and its matrix to the window.

    Picture, labels, share of strands (0..255), bits, matrix (3, 3).
    """
    edge = float(size)
    corners = np.array([[-1.0, -1.0], [edge, -1.0], [edge, edge], [-1.0, edge]])
    inside = _apply(np.asarray(np.linalg.inv(matrix), np.float64), corners)
    height, width = scene.labels.shape
    margin = 2 + 2 / scale
    x0, y0 = np.clip(np.floor(inside.min(0) - margin), 0, (width - 2, height - 2)).astype(int)
    x1, y1 = np.ceil(inside.max(0) + margin).astype(int)
    x1, y1 = min(max(x1, x0 + 2), width), min(max(y1, y0 + 2), height)
    rgb, labels = scene.rgb[y0:y1, x0:x1], scene.labels[y0:y1, x0:x1]
    strand = (labels == Region.STRAND).view(np.uint8) * np.uint8(255)
    bits = scene.bits[y0:y1, x0:x1]
    w, h = x1 - x0, y1 - y0
    step_x = step_y = 1.0
    if scale < _SHRINK_FROM:
        small_w, small_h = max(1, round(w * scale)), max(1, round(h * scale))
        step_x, step_y = w / small_w, h / small_h
        rgb = shrink_picture(rgb, small_w, small_h)
        labels = shrink_labels(labels, small_w, small_h)
        strand = shrink_picture(strand, small_w, small_h)
        bits = shrink_bits(bits, small_w, small_h)
    place = np.array(
        [[step_x, 0, x0 + step_x / 2 - 0.5], [0, step_y, y0 + step_y / 2 - 0.5], [0, 0, 1]]
    )
    return rgb, labels, strand, bits, matrix @ place


def cut(scene: Scene, matrix: NDArray[np.float64], size: int, scale: float, border: int) -> Crop:
    """The scene through a window; what lies outside it is IGNORED."""
    rgb, labels, strand, bits, to_window = _source(scene, matrix, size, scale)
    square = (size, size)
    blank = (127, 127, 127)
    out = cv2.warpPerspective(
        rgb, to_window, square, flags=cv2.INTER_LINEAR, borderMode=border, borderValue=blank
    )
    new = cv2.warpPerspective(
        labels, to_window, square, flags=cv2.INTER_NEAREST, borderValue=(IGNORED,)
    )
    if strand.any():  # nearest would break thin ones
        soft = cv2.warpPerspective(strand, to_window, square, flags=cv2.INTER_LINEAR)
        least = (2 * STRAND_SHARE if scale > 1 else STRAND_SHARE) * 255
        new[(soft >= least) & (new != IGNORED)] = Region.STRAND
    marks = np.zeros(square, np.int16)
    if bits.any():
        turned = cv2.warpPerspective(
            bits.view(np.int16), to_window, square, flags=cv2.INTER_NEAREST
        )
        marks = np.asarray(turned, np.int16)
    peaks = np.zeros((MOST_JOINTS, 3, 4), np.float32)
    faults = np.full((MOST_JOINTS, OPINIONS), -1, np.int8)
    for i, joint in enumerate(scene.joints[:MOST_JOINTS]):
        at = _apply(matrix, joint.peaks[:, :2].astype(float))
        inside = (at > -1).all(1) & (at < size).all(1)
        peaks[i, :, :2] = at
        peaks[i, :, 2] = joint.d_px * scale
        peaks[i, :, 3] = joint.peaks[:, 2] * inside
        faults[i] = joint.faults
    return Crop(np.asarray(out, np.uint8), np.asarray(new, np.uint8), marks, peaks, faults)


def random_crop(scene: Scene, rng: Generator, size: int) -> Crop:
    """One training window of a scene."""
    at = aim(scene, rng, size)
    border = _BORDERS[rng.integers(len(_BORDERS))]
    return cut(scene, _matrix(at, rng, size), size, at.scale, border)
