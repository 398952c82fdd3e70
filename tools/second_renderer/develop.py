"""From linear light to what a phone would save: exposure, noise, tone, colour, sharpening.

Nothing here moves pixels: the photo stays in line with its label map.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .fields import Rng

DARK_STOPS = -2.0  # under which a phone keeps its reading noise down


def _exposed(linear: NDArray[np.float32], rng: Rng, stops: float) -> NDArray[np.float32]:
    """The picture as bright as an automatic camera would make it, and `stops` more."""
    light = linear.mean(2)
    level = 0.6 * light.mean() + 0.4 * np.percentile(light, 92)
    gain = (rng.uniform(0.2, 0.34) / max(level, 1e-4)) ** 0.85
    return linear * gain * 2.0**stops


def develop(
    linear: NDArray[np.float32], rng: Rng, stops: float, blur_px: float | None = None
) -> NDArray[np.uint8]:
    """Linear RGB (h, w, 3) to 8-bit BGR; blur_px: of the lens, a good one's if left out."""
    image = np.clip(_exposed(linear, rng, stops), 0, 40)
    image = image * (1 + rng.uniform(-0.09, 0.09, 3))  # white balance
    sigma_px = rng.uniform(0.25, 0.8) if blur_px is None else blur_px
    image = cv2.GaussianBlur(image, (0, 0), sigma_px)
    image = np.maximum(image + _noise(rng, image, stops), 0)
    image = _toned(rng, image)
    grey = image.mean(2, keepdims=True)
    image = grey + (image - grey) * rng.uniform(1.0, 1.2)
    if rng.random() < 0.65:
        soft = cv2.GaussianBlur(image, (0, 0), rng.uniform(0.8, 1.6))
        image = image + rng.uniform(0.2, 0.8) * (image - soft)
    return np.round(255 * np.clip(image, 0, 1)).astype(np.uint8)[..., ::-1]


def _noise(rng: Rng, image: NDArray[np.float64], stops: float) -> NDArray[np.float64]:
    """Shot and reading noise, in half of the photos smeared by the phone."""
    shot, reading = rng.uniform(0.003, 0.014), rng.uniform(0.001, 0.004)
    if stops < DARK_STOPS:
        reading *= 0.5
    grain = rng.normal(size=image.shape)
    if rng.random() < 0.5:
        grain = cv2.GaussianBlur(grain, (0, 0), 0.6) * 1.7
    return grain * (shot * np.sqrt(np.maximum(image, 0)) + reading)


def _toned(rng: Rng, image: NDArray[np.float64]) -> NDArray[np.float64]:
    """Highlights rolled off, sRGB's curve, and some more contrast; 0 to 1."""
    white = rng.uniform(2.5, 5)
    image = image * (1 + image / white**2) / (1 + image)
    image = np.clip(image * rng.uniform(1.15, 1.35), 0, 1)
    curved = 1.055 * image ** (1 / 2.4) - 0.055
    image = np.where(image < 0.0031308, 12.92 * image, curved)
    contrast = rng.uniform(0.05, 0.45)
    return (1 - contrast) * image + contrast * image**2 * (3 - 2 * image)
