"""Pictures to look at: training windows with their truth, held-out windows with what was found."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from inspector.regions.training.labels import Picture

# safe for colour-blind eyes (Okabe and Ito's set), RGB; black is background
_COLOURS = np.array(
    [
        (0, 0, 0), (0, 114, 178), (230, 159, 0), (204, 204, 204), (240, 228, 66),
        (0, 158, 115), (255, 0, 255), (86, 180, 233),
    ],
    np.uint8,
)  # fmt: skip
_TILE_PX = 256


def tint(rgb: Picture, labels: Picture) -> Picture:
    """Picture (S, S, 3) with its labels laid over it."""
    flat = _COLOURS[np.where(labels < len(_COLOURS), labels, 0)]
    on = (labels > 0)[..., None]
    return np.where(on, (rgb * 0.45 + flat * 0.55).astype(np.uint8), rgb)


def sheet(path: Path, rows: Sequence[Sequence[Picture]]) -> None:
    """Write rows of pictures as one JPEG."""
    if not rows:
        return
    size = (_TILE_PX, _TILE_PX)
    lines = [
        np.hstack([cv2.resize(p, size, interpolation=cv2.INTER_AREA) for p in row]) for row in rows
    ]
    cv2.imwrite(str(path), np.vstack(lines)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 85])
