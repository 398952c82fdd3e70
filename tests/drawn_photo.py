"""A drawn photo with the network's part played by geometry: what follows it, end to end.

The picture is painted from the drawn region map, so that sharpness and exposure are real.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from drawn import Cup, draw
from inspector.model import Patch, Photo
from inspector.photo import make_photo
from inspector.regions.network import CLOSE_D_PX, CLOSE_SIDE_PX, SIDE_PX

COLOURS = np.array(
    [
        (120, 115, 105),
        (150, 30, 30),
        (190, 120, 90),
        (190, 192, 196),
        (205, 170, 80),
        (40, 60, 120),
        (200, 130, 95),
        (30, 30, 30),
    ],
    np.uint8,
)


@dataclass(frozen=True)
class Drawn:
    """Joints at photo positions; `end` of each cup is in photo pixels, d_px in photo pixels."""

    cups: tuple[Cup, ...] = (Cup(end=(420.0, 280.0)),)
    d_px: float = 80.0
    size: tuple[int, int] = (960, 600)

    def patch(self, origin, step, size, photo):
        """What a perfect network would say of a window."""
        cups = [
            replace(c, end=((c.end[0] - origin[0]) / step, (c.end[1] - origin[1]) / step))
            for c in self.cups
        ]
        answer = draw(cups, self.d_px / step, size)
        shift = np.array([[step, 0, origin[0]], [0, step, origin[1]]], np.float32)
        flags = cv2.INTER_AREA | cv2.WARP_INVERSE_MAP if step > 1 else cv2.WARP_INVERSE_MAP
        rgb = cv2.warpAffine(photo.rgb, shift, size, flags=flags)
        return replace(answer, rgb=rgb, origin=origin, step=step)

    def photo(self) -> Photo:
        """The picture itself."""
        labels = draw(list(self.cups), self.d_px, self.size).labels
        noise = np.random.default_rng(5).normal(0, 4, (*labels.shape, 3))
        rgb = np.clip(COLOURS[labels] + noise, 0, 255).astype(np.uint8)
        return make_photo(cv2.GaussianBlur(rgb, (0, 0), 0.8), "drawn.png")

    def coarse(self, photo: Photo, side_px: int = SIDE_PX) -> Patch:
        """Stands for the first pass."""
        high, wide = photo.rgb.shape[:2]
        step = max(1.0, max(high, wide) / side_px)
        return self.patch((0.0, 0.0), step, (round(wide / step), round(high / step)), photo)

    def close(self, photo: Photo, center, d_px: float, extent: float) -> Patch:
        """Stands for the second pass."""
        side = min(CLOSE_SIDE_PX, round(CLOSE_D_PX * extent / d_px))
        step = extent / side
        origin = (center[0] - extent / 2, center[1] - extent / 2)
        return self.patch(origin, step, (side, side), photo)
