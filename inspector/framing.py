"""The window of the photo that a panel shows, and what in it callouts should keep off."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector.model import Evidence, JointResult, Mask, Measurement, Points
from inspector.placing import GRID_PX, Box, Obstacles

Canvas = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Window:
    """A window of the photo: box in photo pixels, shown `scale` times as large."""

    box: Box
    scale: float

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the panel in pixels."""
        box = self.box
        return round((box.x1 - box.x0) * self.scale), round((box.y1 - box.y0) * self.scale)

    def to_panel(self, points: Points) -> Points:
        """Photo positions (N, 2) to panel positions; pixel centres at integers in both."""
        moved = np.asarray(points, float) - (self.box.x0, self.box.y0) + 0.5
        return np.asarray(moved * self.scale - 0.5)


def crop(rgb: Canvas, window: Window) -> Canvas:
    """The window's pixels at the panel's size; shrunk by area, enlarged smoothly."""
    box, (wide, high) = window.box, window.size
    part = rgb[round(box.y0) : round(box.y1), round(box.x0) : round(box.x1)]
    how = cv2.INTER_AREA if window.scale < 1 else cv2.INTER_CUBIC
    return np.ascontiguousarray(cv2.resize(part, (wide, high), interpolation=how), np.uint8)


def grid(window: Window) -> Canvas:
    """An empty placement grid for a window, GRID_PX panel pixels a cell."""
    wide, high = window.size
    return np.zeros((high // GRID_PX + 1, wide // GRID_PX + 1), np.uint8)


def obstacles_of(window: Window, results: list[JointResult]) -> Obstacles:
    """The joints themselves, and the lines drawn on them."""
    return Obstacles.of(_joint_grid(window, results), _evidence_grid(window, results))


def _joint_grid(window: Window, results: list[JointResult]) -> Mask:
    """Where the joints themselves are, on the placement grid, a little grown."""
    cells = grid(window)
    for result in results:
        patch = result.joint.patch
        corners = window.to_panel(patch.to_photo(np.array([[0.0, 0], [1, 0], [0, 1]]))) / GRID_PX
        turn = cv2.getAffineTransform(
            np.array([[0, 0], [1, 0], [0, 1]], np.float32), corners.astype(np.float32)
        )
        own = cv2.warpAffine(result.joint.own.astype(np.uint8), turn, cells.shape[::-1])
        cells |= np.asarray(own, np.uint8)
    return np.asarray(cv2.dilate(cells, np.ones((5, 5), np.uint8)) > 0)


def _evidence_grid(window: Window, results: list[JointResult]) -> Mask:
    cells = grid(window)
    for evidence in evidence_of(results):
        line = np.round(window.to_panel(evidence.points) / GRID_PX).astype(np.int32)
        cv2.polylines(cells, [line.reshape(-1, 1, 2)], evidence.shape == "outline", 1, 3)
    return cells > 0


def evidence_of(results: list[JointResult]) -> list[Evidence]:
    """All evidence of these joints' findings: what the panel draws, and nothing else."""
    return [
        evidence
        for result in results
        for finding in result.findings
        for measured in finding.measured
        if isinstance(measured, Measurement)
        for evidence in measured.evidence
    ]
