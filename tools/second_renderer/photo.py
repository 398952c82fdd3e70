"""One photo from its number: scene, camera, render, truth, and the files."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np

from .blender import Matrix, Vector, bpy
from .develop import develop
from .pinhole import Pinhole, joint_window
from .render import render_labels, render_photo, set_up
from .scene import build_scene
from .shot import View, draw_shot, draw_view
from .truth import truth_of

SIZE_PX = (1024, 768)
OTHER_SIZE_PX = (1152, 864)
DEFOCUS_PX = 5.0
SENSOR_MM = 36.0  # Blender's own; only the ratio to the focal length counts
CLIP = (0.5, 500.0)  # distances that are rendered, D


def make(number: int, folder: Path, samples: int, threads: int) -> None:
    """Write NNN.jpg, its label map NNN.png and, last, its truth NNN.json."""
    shot, rng = draw_shot(number)
    hindrance = shot.plan.hindrance
    size = SIZE_PX if rng.random() < 0.92 else OTHER_SIZE_PX
    if rng.random() < 0.25:
        size = size[::-1]
    joints = build_scene(rng, shot)
    view = draw_view(rng, shot, size)
    pinhole = _add_camera(view, size)
    set_up(size, samples, threads)
    stops = rng.uniform(-5.5, -4.5) if hindrance == "dark" else rng.normal(0, 0.25)
    fine = joints and hindrance not in {"defocused", "dark"}  # else there is nothing fine to see
    window = joint_window(joints, pinhole) if fine else None
    linear = render_photo(size, window, samples)
    blur_px = DEFOCUS_PX if hindrance == "defocused" else None
    image = develop(linear, rng, stops, blur_px)
    quality = int(rng.integers(80, 96))
    truth = truth_of(shot, view, joints, pinhole)
    labels = render_labels()
    name = f"{number:03d}"
    cv2.imwrite(str(folder / f"{name}.jpg"), image, [cv2.IMWRITE_JPEG_QUALITY, quality])
    cv2.imwrite(str(folder / f"{name}.png"), labels)
    part = folder / f"{name}.json.part"
    part.write_text(json.dumps(truth, indent=1), "utf-8")
    part.replace(folder / f"{name}.json")


def _add_camera(view: View, size: tuple[int, int]) -> Pinhole:
    """Put the view's camera into the scene, for a photo of (width, height) pixels."""
    data = bpy.data.cameras.new("camera")
    data.sensor_width = SENSOR_MM
    data.sensor_fit = "HORIZONTAL"
    data.lens = view.d_px * view.distance / size[0] * SENSOR_MM
    data.clip_start, data.clip_end = CLIP
    data.shift_x, data.shift_y = view.shift
    data.dof.use_dof = True
    data.dof.focus_distance = view.distance + view.off
    data.dof.aperture_fstop = data.lens * 1e-3 / (view.blur_px * view.distance / view.d_px)
    camera = bpy.data.objects.new("camera", data)
    sine = np.sin(view.tilt)
    way = Vector((sine * np.cos(view.azimuth), sine * np.sin(view.azimuth), np.cos(view.tilt)))
    facing = way.to_track_quat("Z", "Y").to_matrix().to_4x4()
    stand = Matrix.Translation(Vector(view.target) + view.distance * way)
    camera.matrix_world = stand @ facing @ Matrix.Rotation(view.roll, 4, "Z")
    bpy.context.scene.collection.objects.link(camera)
    bpy.context.scene.camera = camera
    bpy.context.view_layer.update()
    # read back, as Blender keeps them in single precision
    focal_px = data.lens / SENSOR_MM * size[0]
    return Pinhole(np.array(camera.matrix_world), focal_px, (data.shift_x, data.shift_y), size)
