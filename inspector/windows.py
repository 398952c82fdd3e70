"""Close windows around the joints found in the whole photo, and the joints found again in them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from inspector.joints import number
from inspector.regions.network import CLOSE_D_PX, CLOSE_SIDE_PX
from inspector.spots import SPOT, on_body

if TYPE_CHECKING:
    from collections.abc import Sequence

    from inspector.model import Joint, Photo, Points

WHOLE_D = CLOSE_SIDE_PX / CLOSE_D_PX
BEHIND_D, BEYOND_D, ASIDE_D = 1.7, 3.0, 1.1  # what must be visible around a joint
MISJUDGED = 1.4  # factor on D from which a window is taken again
SHARED = 1.15  # a shared window may be this much larger: a little scale for a run of the network
WEAK = 0.45  # what is less sure, and seen close up only, is not judged
SAME_D = 0.6  # lips nearer than this are one joint
SHOWN = ("two-wires", "covered", "sleeved")  # problems of the joint, not of its window


class Window(NamedTuple):
    """A square of the photo: middle (x, y), D and side, all in photo pixels."""

    center: tuple[float, float]
    d_px: float
    extent: float


def _surroundings(joint: Joint) -> Points:
    """Corners (low, high) in the photo of all that must be visible around a joint."""
    lip_s = float(joint.to_frame(np.array([joint.lip]))[0, 0])
    low_s, high_s = -BEHIND_D, lip_s + BEYOND_D
    corners = np.array([(s, t) for s in (low_s, high_s) for t in (-ASIDE_D, ASIDE_D)])
    points = joint.patch.to_photo(joint.from_frame(corners))
    return np.stack([points.min(axis=0), points.max(axis=0)])


def plan_windows(joints: Sequence[Joint], photo: Photo) -> list[Window]:
    """As few windows as show every joint at full scale, in the photo's reading order, spots last.

    A joint too long for a window at full scale gets one of its own, larger; the network's scale
    then follows the window's side.
    """
    height, width = photo.rgb.shape[:2]
    boxes: list[tuple[Points, float]] = []
    for joint in sorted(joints, key=lambda joint: SPOT in joint.problems):
        here, d_px = _clipped(_surroundings(joint), width, height), joint.d_px * joint.patch.step
        for index, (box, other) in enumerate(boxes):
            both = np.stack([np.minimum(box[0], here[0]), np.maximum(box[1], here[1])])
            smaller, larger = min(d_px, other), max(d_px, other)
            if (
                larger < MISJUDGED * smaller
                and (both[1] - both[0]).max() <= SHARED * WHOLE_D * smaller
            ):
                boxes[index] = (both, smaller)
                break
        else:
            boxes.append((here, d_px))
    return [_window(box, d_px, width, height) for box, d_px in boxes]


def _clipped(box: Points, width: int, height: int) -> Points:
    return np.clip(box, 0.0, np.array([width - 1.0, height - 1.0]))


def _window(box: Points, d_px: float, width: int, height: int) -> Window:
    """The window around `box`, moved into the photo where it fits."""
    side = max(float((box[1] - box[0]).max()), WHOLE_D * d_px)
    middle = box.mean(axis=0)
    for axis, size in enumerate((width, height)):
        half = side / 2
        middle[axis] = np.clip(middle[axis], half, size - half) if side < size else size / 2
    return Window((float(middle[0]), float(middle[1])), d_px, side)


def match(coarse: Sequence[Joint], close: Sequence[Joint]) -> tuple[Joint, ...]:
    """One joint for each lip: from the close patch that shows it best, numbered anew.

    A joint found only in the whole photo is kept with the problem "lost", so that it cannot pass
    unseen. What is weakly marked and seen close up only is not judged ("unsure"). Spots stay where
    no joint accounts for them.
    """
    kept: list[Joint] = []
    for joint in sorted(_whole(close), key=_merit, reverse=True):
        twin = next((k for k, other in enumerate(kept) if _same(joint, other)), None)
        if twin is None:
            kept.append(joint if _borne_out(joint, coarse) else _named(joint, "unsure"))
        elif joint.sure >= kept[twin].sure:  # another window does not take away what this one shows
            for problem in (name for name in joint.problems if name in SHOWN):
                kept[twin] = _named(kept[twin], problem)
    for joint in _whole(coarse):
        if not any(_same(joint, other) for other in kept):
            kept.append(_named(joint, "lost"))
    for spot in (one for one in (*close, *coarse) if SPOT in one.problems):
        if not any(_accounts_for(joint, spot) for joint in kept):
            kept.append(spot)
    return number(kept)


def _borne_out(joint: Joint, coarse: Sequence[Joint]) -> bool:
    """Whether a joint of a close patch is well marked, or was found in the whole photo too."""
    return joint.sure >= WEAK or any(_same(joint, other) for other in _whole(coarse))


def _named(joint: Joint, problem: str) -> Joint:
    """`joint` with one more problem."""
    return replace(joint, problems=tuple(dict.fromkeys((*joint.problems, problem))))


def _accounts_for(joint: Joint, spot: Joint) -> bool:
    """Whether `spot` is a sign of `joint`, which may be a spot itself."""
    return _same(joint, spot) if SPOT in joint.problems else on_body(joint, spot)


def _whole(joints: Sequence[Joint]) -> list[Joint]:
    """Those of which more than signs are seen."""
    return [joint for joint in joints if SPOT not in joint.problems]


def misjudged(
    windows: Sequence[Window], close: Sequence[Sequence[Joint]]
) -> list[tuple[int, Window]]:
    """Windows to take again because D there is not what the whole photo suggested, and their index.

    close: the joints found in each window, in the order of `windows`.
    """
    again = []
    for index, (window, joints) in enumerate(zip(windows, close, strict=True)):
        sizes = [joint.d_px * joint.patch.step for joint in joints]
        if not sizes:
            continue
        d_px = float(np.median(sizes))
        if not 1 / MISJUDGED < d_px / window.d_px < MISJUDGED:
            again.append((index, Window(window.center, d_px, WHOLE_D * d_px)))
    return again


def _merit(joint: Joint) -> tuple[bool, float]:
    """Whole before cropped; then how sure, less for a joint near its patch's border."""
    size = np.array(joint.patch.labels.shape[::-1], float)
    place = np.array([joint.end, joint.lip])
    margin = float(np.minimum(place, size - 1 - place).min()) / joint.d_px
    return (not joint.problems, joint.sure * min(1.0, max(0.1, margin / 1.5)))


def _same(one: Joint, other: Joint) -> bool:
    """Whether two joints are one: lips close, as seen in the photo."""
    a = one.patch.to_photo(np.array([one.lip]))[0]
    b = other.patch.to_photo(np.array([other.lip]))[0]
    d_px = min(one.d_px * one.patch.step, other.d_px * other.patch.step)
    return bool(np.hypot(*(a - b)) < SAME_D * d_px)
