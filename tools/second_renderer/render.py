"""Rendering with Cycles: the photo in linear light, and the label map."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from .blender import Nodes, bpy
from .pinhole import Window

Picture = NDArray[np.float32]

COARSE_PERCENT = 75  # size of what is rendered of the photo beyond the joints' window
COARSE_SAMPLES = 3
SAMPLES_ALONE = 5  # where there is no window
FULL_SAMPLES_PX = 110_000  # area up to which a window gets all samples; larger ones get fewer
LEAST_SAMPLES = 6
SEAM_PX = 14  # over which the window fades into the rest


def set_up(size: tuple[int, int], samples: int, threads: int) -> None:
    """Settings that the photo and the label map share."""
    scene = bpy.context.scene
    scene.render.engine = "CYCLES"
    scene.render.resolution_x, scene.render.resolution_y = size
    scene.render.resolution_percentage = 100
    scene.render.threads_mode = "FIXED"
    scene.render.threads = threads
    scene.render.image_settings.file_format = "OPEN_EXR"
    scene.render.image_settings.color_depth = "32"
    scene.render.image_settings.color_mode = "RGB"
    cycles = scene.cycles
    cycles.device = "CPU"
    cycles.samples = samples
    cycles.use_adaptive_sampling = True
    cycles.adaptive_threshold = 0.12
    cycles.adaptive_min_samples = 4
    cycles.max_bounces, cycles.diffuse_bounces, cycles.glossy_bounces = 4, 0, 4
    cycles.transmission_bounces = 0
    cycles.sample_clamp_indirect = 4.0
    cycles.sample_clamp_direct = 30.0
    cycles.caustics_reflective = cycles.caustics_refractive = False
    cycles.blur_glossy = 0.5
    cycles.use_denoising = True
    cycles.denoiser = "OPENIMAGEDENOISE"
    cycles.denoising_input_passes = "RGB_ALBEDO_NORMAL"
    cycles.denoising_prefilter = "NONE"
    cycles.denoising_quality = "FAST"


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
        data = np.empty(len(image.pixels), np.float32)
        image.pixels.foreach_get(data)
        bpy.data.images.remove(image)
    return np.ascontiguousarray(data.reshape(high, wide, -1)[::-1, :, :3])


def render_photo(size: tuple[int, int], window: Window | None, samples: int) -> Picture:
    """Linear RGB (h, w, 3): the whole view coarsely, the window, if any, finely over it."""
    scene = bpy.context.scene
    scene.render.resolution_percentage = COARSE_PERCENT
    scene.cycles.samples = COARSE_SAMPLES if window else SAMPLES_ALONE
    scene.cycles.use_adaptive_sampling = False
    whole = cv2.resize(_render(), size, interpolation=cv2.INTER_CUBIC)
    whole = cv2.GaussianBlur(np.maximum(whole, 0), (0, 0), 0.8)
    scene.render.resolution_percentage = 100
    scene.cycles.use_adaptive_sampling = True
    if window is None:
        return whole
    part = _render_window(size, window, samples)
    left, top, _, _ = window
    high, wide = part.shape[:2]
    down, across = (
        np.clip(np.minimum(np.arange(n) + 1, n - np.arange(n)) / SEAM_PX, 0, 1)
        for n in (high, wide)
    )
    mask = (down[:, None] * across)[..., None]
    place = whole[top : top + high, left : left + wide]
    place[:] = mask * part + (1 - mask) * place
    return whole


def _render_window(size: tuple[int, int], window: Window, samples: int) -> Picture:
    left, top, right, bottom = window
    scene = bpy.context.scene
    border = scene.render
    border.use_border = border.use_crop_to_border = True
    border.border_min_x, border.border_max_x = left / size[0], right / size[0]
    border.border_min_y = 1 - bottom / size[1]
    border.border_max_y = 1 - top / size[1]
    area_px = (right - left) * (bottom - top)
    fitting = np.clip(samples * FULL_SAMPLES_PX / area_px, LEAST_SAMPLES, samples)
    scene.cycles.samples = int(fitting)
    part = _render()
    border.use_border = border.use_crop_to_border = False
    return part


def render_labels() -> NDArray[np.uint8]:
    """Label map (h, w): what is seen at each pixel's middle. The scene is of no use afterwards."""
    scene = bpy.context.scene
    nodes = Nodes("labels")
    index = nodes.add("ObjectInfo").outputs["Object Index"]
    glow = nodes.add("Emission", Color=index, Strength=1.0)
    out = nodes.add("OutputMaterial")
    nodes.tree.links.new(glow.outputs[0], out.inputs[0])
    nodes.material.cycles.emission_sampling = "NONE"
    scene.view_layers[0].material_override = nodes.material
    for thing in scene.objects:
        if thing.type == "LIGHT":
            thing.hide_render = True
    scene.world = None
    cycles = scene.cycles
    cycles.samples, cycles.use_denoising, cycles.use_adaptive_sampling = 1, False, False
    cycles.max_bounces = 0
    cycles.sample_clamp_direct = cycles.sample_clamp_indirect = 0
    cycles.pixel_filter_type, cycles.filter_width = "BOX", 0.01
    scene.camera.data.dof.use_dof = False
    return np.round(_render()[..., 0]).astype(np.uint8)
