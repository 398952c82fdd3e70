"""The region map beside its truth: counts by pixel, and how much of each strand was found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree
from skimage.morphology import skeletonize

if TYPE_CHECKING:
    from inspector.model import Patch

STRAND, CLASSES = 6, 8
NEAR_PX = 2.0  # of the photo; and of a patch, where that is coarser


def confusion(truth: NDArray[np.uint8], found: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Pixels (8, 8) by true and by found region; ValueError if the maps differ in size."""
    if truth.shape != found.shape:
        raise ValueError(f"the true map is {truth.shape}, the found one {found.shape}")
    both = truth.ravel().astype(np.int64) * CLASSES + found.ravel()
    counts = np.bincount(both, minlength=CLASSES * CLASSES)
    return np.asarray(counts.reshape(CLASSES, CLASSES), np.int64)


def iou(counts: NDArray[np.int64], region: int) -> float | None:
    """Intersection over union of one region; None if neither map has it."""
    union = counts[region].sum() + counts[:, region].sum() - counts[region, region]
    return float(counts[region, region] / union) if union else None


def visible_line(path: Sequence[Sequence[float]], truth: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Points (N, 2), 1 px apart, of a strand's path where the true map shows a strand."""
    points = np.asarray(path, float).reshape(-1, 2)
    step = np.hypot(*np.diff(points, axis=0).T)
    gone = np.concatenate([[0.0], np.cumsum(step)])
    along = np.arange(0.0, gone[-1] + 1e-9, 1.0)
    fine = np.stack([np.interp(along, gone, points[:, k]) for k in (0, 1)], axis=-1)
    high, wide = truth.shape
    x, y = np.rint(fine).astype(int).T
    inside = (x >= 1) & (y >= 1) & (x < wide - 1) & (y < high - 1)
    near = cv2.dilate((truth == STRAND).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    seen = np.zeros(len(fine), bool)
    seen[inside] = near[y[inside], x[inside]]
    return np.asarray(fine[seen], float)


def found_lines(patches: Sequence[Patch]) -> tuple[NDArray[np.float64], float]:
    """Centre lines (N, 2) of the strands found in the close patches, and the coarsest step, px."""
    lines, step = [np.zeros((0, 2))], 1.0
    for patch in patches[1:] or patches:
        ys, xs = np.nonzero(skeletonize(patch.labels == STRAND))  # type: ignore[no-untyped-call]
        lines.append(patch.to_photo(np.stack([xs, ys], axis=-1).astype(float)))
        step = max(step, patch.step)
    return np.concatenate(lines), step


def strand_recall(
    joints: Sequence[dict[str, Any]], truth: NDArray[np.uint8], patches: Sequence[Patch]
) -> list[dict[str, float]]:
    """Per joint with visible strands: their length and how much of it was found, photo px.

    "found_px" is within 2 px of the photo, "found_patch_px" within 2 px of the patch.
    """
    lines, step = found_lines(patches)
    tree = KDTree(lines) if len(lines) else None
    rows = []
    for joint in joints:
        parts = [visible_line(s["path"], truth) for s in joint["strands"] if len(s["path"]) > 1]
        points = np.concatenate(parts) if parts else np.zeros((0, 2))
        if not len(points):
            continue
        away = tree.query(points)[0] if tree is not None else np.full(len(points), np.inf)
        rows.append(
            {
                "joint": joint["joint"],
                "visible_px": len(points),
                "found_px": int((away <= NEAR_PX).sum()),
                "found_patch_px": int((away <= NEAR_PX * step).sum()),
            }
        )
    return rows
