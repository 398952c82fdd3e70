"""Lens: blur by depth and motion, colour fringes, vignetting, bloom. On linear radiance."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .phone_plan import DISC_SD, PhonePlan

Image = NDArray[np.float32]
FAR = 1e6


def disc_kernel(radius: float, blades: int, turn_rad: float = 0.3) -> Image:
    """Normalised disc or polygon; its deviation along an axis is that of a disc of `radius`."""
    half = int(np.ceil(radius * 1.2)) + 1
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(float)
    far = np.hypot(x, y)
    if blades >= 3:
        a = (np.arctan2(y, x) + turn_rad) % (2 * np.pi / blades) - np.pi / blades
        far = far * np.cos(a) / np.cos(np.pi / blades) ** 0.5
    size = radius
    for _ in range(4):  # the soft rim widens small discs: shrink until the deviation is right
        k = np.clip(size + 0.5 - far, 0, 1)
        k /= k.sum()
        size *= DISC_SD * radius / max(float(np.sqrt((k * x * x).sum())), 1e-3)
    return k.astype(np.float32)


def _disc(image: Image, radius: float, blades: int) -> Image:
    if radius < 0.35:
        return image
    if radius > 9:  # a large disc: at half size
        small = cv2.resize(image, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        return cv2.resize(
            _disc(small, radius / 2, blades), image.shape[1::-1], interpolation=cv2.INTER_LINEAR
        )
    return cv2.filter2D(image, -1, disc_kernel(radius, blades), borderType=cv2.BORDER_REFLECT)


def circle_of_confusion(
    depth: Image, joint_depth: float, plan: PhonePlan, focal_px: float
) -> Image:
    """Radius in px of the blur disc of each pixel, signed (positive beyond the focus).

    Thin lens: the disc's radius is aperture / 2 * focal length in px * |1/z - 1/z_focus|, and the
    focus is placed so that the joint gets plan.defocus_px.
    """
    z = np.where(np.isfinite(depth) & (depth > 0), depth, FAR)
    sign = 1.0 if plan.nearer else -1.0
    spread = 0.5 * plan.aperture_mm * focal_px * (1 / joint_depth - 1 / z)
    return (spread + sign * plan.defocus_px).astype(np.float32)


def defocus(image: Image, coc: Image, blades: int, limit_px: float = 60.0) -> Image:
    """Blur each pixel by its own disc: layers of like radius, each over those behind it."""
    clipped = np.clip(coc, -limit_px, limit_px)
    size = np.abs(clipped)
    low, high = float(size.min()), float(size.max())
    if high - low < 0.5:
        return _disc(image, float(np.median(size)), blades)
    # far side from large to small, then near side from small to large: back to front
    steps = np.array([0.0, 0.7, 1.4, 2.3, 3.5, 5.0, 7.5, 11.0, 17.0, 26.0, 40.0, limit_px])
    levels = np.concatenate([steps[:0:-1], [0.0], -steps[1:]])
    nearest = np.abs(clipped[..., None][::4, ::4] - levels).argmin(-1)
    out = np.zeros_like(image)
    edges = np.concatenate([[np.inf], (levels[:-1] + levels[1:]) / 2, [-np.inf]])
    filled = False
    h, w = clipped.shape
    for k in np.unique(nearest):
        mask = (clipped <= edges[k]) & (clipped > edges[k + 1])
        r = abs(float(levels[k]))
        rows, cols = np.nonzero(mask.any(1))[0], np.nonzero(mask.any(0))[0]
        if len(rows) == 0:
            continue
        reach = int(2 * r) + 4  # only the layer's box and its blur
        y = slice(max(rows[0] - reach, 0), min(rows[-1] + reach, h))
        x = slice(max(cols[0] - reach, 0), min(cols[-1] + reach, w))
        part = mask[y, x].astype(np.float32)
        cover = _disc(part, r, blades)
        colour = _disc(image[y, x] * part[..., None], r, blades)
        if not filled:  # the farthest layer also fills what later ones leave open
            out[:] = image
            filled = True
            known = cover > 1e-3
            out[y, x][known] = (colour / np.maximum(cover, 1e-3)[..., None])[known]
            continue
        out[y, x] = out[y, x] * (1 - cover[..., None]) + colour
    return out


def shake(image: Image, length: float, angle_deg: float) -> Image:
    """Straight motion blur."""
    if length < 0.7:
        return image
    half = int(np.ceil(length / 2)) + 1
    kernel = np.zeros((2 * half + 1, 2 * half + 1), np.float32)
    d = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))]) * length / 2
    ends = [tuple(int(k) for k in np.round((half + s * d) * 16)) for s in (-1, 1)]
    canvas = np.zeros(kernel.shape, np.uint8)
    cv2.line(canvas, ends[0], ends[1], 255, 1, cv2.LINE_AA, 4)
    kernel = canvas.astype(np.float32)
    return cv2.filter2D(image, -1, kernel / kernel.sum(), borderType=cv2.BORDER_REFLECT)


def fringe(image: Image, amount: float) -> Image:
    """Lateral colour: red and blue drawn at slightly different sizes."""
    h, w = image.shape[:2]
    if abs(amount) * max(h, w) / 2 < 0.1:
        return image
    out = image.copy()
    for channel, sign in ((0, 1), (2, -1)):
        s = 1 + sign * amount
        m = np.float32([[s, 0, (1 - s) * w / 2], [0, s, (1 - s) * h / 2]])
        out[..., channel] = cv2.warpAffine(
            np.ascontiguousarray(image[..., channel]), m, (w, h), borderMode=cv2.BORDER_REFLECT
        )
    return out


def vignette(image: Image, loss: float) -> Image:
    """Light lost toward the corners."""
    h, w = image.shape[:2]
    y, x = (
        np.linspace(-1, 1, h, dtype=np.float32)[:, None],
        np.linspace(-1, 1, w, dtype=np.float32)[None],
    )
    return image * (1 - loss * ((x * x + y * y) / 2) ** 1.5)[..., None]


def bloom(image: Image, share: float) -> Image:
    """Spread part of what exceeds white, as lens and sensor do."""
    over = np.clip(image - 0.9, 0, 12.0)
    if share <= 0 or not (over > 0).any():
        return image
    small = cv2.resize(over, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    side = max(image.shape[:2]) / 4
    halo = 0.6 * cv2.GaussianBlur(small, (0, 0), max(side * 0.004, 0.8)) + 0.4 * cv2.GaussianBlur(
        small, (0, 0), side * 0.02
    )
    return image + share * cv2.resize(halo, image.shape[1::-1], interpolation=cv2.INTER_LINEAR)
