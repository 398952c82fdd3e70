"""What is wrong with a joint counts as far as the photo shows it, as it was taken.

Truth follows from the geometry, and `plain_sight` asks whether a thing stands out in the light of
the scene. The camera then blurs, adds noise, clips and compresses: a pit of five pixels in the dark
of a mirror may be gone. So pits, char, dry contact lines, spikes and strands are asked once
more, of the picture in the file. What no longer stands out there is hidden: it is taken off the
marks, and truth calls it so. Nothing is ever added, and the regions stay what they are.

It needs only a scene's files, so that older scenes can be asked anew.
"""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from . import part as pt
from .buffers import Buffers
from .bundle import STRAND_MM
from .limits import SPIKE_MM, STRAND_MM as COUNTS_MM, clearness, faults
from .photo_light import Box, Mask, Picture, areas, linear, middle, shows
from .standing_out import along

Json = dict[str, Any]
BITS = {"hole": pt.HOLE, "char": pt.CHAR, "dry": pt.DRY}
REACH_D = 1.2  # how far beyond the lip a joint's solder lies; ours, no source
AT_TIP_D = 0.2  # how far from its tip a spike's mark may begin
RUN = 2.0  # times the smallest that counts: a strand is seen by its length
# which checks and faults a change of these things touches
TOUCHED = {
    "hole": ("surface", ("hole",)),
    "char": ("insulation-damage", ("char",)),
    "dry": ("wetting", ("wetted", "dry")),
    "spike": ("spike", ("spike",)),
    "strand": ("stray-strand", ("strand",)),
}


def as_taken(
    rgb: NDArray[np.uint8], label: NDArray[np.uint8], marks: NDArray[np.uint16], truth: Json
) -> tuple[NDArray[np.uint16], Json]:
    """Marks and truth of what this photo (h, w, 3), 8 bit sRGB, shows; the inputs stay as they are.

    Of a photo that cannot be used for what it shows of a joint truth says nothing anyway: it is
    returned unchanged.
    """
    if not truth["usable"] or not truth["joints"]:
        return marks, truth
    picture = Picture(linear(rgb), label, marks)
    haze = picture.haze()
    left = marks.copy()
    gone = _faded(picture, haze, truth["joints"], left)
    after, rest = copy.deepcopy(truth), replace(picture, marks=left)
    for k, joint in enumerate(after["joints"]):
        for name, lost in gone[k].items():
            kept = [a for a in areas(rest, name, BITS[name]) if _owner(*a, truth["joints"]) == k]
            _bring_down(joint, name, lost, kept)
        changed = set(gone[k])
        if _spike_fades(joint, picture, left, haze):
            changed.add("spike")
        if _strands_fade(joint, picture, haze):
            changed.add("strand")
        _judge_anew(joint, changed)
    return left, after


def _faded(
    picture: Picture, haze: float, joints: list[Json], left: NDArray[np.uint16]
) -> list[dict[str, list[int]]]:
    """Per joint and thing the areas (pixels) that do not stand out; they are taken off `left`."""
    gone: list[dict[str, list[int]]] = [{} for _ in joints]
    for name, bit in BITS.items():
        for box, mine in areas(picture, name, bit):
            k = _owner(box, mine, joints)
            if not shows(picture, name, box, mine, haze, joints[k]["d_px"]):
                left[box] &= np.where(mine, ~np.uint16(bit), np.uint16(0xFFFF))
                gone[k].setdefault(name, []).append(int(mine.sum()))
    return gone


def _bring_down(joint: Json, name: str, lost: list[int], kept: list[tuple[Box, Mask]]) -> None:
    """A joint's values without the areas `lost` (pixels), from those that are kept."""
    values = joint["values"]
    if name == "dry":
        _wetted(values, lost, [int(mine.sum()) for _, mine in kept])
        return
    left = max((_side_d(*area, joint) for area in kept), default=0.0)
    values[f"{name}_D"] = min(values[f"{name}_D"], left)  # an area may be its neighbour's
    values["hole_hidden"] |= name == "hole" and not kept


def _owner(box: Box, mine: Mask, joints: list[Json]) -> int:
    """The joint that lies nearest: its line from the insulation's end to into the terminal."""
    at = middle(box, mine)
    away = []
    for joint in joints:
        end = np.asarray(joint["end"], float)
        tip = np.asarray(joint["lip"]) + REACH_D * joint["d_px"] * np.asarray(joint["axis"])
        way = tip - end
        share = np.clip((at - end) @ way / (way @ way + 1e-9), 0.0, 1.0)
        away.append(float(np.hypot(*(at - end - share * way))) / joint["d_px"])
    return int(np.argmin(away))


def _wetted(values: Json, lost: list[int], kept: list[int]) -> None:
    """Bring wetting down to the dry areas that are left: pixels of each gone and each kept.

    The mark is as wide everywhere, so that its area says how long a stretch is.
    """
    if values["wetted"] is None:
        return
    dry, longest = 1.0 - values["wetted"], values["dry_stretch_conductor_diameters"]
    widest = max(lost + kept)
    values["dry_hidden"] = values.get("dry_hidden", 0.0) + longest * sum(lost) / widest
    values["dry_stretch_conductor_diameters"] = longest * max(kept, default=0) / widest
    counted = 1.0 - dry * sum(lost) / sum(lost + kept)
    values["wetted"] = None if counted <= 0.0 else (1.0 - dry) / counted


def _spike_fades(joint: Json, picture: Picture, left: NDArray[np.uint16], haze: float) -> bool:
    """Shorten the longest spike to what shows of it; whether it was. Under what counts it hides.

    Of a spike that does not stand out the mark is taken off `left`.
    """
    values, d_px = joint["values"], joint["d_px"]
    tips = [np.asarray(p["where"]) for p in joint["planted"] if p["name"] == "spike"]
    if values["spike_mm"] == 0.0 or not tips:
        return False
    found = [(_away(area, tips[0]), area) for area in areas(picture, "spike", pt.SPIKE)]
    near, area = min(found, key=lambda pair: pair[0], default=(np.inf, None))
    shown = 0.0
    if area is not None and near <= AT_TIP_D * d_px:
        box, mine = area
        if shows(picture, "spike", box, mine, haze, d_px):
            shown = _long_px(mine) * joint["mm_per_px"]
        else:
            left[box] &= np.where(mine, ~np.uint16(pt.SPIKE), np.uint16(0xFFFF))
    if shown >= values["spike_mm"]:
        return False
    values["spike_mm"] = shown if shown >= SPIKE_MM else 0.0
    values["spike_hidden"] |= shown < SPIKE_MM
    return True


def _away(area: tuple[Box, Mask], place: NDArray[np.float64]) -> float:
    """Distance (pixels) of a place from the nearest pixel of an area."""
    box, mine = area
    at = np.argwhere(mine)[:, ::-1] + (box[1].start, box[0].start)
    return float(np.linalg.norm(at - place, axis=1).min())


def _long_px(mine: Mask) -> float:
    """An area's length, from pixel edge to pixel edge."""
    points = np.argwhere(mine).astype(np.float32)
    _, (high, wide), _ = cv2.minAreaRect(points)
    return float(max(high, wide)) + 1.0


def _side_d(box: Box, mine: Mask, joint: Json) -> float:
    """An area's longer side along or across the joint's axis, D."""
    ys, xs = np.nonzero(mine)
    at = np.stack([xs + box[1].start, ys + box[0].start], -1) - np.asarray(joint["end"])
    axis = np.asarray(joint["axis"], float)
    sides = np.ptp(at @ axis), np.ptp(at @ np.array([-axis[1], axis[0]]))
    return float(max(sides) / joint["d_px"])


def _strands_fade(joint: Json, picture: Picture, haze: float) -> bool:
    """Shorten what is seen of each strand to what stands out; whether any was shortened."""
    high, wide = picture.label.shape
    empty = np.zeros((1, 1), np.uint8)
    buffers = Buffers(picture.light, picture.label, picture.marks, empty, empty)  # type: ignore[arg-type]
    faded = False
    for strand in joint["strands"]:
        path = np.asarray(strand["path"], float).reshape(-1, 2)
        if strand["visible_mm"] <= 0.0 or len(path) < 2:
            continue
        per_mm = 1.0 / joint["mm_per_px"]
        half = np.full(len(path), per_mm * STRAND_MM * (1.5 if strand["tinned"] else 1.0) / 2)
        # from one flank: with both asked, strands that a careful eye finds were lost in the noise
        stands = along(buffers, path, half, RUN * COUNTS_MM * per_mm, haze, both=False)
        inside = ((path > 0) & (path < (wide - 1, high - 1))).all(axis=1)
        step = np.linalg.norm(np.diff(path, axis=0), axis=1)
        shown = stands & inside
        share = step[shown[1:] & shown[:-1]].sum() / max(step.sum(), 1e-9)
        most = float(strand["length_mm"] * share)
        if most < strand["visible_mm"]:
            strand["visible_mm"], faded = most, True
    return faded


def _judge_anew(joint: Json, changed: set[str]) -> None:
    holds, apart = clearness(joint), faults(joint)
    for name in changed:
        check, parts = TOUCHED[name]
        joint["holds"][check] = holds[check]
        for part in parts:
            if not (joint["faults"][part] == "not-seen" and apart[part] == "sound"):
                joint["faults"][part] = apart[part]
        for planted in joint["planted"]:
            if planted["check"] == check and planted["name"] != "melted housing":
                planted["visible"] = holds[check] in ("near", "bad")
