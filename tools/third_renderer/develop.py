"""From linear light to the phone's picture: exposure, lens, noise, tone and sharpening.

Strengths are ours, no source, set by eye so that the pictures look like a phone's.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .fields import Array, Rng

GREY = 0.17  # linear, where the exposure puts the picture's key
LUMINANCE = (0.3, 0.59, 0.11)
BRIGHTEST = 60.0
DARKEST = 1e-3


def develop(rng: Rng, linear: Array, exposure: float, noise: float | None) -> NDArray[np.uint8]:
    """The picture (h, w, 3), BGR, of linear light (h, w, 3), RGB.

    exposure: a factor on the exposure that fits. noise: of a grey of 1, or None to have it drawn.
    """
    light = np.nan_to_num(linear.astype(np.float32)).clip(0, BRIGHTEST)
    light = light * (_exposure(rng, light) * exposure)
    light = _through_lens(rng, light)
    drawn = rng.uniform(0.004, 0.02)
    grain = rng.normal(size=light.shape).astype(np.float32)
    grain = cv2.GaussianBlur(grain, (0, 0), 0.6) * 1.8
    strength = drawn if noise is None else noise
    light = light + np.sqrt(np.maximum(light, 0) + 0.01) * strength * grain
    return _tone(rng, light)


def _exposure(rng: Rng, light: Array) -> float:
    """The factor that puts the picture's key at a middle grey, nearly, and burns out little."""
    luminance = light @ LUMINANCE
    high, wide = luminance.shape
    middle = luminance[high // 4 : 3 * high // 4, wide // 4 : 3 * wide // 4]
    inner, whole = (np.exp(np.log(part + DARKEST).mean()) for part in (middle, luminance))
    key = 0.6 * inner + 0.4 * whole
    fitting = GREY / max(key, DARKEST) * 2 ** rng.normal(0, 0.3)
    return float(min(fitting, 1.1 / max(np.percentile(luminance, 97), DARKEST) * 1.2))


def _through_lens(rng: Rng, light: Array) -> Array:
    """Glow round what is bright, darker corners, and a white balance that is a little off."""
    high, wide = light.shape[:2]
    bright = np.maximum(light - 1.2, 0).clip(0, 8)
    near, far = (cv2.GaussianBlur(bright, (0, 0), wide / part) for part in (250, 40))
    light = light + 0.05 * near + 0.012 * far
    y, x = np.mgrid[-1 : 1 : high * 1j, -1 : 1 : wide * 1j]
    light = light * (1 - rng.uniform(0.05, 0.28) * (x**2 + y**2) / 2)[..., None]
    warm, green = rng.normal(0, 0.09), rng.normal(0, 0.025)
    return np.asarray(light * np.array([1 + warm, 1 + green, 1 - warm], np.float32))


def _tone(rng: Rng, light: Array) -> NDArray[np.uint8]:
    """Tone curve with a shoulder, sRGB, colour and sharpening; (h, w, 3), BGR."""
    light = light.clip(0)
    shown = (light * (1 + light * 0.25)) / (1 + light * 0.55 + light * light * 0.12)
    shown = shown.clip(0, 1)
    # sRGB's transfer function, IEC 61966-2-1
    shown = np.where(shown < 0.0031308, 12.92 * shown, 1.055 * shown ** (1 / 2.4) - 0.055)
    shown = shown + 0.06 * np.sin((shown - 0.5) * np.pi * 2) * (shown - shown * shown)
    grey = shown.mean(2, keepdims=True)
    shown = grey + (shown - grey) * rng.uniform(1.0, 1.2)
    strength, size_px = rng.uniform(0.3, 1.1), rng.uniform(0.8, 1.6)
    shown = shown + strength * (shown - cv2.GaussianBlur(shown, (0, 0), size_px))
    return np.asarray(shown[..., ::-1].clip(0, 1) * 255 + 0.5, np.uint8)
