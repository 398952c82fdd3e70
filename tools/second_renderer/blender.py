"""Blender as a Python module: meshes and nodes put into its scene in few words.

Only this module imports bpy; whatever imports it needs Blender.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import IntEnum
from typing import Any

import numpy as np

from .meshes import Array, Mesh

NEEDED = (
    "bpy is needed: pip install 'bpy>=4.5,<5' under Python 3.11 (or this project's extra "
    "`second`); it is Blender as a Python module."
)
try:
    import bpy
    from mathutils import Matrix, Vector
except ImportError:
    raise ImportError(NEEDED, name="bpy") from None

__all__ = ["Label", "Matrix", "Nodes", "Vector", "add_mesh", "bpy", "grey", "rgb"]

# Blender's own types, which are not known where bpy is not installed
Material = Any
Object = Any
Value = Any  # a number, a colour or vector, or another node's output
Colour = tuple[float, float, float, float]


class Label(IntEnum):
    """What a pixel of the label map shows; GROUND is also everything that is no part of a joint."""

    GROUND = 0
    INSULATION = 1
    CONDUCTOR = 2
    SOLDER = 3
    METAL = 4
    HOUSING = 5
    STRAY = 6
    SLEEVE = 7


def rgb(red: float, green: float, blue: float) -> Colour:
    """Linear colour, opaque."""
    return red, green, blue, 1.0


def grey(tone: float) -> Colour:
    """Linear grey, opaque."""
    return rgb(tone, tone, tone)


def add_mesh(
    name: str, shape: Mesh, material: Material, label: Label, *, sharp_deg: float = 35.0
) -> Object:
    """Put a mesh into the scene, smooth but for edges sharper than sharp_deg (0: everywhere)."""
    vertices = np.asarray(shape.vertices, np.float32)
    faces = np.asarray(shape.faces, np.int32)
    mesh = bpy.data.meshes.new(name)
    mesh.vertices.add(len(vertices))
    mesh.vertices.foreach_set("co", vertices.ravel())
    mesh.loops.add(faces.size)
    mesh.loops.foreach_set("vertex_index", faces.ravel())
    mesh.polygons.add(len(faces))
    starts = np.arange(0, faces.size, faces.shape[1], dtype=np.int32)
    mesh.polygons.foreach_set("loop_start", starts)
    mesh.polygons.foreach_set("use_smooth", np.ones(len(faces), bool))
    mesh.update(calc_edges=True)
    mesh.validate()
    # validation may drop vertices, and then the normals belong to none
    if shape.normals is not None and len(shape.normals) == len(mesh.vertices):
        mesh.normals_split_custom_set_from_vertices(shape.normals.tolist())
    elif sharp_deg:
        mesh.set_sharp_from_angle(angle=np.radians(sharp_deg))
    mesh.materials.append(material)
    thing = bpy.data.objects.new(name, mesh)
    thing.pass_index = int(label)
    bpy.context.scene.collection.objects.link(thing)
    return thing


def add_picture(name: str, colour: Array, alpha: Array) -> Value:
    """Float image of a colour (h, w, 3) and an alpha (h, w), both linear."""
    high, wide = alpha.shape
    image = bpy.data.images.new(name, wide, high, alpha=True, float_buffer=True)
    image.colorspace_settings.name = "Non-Color"
    image.alpha_mode = "CHANNEL_PACKED"
    data = np.empty((high, wide, 4), np.float32)
    data[..., :3] = colour
    data[..., 3] = alpha
    image.pixels.foreach_set(data.ravel())
    return image


class Nodes:
    """The nodes of a new material, or of the tree given, and short ways to wire them."""

    def __init__(self, name: str, tree: Value = None) -> None:
        """`tree`: the node tree to fill instead of that of a new material."""
        if tree is None:
            self.material = bpy.data.materials.new(name)
            self.material.use_nodes = True
            tree = self.material.node_tree
        tree.nodes.clear()
        self.tree = tree

    def add(
        self, kind: str, settings: Mapping[str, object] | None = None, **inputs: Value
    ) -> Value:
        """Add a node; inputs by name, "_" for a space, or by number, "_0" for the first."""
        node = self.tree.nodes.new("ShaderNode" + kind)
        for key, value in (settings or {}).items():
            setattr(node, key, value)
        for key, value in inputs.items():
            self.put(node, int(key[1:]) if key[0] == "_" else key.replace("_", " "), value)
        return node

    def put(self, node: Value, key: int | str, value: Value) -> None:
        """Set one input of a node, or link it."""
        if isinstance(value, bpy.types.NodeSocket):
            self.tree.links.new(value, node.inputs[key])
        else:
            node.inputs[key].default_value = value

    def math(self, operation: str, a: Value, b: Value) -> Value:
        """A sum, product or the like of two values."""
        return self.add("Math", {"operation": operation}, _0=a, _1=b).outputs[0]

    def mix(self, factor: Value, a: Value, b: Value) -> Value:
        """Colour a where the factor is 0, b where it is 1."""
        node = self.add("Mix", {"data_type": "RGBA"})
        for key, value in ((0, factor), (6, a), (7, b)):  # of its inputs, those for colours
            self.put(node, key, value)
        return node.outputs[2]

    def noise(
        self, scale: float, *, detail: float = 1.0, stretch: tuple[int, int, int] | None = None
    ) -> Value:
        """Noise, 0 to 1, with `scale` waves a D; finer along an axis that is stretched."""
        where = self.add("TexCoord").outputs["Object"]
        if stretch:
            where = self.add("Mapping", Vector=where, Scale=stretch).outputs[0]
        return self.add("TexNoise", Vector=where, Scale=scale, Detail=detail).outputs["Fac"]

    def spread(self, value: Value, low: float, high: float) -> Value:
        """A value mapped from low..high to 0..1, and no further."""
        node = self.add("MapRange", Value=value)
        self.put(node, 1, low)
        self.put(node, 2, high)
        return node.outputs[0]

    def along(self) -> Value:
        """The x of the place, in D."""
        place = self.add("TexCoord").outputs["Object"]
        return self.add("SeparateXYZ", Vector=place).outputs[0]

    def finish(
        self,
        colour: Value,
        rough: float,
        metallic: float = 0.0,
        height: Value = None,
        bump: float = 0.1,
        distance: float = 0.02,
    ) -> Material:
        """The material, with this surface; bumps by `height`, of that strength and depth in D."""
        surface = self.add("BsdfPrincipled", Base_Color=colour, Roughness=rough, Metallic=metallic)
        if height is not None:
            normal = self.add("Bump", Strength=bump, Distance=distance, Height=height)
            self.put(surface, "Normal", normal.outputs[0])
        out = self.add("OutputMaterial")
        self.tree.links.new(surface.outputs[0], out.inputs[0])
        return self.material
