"""The room as a panorama, and the faces of lamps, as arrays of linear RGB radiance.

Metal shows what stands round it: windows with bars, ceiling lamps, dark shelves, a person.
Rows run from straight up (0) to straight down, columns once round.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Rng = np.random.Generator
Image = NDArray[np.float32]
HIGH, WIDE = 128, 256


def blackbody(kelvin: float) -> NDArray[np.float64]:
    """Linear sRGB of a black body, luminance 1.

    Chromaticity by the cubic fit of the Planckian locus of Kim et al. 2002 (from memory), good
    from 1667 K to 25000 K.
    """
    t = 1e3 / kelvin
    if kelvin < 4000:
        x = -0.2661239 * t**3 - 0.2343589 * t**2 + 0.8776956 * t + 0.179910
    else:
        x = -3.0258469 * t**3 + 2.1070379 * t**2 + 0.2226347 * t + 0.240390
    if kelvin < 2222:
        y = -1.1063814 * x**3 - 1.34811020 * x**2 + 2.18555832 * x - 0.20219683
    elif kelvin < 4000:
        y = -0.9549476 * x**3 - 1.37418593 * x**2 + 2.09137015 * x - 0.16748867
    else:
        y = 3.0817580 * x**3 - 5.87338670 * x**2 + 3.75112997 * x - 0.37001483
    xyz = np.array([x / y, 1.0, (1 - x - y) / y])
    to_srgb = np.array(
        [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
    )
    return np.clip(to_srgb @ xyz, 0.0, None)  # IEC 61966-2-1 primaries


def _rect(
    image: Image,
    rng: Rng,
    rows: tuple[float, float],
    cols: tuple[float, float],
    rgb: NDArray[np.float64],
) -> tuple[int, int, int, int]:
    """Fill a box given in shares of the panorama; columns wrap. Returns it in pixels."""
    y0, y1 = int(rows[0] * HIGH), max(int(rows[1] * HIGH), int(rows[0] * HIGH) + 1)
    x0, width = int(cols[0] * WIDE), max(int((cols[1] - cols[0]) * WIDE), 1)
    image[y0:y1, (x0 + np.arange(width)) % WIDE] = rgb * rng.uniform(0.9, 1.1)
    return y0, y1, x0, width


def _window(image: Image, rng: Rng, strength: float) -> None:
    sky = blackbody(rng.uniform(5500, 12000)) * strength
    top, left = rng.uniform(0.12, 0.33), rng.uniform(0, 1)
    y0, y1, x0, width = _rect(
        image,
        rng,
        (top, rng.uniform(top + 0.06, 0.49)),
        (left, left + rng.uniform(0.03, 0.18)),
        sky,
    )
    cols = (x0 + np.arange(width)) % WIDE
    image[y0:y1, cols] *= np.linspace(1.3, 0.6, y1 - y0)[:, None, None]
    for k in range(1, int(rng.integers(1, 5))):
        image[y0:y1, cols[min(k * width // 4, width - 1)]] *= 0.05
    if rng.random() < 0.6:
        image[(y0 + y1) // 2, cols] *= 0.05
    if rng.random() < 0.25:  # blinds
        image[y0:y1:2, cols] *= 0.15


def _ceiling(image: Image, rng: Rng, strength: float) -> None:
    lamp = blackbody(rng.uniform(2700, 6500)) * strength
    for _ in range(int(rng.integers(1, 5))):
        top, left = rng.uniform(0.02, 0.25), rng.uniform(0, 1)
        _rect(
            image,
            rng,
            (top, top + rng.uniform(0.01, 0.08)),
            (left, left + rng.uniform(0.01, 0.2)),
            lamp,
        )


def _shelves(image: Image, rng: Rng, tone: float) -> None:
    for _ in range(int(rng.integers(5, 40))):
        top, left = rng.uniform(0.22, 0.48), rng.uniform(0, 1)
        rgb = rng.dirichlet([2, 2, 2]) * 3 * tone * np.exp(rng.uniform(-2.5, 0.8))
        _rect(
            image,
            rng,
            (top, min(top + rng.uniform(0.02, 0.2), 0.5)),
            (left, left + rng.uniform(0.01, 0.12)),
            rgb,
        )


def _person(image: Image, rng: Rng, azimuth: float, tone: float) -> None:
    """Dark body of whoever takes the photo, behind the phone."""
    body = (
        np.array([rng.uniform(0.02, 0.5), rng.uniform(0.02, 0.5), rng.uniform(0.02, 0.5)])
        * tone
        * 0.3
    )
    wide = rng.uniform(0.06, 0.16)
    _rect(image, rng, (rng.uniform(0.12, 0.3), 0.5), (azimuth - wide, azimuth + wide), body)
    _rect(
        image,
        rng,
        (0.08, 0.2),
        (azimuth - wide / 4, azimuth + wide / 4),
        np.array([0.3, 0.2, 0.15]) * tone,
    )


def room(rng: Rng, look: str, camera_azimuth: float) -> Image:
    """Panorama (HIGH, WIDE, 3) of a room, mean radiance 1. camera_azimuth: 0..1 of the width."""
    image = np.zeros((HIGH, WIDE, 3), np.float32)
    tone = rng.uniform(0.15, 1.0)
    wall = np.clip(rng.dirichlet([8, 8, 8]) * 3, 0.5, 1.5) * tone
    up = np.linspace(0, 1, HIGH)[:, None, None]
    image[:] = wall * (1 - 0.5 * up) * rng.uniform(0.3, 1.0)
    image[: int(rng.uniform(0.1, 0.3) * HIGH)] = wall * rng.uniform(0.5, 1.6)
    outdoors = rng.random() < (0.3 if look == "test" else 0.08)
    if outdoors:
        sky = blackbody(rng.uniform(6000, 14000))
        cloud = cv2.resize(
            rng.random((6, 12)).astype(np.float32), (WIDE, HIGH), interpolation=cv2.INTER_CUBIC
        )
        image[:] = sky * (0.4 + cloud[..., None]) * (1 - 0.5 * up)
        image[int(0.45 * HIGH) :] = np.array([0.1, 0.13, 0.06]) * rng.uniform(0.5, 2)
    else:
        _shelves(image, rng, tone)
        strength = np.exp(rng.uniform(np.log(3), np.log(60)))
        if look == "test":  # rows of lamps, one wide window
            if rng.random() < 0.6:
                lamp = blackbody(rng.uniform(3500, 5500)) * strength
                at = rng.uniform(0, 0.2)
                for k in range(int(rng.integers(3, 9))):
                    _rect(image, rng, (0.05, 0.30), (at + k / 9, at + k / 9 + 0.02), lamp)
            else:
                _window(image, rng, strength * 0.6)
        else:
            for _ in range(int(rng.integers(0, 4))):
                _window(image, rng, strength * rng.uniform(0.2, 1))
            for _ in range(int(rng.integers(0, 3))):
                _ceiling(image, rng, strength)
    if rng.random() < 0.8:
        _person(image, rng, camera_azimuth + rng.normal(0, 0.05), tone)
    soft = cv2.GaussianBlur(
        image, (0, 0), float(rng.uniform(0.4, 2.0)), borderType=cv2.BORDER_REFLECT
    )
    weight = np.sin((np.arange(HIGH) + 0.5) / HIGH * np.pi)[:, None, None]
    mean = float((soft * weight)[: HIGH // 2].sum() / (weight[: HIGH // 2].sum() * WIDE * 3))
    return (soft / mean).astype(np.float32)


FACE = 64


def face(rng: Rng, kind: str) -> Image:
    """What a lamp looks like from in front, (FACE, FACE, 3), mean 1: its lit part and its frame."""
    y, x = np.mgrid[0:FACE, 0:FACE] / (FACE - 1) * 2 - 1
    r = np.hypot(x, y)
    if kind == "disc":
        lit = np.clip((0.97 - r) * 12, 0, 1)
    elif kind == "bulb":
        lit = np.clip((0.97 - r) * 12, 0, 1) * (0.15 + np.exp(-(r**2) * 9))
    elif kind == "ring":
        lit = np.clip((0.97 - r) * 12, 0, 1) * np.clip((r - 0.68) * 12, 0, 1)
    elif kind == "window":
        nx, ny, bar = int(rng.integers(1, 5)), int(rng.integers(1, 4)), rng.uniform(0.02, 0.08)
        gx, gy = (x + 1) / 2 * nx % 1, (y + 1) / 2 * ny % 1
        lit = ((gx > bar * nx) & (gy > bar * ny)) * (0.7 + 0.6 * (y + 1) / 2)
    elif kind == "blinds":
        lit = ((y + 1) / 2 * int(rng.integers(6, 16)) % 1 > rng.uniform(0.2, 0.6)).astype(float)
    elif kind == "leds":
        n = int(rng.integers(3, 9))
        gx, gy = (x + 1) / 2 * n % 1 - 0.5, (y + 1) / 2 * n % 1 - 0.5
        lit = (np.hypot(gx, gy) < rng.uniform(0.15, 0.4)).astype(float)
    elif kind == "bars":
        lit = (np.abs(np.abs(y) - 0.6) < 0.3).astype(float)
    else:  # a soft panel, brighter in its middle
        lit = 0.5 + np.exp(-(r**2) * rng.uniform(0, 2))
    image = np.repeat(lit[..., None], 3, 2).astype(np.float32)
    return image / max(float(image.mean()), 1e-6)
