"""From a photo to patches: run the network on the whole photo, then close by each joint.

The runtime is onnxruntime: at 640 x 640 on two cores it takes half the time of OpenCV's dnn for the
same answer. Pictures are averaged down as 8-bit values; only the network's input is float.
Steps (photo pixels for one patch pixel) are multiples of 1/32 and windows multiples of 32 patch
pixels, so that a window is a whole number of photo pixels and positions carry over exactly.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import onnxruntime
from numpy.typing import NDArray

from inspector.errors import InstallError
from inspector.model import Faults, Mark, Patch, Photo
from inspector.regions.capsule import CELL_PX

NETWORK = Path(__file__).with_name("network.onnx")
SIDE_PX = 640  # longest side of the whole photo's patch
FINER_SIDE_PX = 832  # where nothing or only small joints are found in that
CLOSE_SIDE_PX = 704  # longest side of a close patch
CLOSE_D_PX = 128.0  # what D spans in a close patch
LARGEST_GAIN = 2.0  # a close patch magnifies by no more
_GRID = 32  # sides of the network's input are multiples of it
FAULTS = "faults"  # the output that is the second opinion
_THREADS = 2

Pixels = NDArray[np.uint8]
Floats = NDArray[np.float32]


@lru_cache(maxsize=2)
def _session(path: Path) -> onnxruntime.InferenceSession:
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = _THREADS
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    # Planning memory by the window's size takes 100 MB more and saves no time that can be seen.
    options.enable_mem_pattern = False
    try:
        return onnxruntime.InferenceSession(
            path.read_bytes(), options, providers=["CPUExecutionProvider"]
        )
    except Exception as error:
        raise InstallError(
            f"The region network {path.name} is missing or damaged.",
            "Install again, or make it with python -m inspector.regions.training.",
        ) from error


def network_hash() -> str:
    """SHA-256 of the network's file, hexadecimal: which network judged.

    Raises InstallError if there is no file.
    """
    return _hash(NETWORK)


@lru_cache(maxsize=2)
def _hash(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        raise InstallError(
            f"The region network {path.name} is missing.", "Install the program again."
        ) from error


def _input(rgb: Pixels) -> dict[str, Floats]:
    return {"rgb": np.ascontiguousarray(rgb.transpose(2, 0, 1)[None], np.float32)}


def opinions(rgb: Pixels) -> Floats:
    """The second opinion alone on a picture whose sides are multiples of 32.

    (OPINIONS, height / 8, width / 8), of a network that has one.
    """
    (grid,) = _session(NETWORK).run([FAULTS], _input(rgb))
    return np.ascontiguousarray(grid[0], np.float32)


def _run(rgb: Pixels, rows: slice, columns: slice) -> tuple[Pixels, Floats, Floats, Floats | None]:
    """Labels (h, w), their probability, marks (len(Mark), h, w), of these rows and columns only.

    The picture's own sides are multiples of 32. Last its whole grid of opinions
    (OPINIONS, height / 8, width / 8), or None from a network without it.
    """
    session = _session(NETWORK)
    second = [one.name for one in session.get_outputs() if one.name == FAULTS]
    labels, sure, half, *grid = session.run(["labels", "sure", "marks", *second], _input(rgb))
    # cut before they are copied or enlarged: the marks alone are 36 MB
    labels, sure = labels[0, 0, rows, columns], sure[0, 0, rows, columns]
    marks = np.empty((len(Mark), *sure.shape), np.float32)
    for mark in Mark:
        marks[mark] = cv2.resize(half[0, mark], rgb.shape[1::-1])[rows, columns]
    faults = np.ascontiguousarray(grid[0][0], np.float32) if grid else None
    return labels.astype(np.uint8), np.ascontiguousarray(sure), marks, faults


def _patch(photo: Photo, left: int, top: int, width: int, height: int, step: float) -> Patch:
    """See the window whose corner is (left, top) as width x height patch pixels.

    The window may reach over the photo's edge: the edge is repeated for the network, and the
    answer there is cut off.
    """
    photo_height, photo_width = photo.rgb.shape[:2]
    right, bottom = left + round(width * step), top + round(height * step)
    inside = photo.rgb[max(top, 0) : bottom, max(left, 0) : right]
    if (over := _overhang(left, top, right, bottom, photo_width, photo_height)) != (0, 0, 0, 0):
        inside = np.asarray(cv2.copyMakeBorder(inside, *over, cv2.BORDER_REPLICATE), np.uint8)
    method = cv2.INTER_AREA if step >= 1 else cv2.INTER_LINEAR
    rgb = np.asarray(cv2.resize(inside, (width, height), interpolation=method), np.uint8)
    del inside
    first_x, first_y = math.ceil(max(-left, 0) / step), math.ceil(max(-top, 0) / step)
    last_x = width - math.ceil(max(right - photo_width, 0) / step)
    last_y = height - math.ceil(max(bottom - photo_height, 0) / step)
    rows, columns = slice(first_y, max(last_y, 1)), slice(first_x, max(last_x, 1))
    labels, sure, marks, grid = _run(rgb, rows, columns)
    rgb = np.ascontiguousarray(rgb[rows, columns])
    for array in (rgb, labels, sure, marks):
        array.setflags(write=False)
    middle = (step - 1) / 2  # of the first patch pixel, from its corner
    origin = (left + first_x * step + middle, top + first_y * step + middle)
    return Patch(rgb, labels, sure, marks, origin, step, _faults(grid, first_x, first_y))


def _faults(grid: Floats | None, first_x: int, first_y: int) -> Faults | None:
    """The whole grid, cells over the photo's edge too; the patch begins at (first_x, first_y)."""
    if grid is None:
        return None
    grid.setflags(write=False)
    middle = (CELL_PX - 1) / 2  # of the first cell, from the window's first pixel
    return Faults(grid, (middle - first_x, middle - first_y), float(CELL_PX))


def _overhang(
    left: int, top: int, right: int, bottom: int, width: int, height: int
) -> tuple[int, int, int, int]:
    """How far a window reaches over each edge: top, bottom, left, right."""
    return max(-top, 0), max(bottom - height, 0), max(-left, 0), max(right - width, 0)


def side_of(length: float, most: int) -> int:
    """Least multiple of the grid that is not below `length`, at most `most`."""
    return min(most, max(_GRID, math.ceil(length / _GRID - 1e-9) * _GRID))


def _on_grid(step: float) -> float:
    """Least step on the grid of 1/32 that is not below `step`."""
    return math.ceil(step * _GRID - 1e-9) / _GRID


def coarse(photo: Photo, side_px: int = SIDE_PX) -> Patch:
    """The whole photo with its long side at most `side_px`, never magnified."""
    height, width = photo.rgb.shape[:2]
    step = max(_on_grid(max(height, width) / side_px), 1.0)
    return _patch(
        photo, 0, 0, side_of(width / step, side_px), side_of(height / step, side_px), step
    )


def close(
    photo: Photo, center_xy: tuple[float, float], d_px_photo: float, extent_px: float
) -> Patch:
    """The square window of side `extent_px` about `center_xy`, so that D spans 128 pixels.

    All in photo pixels. D spans less where that would magnify more than twice, or where the window
    would be over 704 patch pixels wide.

    Raises ValueError if a number is not finite, D or the extent not positive, or the centre
    outside the photo.
    """
    height, width = photo.rgb.shape[:2]
    numbers = (*center_xy, d_px_photo, extent_px)
    if not all(math.isfinite(n) for n in numbers) or min(d_px_photo, extent_px) <= 0:
        raise ValueError(f"window {numbers} is not of finite, positive size")
    if not all(0 <= c + 0.5 <= n for c, n in zip(center_xy, (width, height), strict=True)):
        raise ValueError(f"the window's centre {center_xy} is outside the photo")
    extent = min(extent_px, 2.0 * max(width, height))
    step = max(
        _on_grid(d_px_photo / CLOSE_D_PX), _on_grid(extent / CLOSE_SIDE_PX), 1 / LARGEST_GAIN
    )
    side = side_of(extent / step, CLOSE_SIDE_PX)
    left, top = (round(c + 0.5 - side * step / 2) for c in center_xy)
    return _patch(photo, left, top, side, side, step)


def compose(size: tuple[int, int], patches: Sequence[Patch]) -> Pixels:
    """Region map (height, width) of the whole photo, `size` (width, height); later patches win."""
    width, height = size
    out = np.zeros((height, width), np.uint8)
    for patch in patches:
        rows, columns = patch.labels.shape
        corner = np.asarray(patch.origin) - (patch.step - 1) / 2
        x0, y0 = (max(0, round(float(c))) for c in corner)
        x1 = min(width, round(float(corner[0]) + columns * patch.step))
        y1 = min(height, round(float(corner[1]) + rows * patch.step))
        if patch.step > 1:  # a rim narrower than a patch pixel was cut off: extend over it
            x1 = width if width - x1 < patch.step else x1
            y1 = height if height - y1 < patch.step else y1
        if x1 <= x0 or y1 <= y0:
            continue
        xs = (np.arange(x0, x1) - corner[0]) / patch.step
        ys = (np.arange(y0, y1) - corner[1]) / patch.step
        column = np.clip(np.floor(xs + 0.5 / patch.step), 0, columns - 1).astype(np.intp)
        row = np.clip(np.floor(ys + 0.5 / patch.step), 0, rows - 1).astype(np.intp)
        out[y0:y1, x0:x1] = patch.labels[np.ix_(row, column)]
    out.setflags(write=False)
    return out
