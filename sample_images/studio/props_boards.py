"""Circuit boards: printed traces, pads, letters, chips, domes of solder. Label 0 throughout."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from . import materials
from .grounds_noise import stroke, word
from .part import Material, Part
from .props_finish import metal, plastic, textured
from .props_shapes import Mesh, ball, box, circle, merge, move, part, plate, turned

Rng = np.random.Generator


def _pads(rng: Rng, image: NDArray[np.uint8], tin: tuple[int, ...]) -> list[tuple[int, int, int]]:
    """Draw rows of pads; return (x, y, radius) of each in px."""
    high, px = image.shape[:2]
    pads = []
    for _ in range(int(rng.integers(1, 9))):  # rows of round or square pads
        n, pitch, r = int(rng.integers(1, 12)), int(rng.integers(22, 70)), int(rng.integers(5, 18))
        x, y = (int(k) for k in rng.integers(0, [px, high]))
        across = bool(rng.integers(2))
        square = bool(rng.integers(2))
        for k in range(n):
            cx, cy = (x + k * pitch, y) if across else (x, y + k * pitch)
            if square:
                cv2.rectangle(image, (cx - r, cy - r), (cx + r, cy + r), tin, -1)
            else:
                cv2.circle(image, (cx, cy), r, tin, -1, cv2.LINE_AA)
                if rng.random() < 0.6:
                    cv2.circle(image, (cx, cy), r // 2, (15, 15, 12), -1, cv2.LINE_AA)
            if 0 < cx < px and 0 < cy < high:
                pads.append((cx, cy, r))
    return pads


def _texture(rng: Rng, px: int, high: int) -> tuple[NDArray[np.uint8], list[tuple[int, int, int]]]:
    """SRGB picture of a bare board and its pads (x, y, radius) in px."""
    mask = np.array(
        [
            (14, 70, 30),
            (12, 18, 60),
            (20, 20, 22),
            (110, 14, 16),
            (200, 200, 195),
            (70, 20, 80),
            (150, 110, 40),
        ]
    )[rng.choice(7, p=[0.35, 0.15, 0.22, 0.1, 0.06, 0.05, 0.07])]
    image = np.empty((high, px, 3), np.uint8)
    image[:] = np.clip(mask * rng.uniform(0.6, 1.5), 0, 255)
    trace = tuple(
        int(k) for k in np.clip(image[0, 0] * rng.uniform(1.1, 1.7) + rng.uniform(0, 18), 0, 255)
    )
    for _ in range(int(rng.integers(8, 50))):
        p = rng.integers(0, [px, high])
        pts = [p]
        for _ in range(3):
            d = rng.integers(-1, 2, 2) * int(rng.integers(20, 160))
            pts.append(pts[-1] + d)
        stroke(image, np.array(pts), trace, int(rng.choice([3, 5, 8, 16])))
    tin = tuple(
        int(k)
        for k in (
            rng.choice([(205, 205, 200), (214, 178, 96), (190, 120, 80)]) * rng.uniform(0.8, 1.1)
        ).clip(0, 255)
    )
    pads = _pads(rng, image, tin)
    for _ in range(int(rng.integers(5, 60))):
        cv2.circle(
            image, tuple(int(k) for k in rng.integers(0, [px, high])), 4, tin, 2, cv2.LINE_AA
        )
    ink = (235, 235, 225) if image[0, 0].mean() < 140 else (20, 20, 20)
    for _ in range(int(rng.integers(3, 25))):
        at = tuple(int(k) for k in rng.integers(0, [px, high]))
        cv2.putText(image, word(rng), at, 0, float(rng.uniform(0.35, 1.1)), ink, 1, cv2.LINE_AA)
        if rng.random() < 0.4:
            cv2.rectangle(
                image,
                at,
                (at[0] + int(rng.integers(20, 130)), at[1] + int(rng.integers(20, 90))),
                ink,
                2,
            )
    return image, pads


def board(rng: Rng) -> list[Part]:
    """Board with parts on it, flat on the bench."""
    w, h, t = float(rng.uniform(15, 90)), float(rng.uniform(10, 60)), float(rng.choice([0.8, 1.6]))
    per_mm = 512 / w
    image, pads = _texture(rng, 512, max(int(h * per_mm), 40))
    skin = textured(image, float(rng.uniform(0.15, 0.5)))
    body = box((w, h, t))
    body = Mesh(body.vertices, body.faces, np.column_stack([body.uv[:, 0], 1 - body.uv[:, 1]]))
    out = [part("board", body, skin, smooth=False)]
    domes, pins, chips, tops = [], [], [], []
    share = rng.random()
    for x, y, r in pads:
        at = ((x / per_mm) - w / 2, h / 2 - y / per_mm, t)
        if rng.random() < share:
            dome = ball(1.0, 14, 0.0)
            size = r / per_mm * rng.uniform(0.7, 1.3)
            scaled = Mesh(
                dome.vertices * [size, size, size * rng.uniform(0.25, 1.0)], dome.faces, dome.uv
            )
            domes.append(move(scaled, None, at))
            if rng.random() < 0.3:
                pins.append(
                    move(
                        turned(
                            [(0, 0), (size * 0.3, 0), (size * 0.25, size * 1.6), (0, size * 1.7)],
                            10,
                        ),
                        None,
                        at,
                    )
                )
    for _ in range(int(rng.integers(0, 14))):
        a, b, c = rng.uniform(0.6, 9), rng.uniform(0.5, 6), rng.uniform(0.4, 3)
        x, y = rng.uniform(-w / 2, w / 2), rng.uniform(-h / 2, h / 2)
        tops.append(move(box((a, b, c), 0.1), None, (x, y, t)))
        chips += [
            move(box((a * 0.18, b * 1.06, c * 0.8)), None, (x + s * a * 0.46, y, t))
            for s in (-1, 1)
        ]
    tin = materials.solder(rng, dull=float(rng.random()))
    if domes:
        out.append(part("board-solder", merge(*domes), tin))
    if pins:
        out.append(part("board-pins", merge(*pins), metal(rng)))
    if tops:
        ceramic = Material(
            "chip",
            "plastic",
            tuple(rng.choice([(0.015, 0.015, 0.016), (0.25, 0.17, 0.1), (0.02, 0.02, 0.03)])),
            0.45,
        )
        out += [
            part("board-chips", merge(*tops), ceramic, smooth=False),
            part("board-legs", merge(*chips), tin, smooth=False),
        ]
    for _ in range(int(rng.integers(0, 3))):  # tall cans, or a mounting ring
        r = rng.uniform(1.5, 5)
        at = (rng.uniform(-w / 2, w / 2), rng.uniform(-h / 2, h / 2), t)
        if rng.random() < 0.6:
            can = turned([(0, 0), (r, 0), (r, r * 2), (r * 0.9, r * 2.1), (0, r * 2.1)], 32)
            out.append(
                part(
                    "board-can",
                    move(can, None, at),
                    metal(rng) if rng.random() < 0.5 else plastic(rng),
                )
            )
        else:
            out.append(
                part(
                    "board-eye",
                    move(plate(circle(r, 32), circle(r * 0.55, 32), 0.1), None, at),
                    metal(rng, "copper", "tin", "brass"),
                )
            )
    return out
