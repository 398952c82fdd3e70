"""Figures of strands, which IoU judges badly: two drawings of so thin a line hardly overlap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector.model import Region
from inspector.regions.training.labels import IGNORED, Picture

NEAR_PX = 2
_LEAST_TRUE_PX = 20  # of strand in a window, to ask whether it was found
_LEAST_FOUND_SHARE = 0.25
_ALARM_PX = 20  # of strand found in a window that has none
_DISC = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * NEAR_PX + 1, 2 * NEAR_PX + 1))


def _near(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(cv2.dilate(mask.view(np.uint8), _DISC)).astype(bool)


@dataclass
class Strands:
    """Running counts: pixels within NEAR_PX of each other, and windows."""

    true: int = 0
    hit: int = 0
    found: int = 0
    good: int = 0
    windows: int = 0
    windows_found: int = 0
    bare: int = 0
    alarms: int = 0

    def add(self, truth: Picture, labels: Picture) -> None:
        """Count one window; both (S, S), truth with IGNORED."""
        there = truth == Region.STRAND
        said = (labels == Region.STRAND) & (truth != IGNORED)
        true, found = int(there.sum()), int(said.sum())
        hit = int((there & _near(said)).sum()) if true and found else 0
        self.true, self.hit, self.found = self.true + true, self.hit + hit, self.found + found
        self.good += int((said & _near(there)).sum()) if true and found else 0
        if true >= _LEAST_TRUE_PX:
            self.windows += 1
            self.windows_found += hit >= _LEAST_FOUND_SHARE * true
        elif true == 0:
            self.bare += 1
            self.alarms += found >= _ALARM_PX

    def figures(self) -> dict[str, Any]:
        """Recall and precision within NEAR_PX by pixels; what windows show; none if undefined."""
        return {
            "recall": round(self.hit / self.true, 4) if self.true else None,
            "precision": round(self.good / self.found, 4) if self.found else None,
            "windows_with": self.windows,
            "windows_where_found": self.windows_found,
            "windows_without": self.bare,
            "windows_of_false_alarm": self.alarms,
        }
