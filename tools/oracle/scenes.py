"""Scenes with labels and truth alone, drawn flat: a second each instead of a minute."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING
from unittest import mock

import cv2
import numpy as np

if TYPE_CHECKING:
    from sample_images.studio.part import Part
    from sample_images.studio.scene import Request
    from sample_images.studio.view import Camera

LONGEST_PX = 1000
LEAST_D_PX = 60.0
# sRGB of each region, ground first: far enough apart for the quality gate to read the borders
FLAT = ((92, 108, 88), (170, 40, 38), (184, 110, 72), (196, 198, 200), (205, 170, 84),
        (42, 60, 120), (184, 110, 72), (24, 24, 26))  # fmt: skip
SOFT_PX, NOISE = 0.7, 3.0


def small(ask: Request) -> Request:
    """The request at a size at which tracing one ray a pixel is quick."""
    shrink = min(1.0, LONGEST_PX / max(ask.width, ask.height))
    d_px = ask.d_px * shrink
    if ask.fate != "size":
        d_px = max(d_px, LEAST_D_PX)
    width, height = round(ask.width * shrink), round(ask.height * shrink)
    return replace(ask, width=width, height=height, d_px=d_px, samples=1)


def write(ask: Request, folder: Path) -> Path:
    """Write NAME.jpg (flat colours), NAME.regions.png, NAME.marks.png and NAME.json; the photo.

    The truth is that of sample_images.studio.scene.compose, whose photo is left out.
    """
    from sample_images.studio import scene  # noqa: PLC0415 - heavy
    from sample_images.studio.render import Buffers, render  # noqa: PLC0415

    seen: list[Buffers] = []

    def unlit(parts: list[Part], _lamps: object, camera: Camera, *_: object) -> Buffers:
        seen.append(render(parts, [], camera, samples=1, seed=ask.seed, passes=0))
        return seen[-1]

    def flat(*_: object, **__: object) -> tuple[np.ndarray, dict[str, float]]:
        return drawn(seen[-1].label, ask.seed), {}

    with (
        mock.patch.object(scene, "traced", unlit),
        mock.patch.object(scene.phone, "develop", flat),
        mock.patch.object(scene, "lights", return_value=[]),
        mock.patch.object(scene, "as_taken", lambda _rgb, _label, marks, truth: (marks, truth)),
    ):
        made = scene.compose(ask)
    stem = folder / f"{ask.seed:07d}"
    stem.with_suffix(".jpg").write_bytes(made.jpeg)
    cv2.imwrite(str(stem.with_suffix(".regions.png")), made.label)
    cv2.imwrite(str(stem.with_suffix(".marks.png")), made.marks)
    stem.with_suffix(".json").write_text(json.dumps(made.truth), "utf-8")
    return stem.with_suffix(".jpg")


def drawn(label: np.ndarray, seed: int) -> np.ndarray:
    """The labels (h, w) as a picture (h, w, 3) of 8 bit, as soft as a sharp photo."""
    flat = cv2.GaussianBlur(np.array(FLAT, np.float32)[label], (0, 0), SOFT_PX)
    noise = np.random.default_rng(seed).normal(0, NOISE, flat.shape)
    return np.asarray(np.clip(flat + noise, 0, 255), np.uint8)


def make(first: int, count: int, folder: Path) -> Iterator[Path]:
    """Write scenes first to first + count - 1 of the tuning set; those there already are kept."""
    from sample_images.studio import sets  # noqa: PLC0415 - heavy

    folder.mkdir(parents=True, exist_ok=True)
    for number in range(first, first + count):
        ask = small(sets.request("tuning", number))
        photo = folder / f"{ask.seed:07d}.jpg"
        if not photo.with_suffix(".json").exists():
            write(ask, folder)
        yield photo
