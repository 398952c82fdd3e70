"""The phone's camera: where it stands, what it looks at and how deep its focus is.

Figures are ours, no source.
"""

from __future__ import annotations

import math

import numpy as np

from .blender import Matrix, Vector, bpy, link
from .clutter import add_clutter
from .fields import Rng
from .lights import Stand
from .pinhole import SENSOR_MM, Pinhole
from .plan import Plan
from .pole import WIRE_MM
from .scene import Scene

CLIP_MM = (1, 3000)  # distances that are rendered
OFF_FOCUS_MM = 10  # where a point is as blurred as the plan says


def add_camera(rng: Rng, todo: Plan, scene: Scene) -> tuple[Pinhole, Stand]:
    """Put the camera into the scene, and clutter beyond the joints that it looks at."""
    overall, _ = WIRE_MM[todo.awg]
    px_per_mm = todo.d_px / overall
    wide, high = (side / px_per_mm for side in todo.size_px)
    distance = todo.lens_mm / SENSOR_MM * max(todo.size_px) / px_per_mm
    way = (
        math.sin(todo.pan),
        math.sin(todo.tilt) * math.cos(todo.pan),
        math.cos(todo.tilt) * math.cos(todo.pan),
    )
    cups = scene.poles[0].length * 0.3 if scene.poles else 0
    target = np.array([-0.2 * overall + cups, 0, 0])
    half = (len(scene.poles) - 1) * scene.cups.pitch / 2
    near = 22 + half if todo.hold == "lie" else 15
    far = max(0.32 * math.hypot(wide, high) + 6, near)
    add_clutter(rng, scene.ground_z, far, scene.metals)
    facing = Vector(way).to_track_quat("Z", "Y").to_matrix() @ Matrix.Rotation(todo.roll, 3, "Z")
    turn = np.array(facing)
    # off the picture's middle, but never so far that a joint leaves it
    most = 0.28 * min(wide, high)
    right = max(0, wide / 2 - 1.9 * overall - 5) * 0.7
    up = max(0, high / 2 - 1.9 * overall - half - 4) * 0.6
    shift = [rng.uniform(-1, 1) * min(right, up, most) for _ in range(2)]
    offset = turn @ np.array([*shift, 0])
    place = target + offset + np.array(way) * distance
    thing = link("camera", _lens(rng, todo, distance, px_per_mm))
    thing.matrix_world = Matrix.Translation(place) @ facing.to_4x4()
    bpy.context.scene.camera = thing
    bpy.context.view_layer.update()
    # read back, as Blender keeps it in single precision
    pinhole = Pinhole(np.array(thing.matrix_world), todo.lens_mm, todo.size_px)
    return pinhole, Stand(target, offset, np.array(way), distance, turn)


def _lens(rng: Rng, todo: Plan, distance: float, px_per_mm: float) -> object:
    """The camera's data; distance to what it looks at in mm."""
    data = bpy.data.cameras.new("camera")
    data.sensor_fit, data.sensor_width = "AUTO", SENSOR_MM
    data.lens = todo.lens_mm
    data.clip_start, data.clip_end = CLIP_MM
    data.dof.use_dof = True
    data.dof.focus_distance = max(5, distance + todo.focus_off_mm + rng.normal(0, 0.4))
    aperture = todo.blur_px * distance / (OFF_FOCUS_MM * px_per_mm) / 2  # radius, mm
    data.dof.aperture_fstop = 1e-3 * todo.lens_mm / (2 * aperture)
    return data
