"""Materials as trees of Blender's nodes, wired in few words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from .blender import Material, bpy

Value = Any  # a number, a colour or vector, or another node's output
Colour = tuple[float, float, float]


def opaque(colour: Colour) -> tuple[float, float, float, float]:
    """A linear colour with its alpha."""
    return (*colour, 1.0)


def times(colour: Colour, factor: float, plus: float = 0.0) -> Colour:
    """A linear colour, darker or lighter."""
    red, green, blue = (part * factor + plus for part in colour)
    return red, green, blue


class Nodes:
    """The nodes of a new material, which already has a surface and an output."""

    def __init__(self, name: str) -> None:
        """A new material of that name."""
        self.material: Material = bpy.data.materials.new(name)
        self.material.use_nodes = True
        self.tree = self.material.node_tree
        self.surface_node = self.tree.nodes["Principled BSDF"]

    def add(
        self, kind: str, inputs: Mapping[int | str, Value] | None = None, **settings: object
    ) -> Value:
        """Add a node; inputs by name or number, settings as attributes of the node."""
        node = self.tree.nodes.new("ShaderNode" + kind)
        for key, setting in settings.items():
            setattr(node, key, setting)
        for place, value in (inputs or {}).items():
            self.put(node, place, value)
        return node

    def put(self, node: Value, key: int | str, value: Value) -> None:
        """Set one input of a node, or link it."""
        if isinstance(value, bpy.types.NodeSocket):
            self.tree.links.new(value, node.inputs[key])
        else:
            node.inputs[key].default_value = value

    def surface(self, **inputs: Value) -> None:
        """Inputs of the material's surface, by name with "_" for a space."""
        for key, value in inputs.items():
            self.put(self.surface_node, key.replace("_", " "), value)

    def math(self, operation: str, a: Value, b: Value = 0.0) -> Value:
        """A sum, product or the like of two values, or a function of one."""
        return self.add("Math", {0: a, 1: b}, operation=operation).outputs[0]

    def given(self, name: str) -> Value:
        """A value that the mesh has at its vertices."""
        return self.add("Attribute", attribute_name=name).outputs["Fac"]

    def place(self) -> Value:
        """The place in the object, mm."""
        return self.add("TexCoord").outputs["Object"]

    def scaled(
        self,
        place: Value,
        scale: tuple[float, float, float],
        turn: tuple[float, float, float] | None = None,
    ) -> Value:
        """A place with its coordinates scaled, and turned by angles in rad."""
        inputs: dict[int | str, Value] = {"Vector": place, "Scale": scale}
        if turn:
            inputs["Rotation"] = turn
        return self.add("Mapping", inputs).outputs[0]

    def noise(
        self,
        scale: float,
        detail: float = 3.0,
        rough: float = 0.5,
        place: Value = None,
        warp: float = 0.0,
    ) -> Value:
        """Noise, 0 to 1, with `scale` waves a mm."""
        inputs: dict[int | str, Value] = {
            "Scale": scale,
            "Detail": detail,
            "Roughness": rough,
            "Distortion": warp,
            "Vector": place or self.place(),
        }
        return self.add("TexNoise", inputs).outputs[0]

    def spread(self, value: Value, low: float, high: float) -> Value:
        """A value mapped from low..high to 0..1, and no further."""
        return self.add("MapRange", {0: value, 1: low, 2: high, 3: 0.0, 4: 1.0}).outputs[0]

    def mix(self, factor: Value, a: Value, b: Value) -> Value:
        """Colour a where the factor is 0, b where it is 1."""
        node = self.add("Mix", data_type="RGBA")
        for key, value in ((0, factor), (6, a), (7, b)):  # of its inputs, those for colours
            self.put(node, key, value)
        return node.outputs[2]

    def mix_values(self, factor: Value, a: Value, b: Value) -> Value:
        """Value a where the factor is 0, b where it is 1."""
        node = self.add("Mix", data_type="FLOAT")
        for key, value in ((0, factor), (2, a), (3, b)):
            self.put(node, key, value)
        return node.outputs[0]

    def bump(
        self, height: Value, strength: float, deep: float = 0.05, normal: Value = None
    ) -> Value:
        """A normal, bumpy by that height and up to so deep in mm, over another one."""
        node = self.add("Bump", {"Height": height, "Strength": strength, "Distance": deep})
        if normal is not None:
            self.put(node, "Normal", normal)
        return node.outputs[0]
