"""Blender as a Python module: an empty scene, and meshes, boxes and lights put into it.

Only this module imports bpy; whatever imports it needs Blender.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .fields import Array
from .meshes import Mesh, sweep, turned

NEEDED = (
    "bpy is needed: pip install 'bpy>=4.5,<5' under Python 3.11 (or this project's extra "
    "`second`); it is Blender as a Python module."
)
try:
    import bpy
    from mathutils import Matrix, Vector
except ImportError:
    raise ImportError(NEEDED, name="bpy") from None

__all__ = ["Matrix", "Vector", "bpy"]

# Blender's own types, which are not known where bpy is not installed
Material = Any
Object = Any

SMOOTH_DEG = 180.0  # no edge is sharper


def start_scene() -> None:
    """An empty scene in place of whatever was there."""
    bpy.ops.wm.read_factory_settings(use_empty=True)


def link(name: str, data: object) -> Object:
    """Put data into the scene as an object."""
    thing = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(thing)
    return thing


def add_mesh(
    name: str, shape: Mesh, material: Material, *, sharp_deg: float = SMOOTH_DEG
) -> Object:
    """Put a mesh into the scene, smooth but for edges sharper than sharp_deg."""
    mesh = bpy.data.meshes.new(name)
    if shape.caps is None:
        _fill(mesh, shape)
    else:
        faces = shape.faces.tolist() + shape.caps.tolist()
        mesh.from_pydata(shape.vertices.tolist(), [], faces)
    for key, values in shape.values.items():
        attribute = mesh.attributes.new(key, "FLOAT", "POINT")
        attribute.data.foreach_set("value", np.asarray(values, np.float32).ravel())
    mesh.polygons.foreach_set("use_smooth", np.ones(len(mesh.polygons), bool))
    if sharp_deg < SMOOTH_DEG:
        mesh.set_sharp_from_angle(angle=np.radians(sharp_deg))
    mesh.materials.append(material)
    return link(name, mesh)


def add_tube(
    name: str, line: ArrayLike, radii: ArrayLike, material: Material, sides: int = 24
) -> Object:
    """Put a tube along a line (n, 3) with the radii (n,) into the scene."""
    return add_mesh(name, sweep(line, radii, sides), material, sharp_deg=40)


def add_turned(
    name: str,
    centre: ArrayLike,
    axis: ArrayLike,
    profile: Sequence[tuple[float, float]],
    material: Material,
    sides: int = 40,
) -> Object:
    """Put a solid of revolution into the scene, see `meshes.turned`."""
    return add_mesh(name, turned(centre, axis, profile, sides), material, sharp_deg=35)


def _fill(mesh: Any, shape: Mesh) -> None:  # noqa: ANN401 - Blender's own type
    """The mesh's vertices and faces from arrays, which is faster than from lists."""
    vertices = np.asarray(shape.vertices, np.float32)
    faces = np.asarray(shape.faces, np.int32)
    count, corners = faces.shape
    mesh.vertices.add(len(vertices))
    mesh.vertices.foreach_set("co", vertices.ravel())
    mesh.loops.add(faces.size)
    mesh.loops.foreach_set("vertex_index", faces.ravel())
    mesh.polygons.add(count)
    starts = np.arange(0, faces.size, corners, dtype=np.int32)
    mesh.polygons.foreach_set("loop_start", starts)
    mesh.polygons.foreach_set("loop_total", np.full(count, corners, np.int32))
    mesh.update(calc_edges=True)
    mesh.validate()


def add_box(
    centre: ArrayLike,
    size: tuple[float, float, float],
    material: Material,
    bevel: float = 0.4,
    turn: tuple[float, float, float] | None = None,
) -> Object:
    """Put a box with rounded edges into the scene; sizes and bevel in mm, turn in rad."""
    bpy.ops.mesh.primitive_cube_add(size=1, location=centre)
    thing = bpy.context.object
    thing.scale = size
    bpy.ops.object.transform_apply(location=False, rotation=False, scale=True)
    rounded = thing.modifiers.new("bevel", "BEVEL")
    rounded.width, rounded.segments, rounded.limit_method = bevel, 3, "NONE"
    if turn:
        thing.rotation_euler = turn
    _dress(thing, material)
    thing.data.set_sharp_from_angle(angle=np.radians(50))
    return thing


def add_ellipsoid(
    centre: ArrayLike,
    half_axes: tuple[float, float, float],
    turn: tuple[float, float, float],
    material: Material,
) -> Object:
    """Put an ellipsoid into the scene."""
    bpy.ops.mesh.primitive_uv_sphere_add(radius=1, location=centre)
    thing = bpy.context.object
    thing.scale, thing.rotation_euler = half_axes, turn
    _dress(thing, material)
    return thing


def add_plane(size: float, z: float, turn: float, material: Material) -> Object:
    """Put a level square into the scene, turned about z."""
    bpy.ops.mesh.primitive_plane_add(size=size, location=(0, 0, z))
    thing = bpy.context.object
    thing.data.materials.append(material)
    thing.rotation_euler[2] = turn
    return thing


def _dress(thing: Object, material: Material) -> None:
    thing.data.materials.append(material)
    smooth = np.ones(len(thing.data.polygons), bool)
    thing.data.polygons.foreach_set("use_smooth", smooth)


def add_sign(sign: str, size: float, place: ArrayLike, material: Material) -> Object:
    """Put a raised character into the scene, to be read with the terminal upward."""
    curve = bpy.data.curves.new("sign", "FONT")
    curve.body, curve.size, curve.extrude = sign, size, 0.12
    curve.align_x = curve.align_y = "CENTER"
    thing = link("sign", curve)
    thing.location = place
    thing.rotation_euler = (0, 0, -np.pi / 2)
    curve.materials.append(material)
    return thing


def add_light(
    kind: str,
    place: Array,
    target: Array,
    energy: float,
    size: float,
    colour: tuple[float, float, float],
) -> Object:
    """Put a light into the scene, "AREA" (a disk, size: its diameter) or "POINT" (its radius)."""
    data = bpy.data.lights.new("light", kind)
    data.energy, data.color = energy, colour
    if kind == "AREA":
        data.shape, data.size = "DISK", size
    else:
        data.shadow_soft_size = size
    thing = link("light", data)
    thing.location = place
    way = Vector(target) - Vector(place)
    thing.rotation_euler = way.to_track_quat("-Z", "Y").to_euler()
    return thing
