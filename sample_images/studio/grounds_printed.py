"""Grounds with lines, letters or pictures: ruled papers, cutting mats, moulded mats, prints."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from .grounds_made import Rng, Stuff, black, colour, waves
from .grounds_noise import SIDE, Image, blend, flat, lettering, noise, tinted, word

FINE = 2 * SIDE  # printed things need sharp lines


def _cover(mask: NDArray[np.uint8]) -> Image:
    return mask.astype(np.float32) / 255


def _paper(rng: Rng) -> Image:
    rgb = np.full(3, rng.uniform(0.55, 0.85)) * np.array(
        [1, rng.uniform(0.94, 1), rng.uniform(0.8, 1.02)]
    )
    return np.tile(tinted(rgb, 1 + 0.012 * noise(rng, "fibre")), (2, 2, 1))


def _ink(rng: Rng) -> NDArray[np.float64]:
    choice = np.array(
        [(0.02, 0.02, 0.03), (0.1, 0.2, 0.5), (0.3, 0.3, 0.35), (0.45, 0.1, 0.1), (0.1, 0.35, 0.3)]
    )
    return choice[rng.integers(len(choice))] * rng.uniform(0.6, 1.3)


def _ruled(n: int, thick: int, *, rows: bool = True, columns: bool = True) -> NDArray[np.uint8]:
    mask = np.zeros((FINE, FINE), np.uint8)
    at = (np.arange(n) * FINE / n).astype(int)
    for k in range(thick):
        if rows:
            mask[(at + k) % FINE] = 255
        if columns:
            mask[:, (at + k) % FINE] = 255
    return mask


def _pen(rng: Rng, out: Image) -> Image:
    """Sometimes handwriting-like strokes and words on top."""
    if rng.random() < 0.5:
        mask = lettering(rng, int(rng.integers(1, 9)), (0.8, 3.5), FINE)
        for _ in range(int(rng.integers(0, 6))):
            line = np.cumsum(rng.normal(0, 40, (12, 2)), axis=0) + rng.uniform(0, FINE, 2)
            cv2.polylines(mask, [np.int32(line)], False, 220, int(rng.integers(2, 6)), cv2.LINE_AA)
        out = blend(out, _ink(rng), _cover(mask))
    return out


def squared(rng: Rng) -> Stuff:
    """Squared paper, any pitch, some with heavier lines every five or ten."""
    n = int(rng.choice([20, 24, 30, 40]))
    mask = _ruled(n, int(rng.integers(1, 5)))
    cover = _cover(mask) * rng.uniform(0.3, 0.9)
    if rng.random() < 0.4:
        cover = np.maximum(
            cover, _cover(_ruled(n // int(rng.choice([5, 10]) if n % 10 == 0 else 4), 6))
        )
    out = _pen(rng, blend(_paper(rng), _ink(rng), cover))
    return Stuff(
        out, n * rng.uniform(2, 6), 0.85, height=waves(rng, rng.uniform(0, 0.6), 90), worn=0.5
    )


def lined(rng: Rng) -> Stuff:
    """Lined paper with or without a margin."""
    n = int(rng.choice([12, 16, 20]))
    out = blend(
        _paper(rng),
        _ink(rng),
        _cover(_ruled(n, int(rng.integers(2, 5)), columns=False)) * rng.uniform(0.4, 0.9),
    )
    return Stuff(
        _pen(rng, out),
        n * rng.uniform(6, 9),
        0.85,
        height=waves(rng, rng.uniform(0, 0.6), 90),
        worn=0.5,
    )


def dotted(rng: Rng) -> Stuff:
    """Dotted paper."""
    n = int(rng.choice([20, 30]))
    dot = cv2.dilate(
        cv2.bitwise_and(_ruled(n, 1, columns=False), _ruled(n, 1, rows=False)),
        np.ones((2, 2), np.uint8),
        iterations=int(rng.integers(2, 7)),
    )
    return Stuff(
        _pen(rng, blend(_paper(rng), _ink(rng), _cover(dot))),
        n * rng.uniform(3.5, 6),
        0.85,
        worn=0.5,
    )


def _numbers(rng: Rng, mask: NDArray[np.uint8], n: int, size: float) -> None:
    for k in range(n):
        at = int(k * FINE / n) + 8
        cv2.putText(mask, str(k), (at, 60), int(rng.choice([0, 2])), size, 255, 2, cv2.LINE_AA)
        cv2.putText(mask, str(k), (8, at + 40), int(rng.choice([0, 2])), size, 255, 2, cv2.LINE_AA)


def cutting_mat(rng: Rng, *, dark: bool = False) -> Stuff:
    """Self-healing mat: grid, numbers, slanted guides, knife cuts."""
    green = np.array([0.01, 0.16, 0.08]) * rng.uniform(0.5, 1.8)
    rgb = black(rng) if dark else (green if rng.random() < 0.7 else colour(rng, 0.03, 0.25, 1.0))
    n = int(rng.choice([8, 10, 12, 16]))
    mask = np.maximum(_ruled(n, 3), (_ruled(n * int(rng.choice([2, 5])), 1) * 0.5).astype(np.uint8))
    if dark:
        for k in range(0, FINE, 16):  # scale ticks instead of a fine grid
            cv2.line(mask, (k, 0), (k, 24 if k % 80 else 44), 200, 1)
    _numbers(rng, mask, n, float(rng.uniform(0.9, 1.8)))
    for angle in rng.choice([30, 45, 60], int(rng.integers(0, 3)), replace=False):
        end = (int(FINE * np.cos(np.radians(angle)) * 2), int(FINE * np.sin(np.radians(angle)) * 2))
        cv2.line(mask, (0, 0), end, 200, 3, cv2.LINE_AA)
    base = np.tile(tinted(rgb, np.clip(1 + 0.08 * noise(rng, "sand"), 0.5, 1.5)), (2, 2, 1))
    ink = (
        np.array([0.5, 0.55, 0.3]) * rng.uniform(0.5, 1.4)
        if rng.random() < 0.6
        else np.full(3, 0.65)
    )
    out = blend(base, ink, _cover(mask) * rng.uniform(0.4, 0.95))
    return Stuff(out, n * rng.uniform(9.5, 13), rng.uniform(0.4, 0.75), worn=0.8)


def moulded_mat(rng: Rng) -> Stuff:
    """Silicone bench mat: moulded ribs, numbered trays, raised rims. Blue most often."""
    blue = np.array([0.02, 0.17, 0.38]) * rng.uniform(0.5, 1.6) * rng.uniform(0.85, 1.15, 3)
    rgb = blue if rng.random() < 0.7 else colour(rng, 0.02, 0.4, 0.9)
    tile, pitch = rng.uniform(90, 160), rng.uniform(2.5, 9)
    trays, depth, rim = int(rng.integers(2, 6)), rng.uniform(0.4, 1.6), rng.uniform(1.0, 2.5)
    ribbed, lean = rng.random() < 0.7, rng.uniform(0, np.pi)
    off = rng.uniform(0, tile, 2)

    def height(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        u, v = (x + off[0]) % tile, (y + off[1]) % tile
        cell = tile / trays
        inside = np.minimum(
            np.minimum(u % cell, cell - u % cell), np.minimum(v % cell, cell - v % cell)
        )
        upper = v > tile * 0.5  # trays in one half, ribs or plain in the other
        tray = np.where(upper, np.clip((inside - rim) / 0.8, 0, 1), 1.0)
        rib = 0.5 + 0.5 * np.cos(2 * np.pi * (x * np.cos(lean) + y * np.sin(lean)) / pitch)
        ribs = np.where(~upper & ribbed, 1 - np.clip(3 * rib - 1.6, 0, 1), 1.0)
        return -depth * tray * (0.4 + 0.6 * ribs)

    mask = np.zeros((FINE, FINE), np.uint8)
    for k in range(trays * 2):
        at = (int(rng.uniform(0, 0.9) * FINE), int(rng.uniform(0.05, 1) * FINE))
        text = str(k + 1) if rng.random() < 0.7 else word(rng)
        cv2.putText(
            mask,
            text,
            at,
            int(rng.choice([0, 2])),
            float(rng.uniform(1.5, 4)),
            255,
            int(rng.integers(2, 7)),
            cv2.LINE_AA,
        )
    if rng.random() < 0.5:  # a printed ruler
        for k in range(0, FINE, 20):
            cv2.line(mask, (k, FINE // 2), (k, FINE // 2 + (50 if k % 200 == 0 else 26)), 255, 2)
    base = np.tile(tinted(rgb, np.clip(1 + 0.04 * noise(rng, "sand"), 0.5, 1.5)), (2, 2, 1))
    ink = rgb * rng.uniform(0.3, 0.7) if rng.random() < 0.6 else np.full(3, 0.7)
    out = blend(base, np.minimum(ink, 0.9), _cover(cv2.GaussianBlur(mask, (0, 0), 1)))
    return Stuff(out, tile, rng.uniform(0.35, 0.8), height=height, worn=0.8)


def print_page(rng: Rng) -> Stuff:
    """A page of text in lines, with headings."""
    mask = np.zeros((FINE, FINE), np.uint8)
    pitch, y = int(rng.integers(34, 80)), 20
    font = int(rng.choice([0, 2, 3, 4]))
    while y < FINE - pitch:
        big = rng.random() < 0.08
        size = pitch / 40 * (1.5 if big else 0.85)
        text = " ".join(word(rng) for _ in range(14))
        if rng.random() < 0.9:
            cv2.putText(
                mask,
                text,
                (int(rng.integers(0, 60)), y + pitch),
                font,
                size,
                255,
                3 if big else 1 + (pitch > 55),
                cv2.LINE_AA,
            )
        y += int(pitch * (1.8 if big else 1.15))
    return Stuff(
        blend(_paper(rng), _ink(rng) * 0.4, _cover(mask)),
        rng.uniform(60, 180),
        0.8,
        height=waves(rng, rng.uniform(0, 0.6), 90),
        worn=0.4,
    )


def diagram(rng: Rng) -> Stuff:
    """Circuit-like drawing: runs at right angles, boxes, circles, captions."""
    mask = lettering(rng, int(rng.integers(10, 40)), (0.7, 1.6), FINE)
    for _ in range(int(rng.integers(20, 60))):
        p = rng.integers(0, FINE // 32, 2) * 32
        for _ in range(int(rng.integers(2, 6))):
            q = p.copy()
            q[rng.integers(0, 2)] += int(rng.integers(-10, 11)) * 32
            cv2.line(mask, tuple(int(k) for k in p), tuple(int(k) for k in q), 255, 3)
            p = q
        end = tuple(int(k) for k in p)
        if rng.random() < 0.5:
            cv2.rectangle(
                mask,
                end,
                (end[0] + int(rng.integers(40, 260)), end[1] + int(rng.integers(40, 200))),
                255,
                3,
            )
        else:
            cv2.circle(
                mask,
                end,
                int(rng.integers(6, 60)),
                255,
                -1 if rng.random() < 0.4 else 3,
                cv2.LINE_AA,
            )
    rgb = np.array([0.02, 0.06, 0.25]) if rng.random() < 0.25 else None  # a blueprint now and then
    base, ink = (
        (_paper(rng), _ink(rng))
        if rgb is None
        else (np.tile(flat(rgb), (2, 2, 1)), np.full(3, 0.7))
    )
    return Stuff(blend(base, ink, _cover(mask)), rng.uniform(80, 200), 0.85, worn=0.4)


def newsprint(rng: Rng) -> Stuff:
    """Grey columns of small type with a coarse-screened picture."""
    mask = np.zeros((FINE, FINE), np.uint8)
    columns = int(rng.integers(3, 6))
    width = FINE // columns
    for c in range(columns):
        for y in range(20, FINE, 26):
            if rng.random() < 0.94:
                text = " ".join(word(rng).lower() for _ in range(6))
                tile = np.zeros((26, width - 30), np.uint8)
                cv2.putText(tile, text, (0, 19), 5, 0.95, 230, 1, cv2.LINE_AA)
                mask[y : y + 26, c * width + 12 : c * width + width - 18] = tile[: FINE - y]
    y, x = np.mgrid[0:700, 0:900]
    screen = np.cos(x * 0.55) + np.cos(y * 0.55) > 2.2 * np.sin(
        x / 130 + rng.uniform(0, 6)
    ) * np.cos(y / 170)
    top, left = int(rng.integers(0, FINE - 700)), int(rng.integers(0, FINE - 900))
    mask[top : top + 700, left : left + 900] = screen * 220
    return Stuff(
        blend(_paper(rng) * 0.75, (0.04, 0.04, 0.04), _cover(mask)),
        rng.uniform(120, 200),
        0.9,
        height=waves(rng, 0.8, 70),
        worn=0.4,
    )


PICTURES = ("coffee", "astronaut", "chelsea", "rocket", "brick", "gravel", "grass", "coins", "page",
            "text", "retina", "hubble_deep_field", "moon", "immunohistochemistry", "camera", "clock")  # fmt: skip
# pictures that only the test look lays down
HELD_PICTURES = ("gravel", "coins", "page", "hubble_deep_field", "chelsea")


@cache
def _picture(name: str) -> NDArray[np.uint8] | None:
    try:
        from skimage import data  # noqa: PLC0415 - an extra that the studio does without

        image = np.asarray(getattr(data, name)())
    except (ImportError, AttributeError, OSError, ValueError):  # not in this installation
        return None
    if image.ndim == 2:
        image = np.repeat(image[..., None], 3, 2)
    side = min(image.shape[:2])
    return cv2.resize(
        np.ascontiguousarray(image[:side, :side, :3]), (SIDE, SIDE), interpolation=cv2.INTER_AREA
    )


def picture(rng: Rng, *, held: bool = False) -> Stuff:
    """A photographic print or a printed cloth: pictures that come with scikit-image."""
    names = [n for n in PICTURES if (n in HELD_PICTURES) == held]
    image = _picture(str(rng.choice(names)))
    if image is None:
        return print_page(rng)
    half = np.concatenate([image, image[:, ::-1]], 1)  # mirrored, so that the tiles have no seams
    srgb = np.concatenate([half, half[::-1]], 0).astype(np.float32) / 255
    out = srgb**2.2 * rng.uniform(0.4, 0.9) + 0.01
    return Stuff(
        out.astype(np.float32),
        rng.uniform(100, 400),
        rng.uniform(0.15, 0.9),
        height=waves(rng, rng.uniform(0, 0.6), 90),
        worn=0.4,
    )
