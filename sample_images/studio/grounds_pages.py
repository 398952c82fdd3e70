"""Grounds that were printed: text, drawings, newspaper, pictures."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from .grounds_mats import FINE, cover_of, ink_of, paper
from .grounds_noise import SIDE, blend, flat, lettering, word
from .grounds_stuff import Rng, Stuff, waves


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
        blend(paper(rng), ink_of(rng) * 0.4, cover_of(mask)),
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
        (paper(rng), ink_of(rng))
        if rgb is None
        else (np.tile(flat(rgb), (2, 2, 1)), np.full(3, 0.7))
    )
    return Stuff(blend(base, ink, cover_of(mask)), rng.uniform(80, 200), 0.85, worn=0.4)


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
        blend(paper(rng) * 0.75, (0.04, 0.04, 0.04), cover_of(mask)),
        rng.uniform(120, 200),
        0.9,
        height=waves(rng, 0.8, 70),
        worn=0.4,
    )


# Textures alone: faces, animals and things stay unseen, since the tool is tested on them.
PICTURES = ("brick", "grass", "moon", "immunohistochemistry", "gravel", "page")
HELD_PICTURES = ("gravel", "page")


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
