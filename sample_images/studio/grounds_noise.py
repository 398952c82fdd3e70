"""Seamless noise, and marks of use, for the textures of the ground.

The noise fields are made once a process from fixed seeds; a scene takes shifted, flipped, mixed
copies, which costs milliseconds.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.float32]
SIDE = 1024
# name: (falloff of the spectrum, stretch along x); a larger falloff is smoother
FIELDS = {
    "grain": (0.3, 1.0), "sand": (0.9, 1.0), "rough": (1.4, 1.0), "cloudy": (2.0, 1.0),
    "broad": (2.8, 1.0), "brushed": (0.7, 60.0), "fibre": (1.1, 12.0), "wood": (1.9, 14.0),
}  # fmt: skip


@cache
def _spectral(name: str) -> Image:
    falloff, stretch = FIELDS[name]
    rng = np.random.default_rng([7, *name.encode()])
    fy = np.fft.fftfreq(SIDE)[:, None] * SIDE
    fx = np.fft.rfftfreq(SIDE)[None] * SIDE
    far = np.hypot(fx * stretch, fy)
    far[0, 0] = 1.0
    white = np.fft.rfft2(rng.standard_normal((SIDE, SIDE)))
    white[0, 0] = 0
    out = np.fft.irfft2(white / far**falloff, (SIDE, SIDE))
    return np.asarray(out / out.std(), np.float32)


@cache
def _cells(count: int) -> tuple[Image, Image]:
    """Distance to the nearest seed (0..1) and a random value for each cell, both seamless."""
    rng = np.random.default_rng([11, count])
    seeds = rng.integers(0, SIDE, (count, 2))
    big = np.full((2 * SIDE, 2 * SIDE), 255, np.uint8)
    for oy in (-SIDE // 2, SIDE // 2, SIDE + SIDE // 2):
        for ox in (-SIDE // 2, SIDE // 2, SIDE + SIDE // 2):
            y, x = seeds[:, 0] + oy, seeds[:, 1] + ox
            ok = (y >= 0) & (y < 2 * SIDE) & (x >= 0) & (x < 2 * SIDE)
            big[y[ok], x[ok]] = 0
    far, near = cv2.distanceTransformWithLabels(big, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    ys, xs = np.nonzero(big == 0)
    value = np.zeros(int(near.max()) + 1, np.float32)
    shade = rng.random((SIDE, SIDE)).astype(np.float32)
    value[near[ys, xs]] = shade[(ys + SIDE // 2) % SIDE, (xs + SIDE // 2) % SIDE]
    cut = slice(SIDE // 2, SIDE // 2 + SIDE)
    spread = far[cut, cut] / (SIDE / np.sqrt(count))
    return spread.astype(np.float32), value[near[cut, cut]]


def shuffled(rng: np.random.Generator, image: Image, *, flip: bool = True) -> Image:
    """Shifted (and flipped) copy of a seamless image."""
    if flip:
        image = image[:: rng.choice([-1, 1]), :: rng.choice([-1, 1])]
    return np.roll(image, tuple(int(k) for k in rng.integers(0, SIDE, 2)), (0, 1))


def noise(rng: np.random.Generator, name: str) -> Image:
    """Field of mean 0 and deviation 1, (SIDE, SIDE), seamless."""
    return shuffled(rng, _spectral(name))


def cells(rng: np.random.Generator, count: int) -> tuple[Image, Image]:
    """Cell pattern: distance from the cell's seed (in mean cell sizes), value a cell (0..1)."""
    far, value = _cells(count)
    shift = tuple(int(k) for k in rng.integers(0, SIDE, 2))
    return np.roll(far, shift, (0, 1)), np.roll(value, shift, (0, 1))


def emboss(height: Image, strength: float) -> Image:
    """Shading factor about 1 of a height field, as if lit a little from one side."""
    gy, gx = np.roll(height, -1, 0) - height, np.roll(height, -1, 1) - height
    return np.clip(1.0 + strength * (gx + gy), 0.2, 2.5)


def flat(rgb: tuple[float, float, float] | NDArray[np.float64]) -> Image:
    """Plain colour, (SIDE, SIDE, 3)."""
    out = np.empty((SIDE, SIDE, 3), np.float32)
    out[:] = np.asarray(rgb, np.float32)
    return out


def tinted(rgb: NDArray[np.float64] | tuple[float, float, float], factor: Image) -> Image:
    """Colour times a factor image."""
    return (np.asarray(rgb, np.float32) * factor[..., None]).astype(np.float32)


def blend(
    base: Image, rgb: NDArray[np.float64] | tuple[float, float, float], cover: Image
) -> Image:
    """`rgb` over `base` where `cover` (0..1) says; the cover is enlarged to the base's size."""
    if cover.shape != base.shape[:2]:
        cover = cv2.resize(cover, base.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    k = np.clip(cover, 0, 1)[..., None]
    return (base * (1 - k) + np.asarray(rgb, np.float32) * k).astype(np.float32)


def stroke(
    image: NDArray[np.uint8], line: NDArray[np.float64], shade: int | tuple[int, ...], thick: int
) -> None:
    """Draw an open line (N, 2) of x, y in px on an 8-bit image, smooth to an eighth of a pixel."""
    points = np.int32(np.asarray(line) * 8)
    cv2.polylines(
        image, [points], isClosed=False, color=shade, thickness=thick, lineType=cv2.LINE_AA, shift=3
    )


def scratches(
    rng: np.random.Generator, count: int, longest: int, *, straight: bool = False
) -> Image:
    """Cover image of thin lines, 0..1."""
    mask = np.zeros((SIDE, SIDE), np.uint8)
    lean = rng.uniform(0, np.pi)
    for _ in range(count):
        n = 2 if straight else 8
        start, length = rng.uniform(0, SIDE, 2), rng.uniform(0.05, 1.0) * longest
        heading = lean + rng.normal(0, 0.15) if straight else rng.uniform(0, 2 * np.pi)
        bend = 0.0 if straight else rng.normal(0, 0.4)
        a = heading + np.cumsum(np.full(n, bend / n))
        line = start + np.cumsum(np.stack([np.cos(a), np.sin(a)], 1) * length / n, axis=0)
        shade = int(rng.integers(40, 255))
        stroke(mask, line, shade, int(rng.choice([1, 1, 1, 2])))
    return mask.astype(np.float32) / 255


def blots(
    rng: np.random.Generator, count: int, size: tuple[float, float], *, ring: bool = False
) -> Image:
    """Cover image of stains with ragged rims, 0..1; `ring` leaves only the rim, as a cup does."""
    mask = np.zeros((SIDE, SIDE), np.uint8)
    for _ in range(count):
        radius = float(np.exp(rng.uniform(np.log(size[0]), np.log(size[1]))))
        centre = rng.uniform(0, SIDE, 2)
        a = np.arange(40) / 40 * 2 * np.pi
        wave = sum(rng.normal(0, 0.12 / k) * np.cos(k * a + rng.uniform(0, 6)) for k in range(1, 6))
        outline = centre + radius * (1 + wave)[:, None] * np.stack(
            [np.cos(a), np.sin(a) * rng.uniform(0.5, 1)], 1
        )
        shade = int(rng.integers(90, 255))
        if ring:
            stroke(mask, np.vstack([outline, outline[:1]]), shade, int(rng.integers(2, 9)))
        else:
            cv2.fillPoly(mask, [np.int32(outline)], shade, cv2.LINE_AA)
    soft = cv2.blur(mask, (5, 5)).astype(np.float32) / 255
    return np.clip(soft * (0.8 + 0.3 * noise(rng, "rough")), 0, 1)


WORDS = (
    "TOP", "SIDE A", "PART NO", "REV C", "MADE FOR BENCH USE", "HOT", "CAUTION", "VOLTS", "MOTOR L",
    "check", "left", "spare", "12.6 V", "red = +", "weld", "todo", "ohm", "AMPERE", "test 3", "mm",
)  # fmt: skip
FONTS = (0, 1, 2, 3, 4, 5, 6, 7)


def word(rng: np.random.Generator) -> str:
    """A word, a number or both."""
    digits = "".join(str(d) for d in rng.integers(0, 10, rng.integers(1, 6)))
    return str(rng.choice([str(rng.choice(WORDS)), digits, f"{rng.choice(WORDS)} {digits}"]))


def lettering(
    rng: np.random.Generator, count: int, scale: tuple[float, float], side: int = SIDE
) -> NDArray[np.uint8]:
    """Cover image (side, side) of words at random places and slants."""
    mask = np.zeros((side, side), np.uint8)
    for _ in range(count):
        size = float(rng.uniform(*scale))
        text, font, thick = (
            word(rng),
            int(rng.choice(FONTS)),
            max(1, int(size * rng.uniform(0.8, 2.4))),
        )
        (w, h), _ = cv2.getTextSize(text, font, size, thick)
        tile = np.zeros((h * 2 + 8, w + 8), np.uint8)
        cv2.putText(
            tile,
            text,
            (4, int(1.5 * h) + 2),
            font,
            size,
            int(rng.integers(120, 255)),
            thick,
            cv2.LINE_AA,
        )
        turn = cv2.getRotationMatrix2D(
            (w / 2, h), float(rng.choice([0, 0, 90, rng.uniform(0, 360)])), 1.0
        )
        turn[:, 2] += rng.uniform(0, side, 2) - (w / 2, h)
        cv2.bitwise_or(mask, cv2.warpAffine(tile, turn, (side, side)), mask)
    return mask


def worn(rng: np.random.Generator, base: Image, amount: float) -> Image:
    """Scratches, stains, burns, dust and writing over a texture; `amount` 0..1."""
    out = base
    tone = float(base[::16, ::16].mean())
    if rng.random() < amount:
        shade = np.full(
            3, tone * rng.uniform(1.5, 4) + 0.04 if tone < 0.3 else tone * rng.uniform(0.3, 1.3)
        )
        out = blend(
            out,
            np.minimum(shade, 0.9),
            scratches(rng, int(rng.integers(3, 50)), 700) * rng.uniform(0.2, 0.8),
        )
    if rng.random() < 0.6 * amount:
        dirt = np.array([0.2, 0.12, 0.05]) * rng.uniform(0.1, 2.0)
        out = blend(
            out,
            dirt,
            blots(rng, int(rng.integers(1, 8)), (8, 160), ring=rng.random() < 0.3)
            * rng.uniform(0.1, 0.7),
        )
    if rng.random() < 0.4 * amount:  # burns of the iron: black core, brown rim
        core = blots(rng, int(rng.integers(1, 6)), (6, 50))
        out = blend(
            out, (0.13, 0.06, 0.02), np.clip(cv2.GaussianBlur(core, (0, 0), 9) * 1.6, 0, 0.8)
        )
        out = blend(out, (0.012, 0.01, 0.008), core * 0.9)
    if rng.random() < 0.5 * amount:  # dust and lint
        specks = np.clip(noise(rng, "grain") - rng.uniform(2.6, 3.6), 0, 1)
        out = blend(out, np.full(3, rng.uniform(0.1, 0.8)), cv2.blur(specks, (3, 3)) * 2)
    if rng.random() < 0.35 * amount:
        ink = (
            np.array([rng.uniform(0, 0.1), rng.uniform(0, 0.06), rng.uniform(0, 0.3)])
            if tone > 0.15
            else np.full(3, 0.7)
        )
        cover = lettering(rng, int(rng.integers(1, 7)), (0.5, 3.0)).astype(np.float32) / 255
        out = blend(out, ink, cover * rng.uniform(0.4, 1.0))
    return out
