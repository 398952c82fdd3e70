"""Rendering with Cycles: the photo in linear light, coarse all over and finer round the joints."""

from __future__ import annotations

import contextlib
import math
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from .blender import bpy
from .fields import Array

Picture = NDArray[np.float32]

COARSE_SIDE_PX = 500  # longer side of what is rendered of the whole view
COARSE_SAMPLES = 8
WINDOW_PX = 190e3  # area up to which the joints' window is rendered at the photo's own scale
FINER = 1.15  # a window that would be no finer than this is left out
SEAM = 0.1  # of the window's shorter side, over which it fades into the rest


def set_up(size: tuple[int, int], threads: int) -> None:
    """Settings of all that is rendered of a photo of (width, height) pixels."""
    scene = bpy.context.scene
    scene.render.engine = "CYCLES"
    scene.render.threads_mode = "FIXED"
    scene.render.threads = threads
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.render.use_persistent_data = True
    scene.render.image_settings.file_format = "OPEN_EXR"
    scene.render.image_settings.color_depth = "16"
    cycles = scene.cycles
    cycles.device = "CPU"
    cycles.use_adaptive_sampling = True
    cycles.adaptive_threshold = 0.08
    cycles.adaptive_min_samples = 8
    cycles.use_denoising = True
    cycles.denoiser = "OPENIMAGEDENOISE"
    cycles.denoising_prefilter = "FAST"
    cycles.max_bounces, cycles.diffuse_bounces, cycles.glossy_bounces = 3, 1, 2
    cycles.transmission_bounces = 1
    cycles.sample_clamp_indirect = 5.0
    cycles.caustics_reflective = False
    cycles.blur_glossy = 0.5


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep Blender's own progress lines off the terminal; they pass Python by."""
    keep = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        os.dup2(keep, 1)
        os.close(keep)
        os.close(nowhere)


def _render() -> Picture:
    """The scene as it is set: linear RGB (h, w, 3), first row on top."""
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "picture.exr")
        bpy.context.scene.render.filepath = path
        with _quiet():
            bpy.ops.render.render(write_still=True)
        image = bpy.data.images.load(path)
        image.colorspace_settings.name = "Non-Color"
        wide, high = image.size
        data = np.empty(wide * high * 4, np.float32)
        image.pixels.foreach_get(data)
        bpy.data.images.remove(image)
    return data.reshape(high, wide, 4)[::-1, :, :3].copy()


def _shot(scale: float, samples: int, size: tuple[int, int]) -> Picture:
    """What is set to be seen, rendered at a scale of the photo and enlarged to (width, height)."""
    scene = bpy.context.scene
    scene.render.resolution_percentage = max(1, round(100 * scale))
    scene.cycles.samples = samples
    return cv2.resize(_render(), size, interpolation=cv2.INTER_CUBIC).clip(0)


def render_photo(
    size: tuple[int, int], window: tuple[Array, Array] | None, samples: int
) -> Picture:
    """Linear RGB (h, w, 3): the whole view coarsely, the window, if any, finely over it.

    window: its corners (2,), low and high, in pixels.
    """
    border = bpy.context.scene.render
    border.use_border = border.use_crop_to_border = False
    coarse = min(1.0, COARSE_SIDE_PX / max(size))
    whole = _shot(coarse, COARSE_SAMPLES, size)
    if window is None:
        return whole
    low, high = window
    fine = min(1.0, math.sqrt(WINDOW_PX / np.prod(high - low)))
    if fine <= coarse * FINER:
        return whole
    border.use_border = border.use_crop_to_border = True
    border.border_min_x, border.border_max_x = low[0] / size[0], high[0] / size[0]
    border.border_min_y, border.border_max_y = 1 - high[1] / size[1], 1 - low[1] / size[1]
    left, top = (int(value) for value in np.round(low))
    right, bottom = (int(value) for value in np.round(high))
    part = _shot(fine, samples, (right - left, bottom - top))
    mask = _fade(size, (left, top, right, bottom))
    place = whole[top:bottom, left:right]
    place[:] = place * (1 - mask) + part * mask
    return whole


def _fade(size: tuple[int, int], window: tuple[int, int, int, int]) -> Picture:
    """How far the window (left, top, right, bottom) covers the rest: 0 to 1, (h, w, 1)."""
    left, top, right, bottom = window
    seam = int(SEAM * min(right - left, bottom - top))
    mask = np.zeros(size[::-1], np.float32)
    # at the picture's own edges nothing fades
    first_x, last_x = left + seam * (left > 0), right - seam * (right < size[0])
    first_y, last_y = top + seam * (top > 0), bottom - seam * (bottom < size[1])
    mask[first_y:last_y, first_x:last_x] = 1
    for _ in range(2):
        mask = cv2.blur(mask, (seam, seam))
    return mask[top:bottom, left:right, None]
