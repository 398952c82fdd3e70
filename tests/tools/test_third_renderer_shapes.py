"""The third renderer's meshes, fields and pictures against what they must be."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from tools.third_renderer.connector import draw_cups, draw_poles
from tools.third_renderer.cup import cup_mesh, root_mesh
from tools.third_renderer.develop import develop
from tools.third_renderer.fields import Grid, smooth_max, smooth_min, step
from tools.third_renderer.insulation import insulation_end, insulation_mesh
from tools.third_renderer.meshes import bezier, sweep, turned
from tools.third_renderer.pinhole import Pinhole
from tools.third_renderer.plan import LIGHTS, plan, subject
from tools.third_renderer.room import room_picture
from tools.third_renderer.solder import solder_bodies
from tools.third_renderer.strands import core_mesh, strand_mesh


def pole_with(fault, first=100):
    todo = plan(next(n for n in range(first, first + 99) if subject(n)[0] == fault))
    rng = np.random.default_rng(todo.seed)
    poles = draw_poles(rng, todo, draw_cups(rng, todo))
    return next(pole for pole in poles if pole.fault == fault)


def open_edges(faces):
    """Edges that do not belong to two faces."""
    edges = Counter()
    for face in faces:
        edges.update(frozenset(edge) for edge in zip(face, np.roll(face, -1), strict=True))
    return sum(count != 2 for count in edges.values())


def test_blends_and_steps():
    a, b = np.array([1.0, 0.0, 5.0]), np.array([1.0, 5.0, 0.0])
    assert np.allclose(smooth_min(a, b, 0.4), [0.9, 0, 0])
    assert np.allclose(smooth_max(a, b, 0.4), [1.1, 5, 5])
    assert np.allclose(step(0, 2, np.array([-1, 0, 1, 2, 3])), [0, 0, 0.5, 1, 1])
    assert step(1.2, 1.0, 1.05) > step(1.2, 1.0, 1.15)


def test_noise_of_a_grid_is_its_own_every_time():
    grid = Grid.over((0, 0, 0), (3, 2, 1), 0.1)
    one, other = (grid.noise(np.random.default_rng(5), 0.3) for _ in range(2))
    assert one.shape == grid.x.shape == (30, 20, 10)
    assert np.array_equal(one, other)
    assert 0.4 < one.std() < 1.5


def test_the_way_along_a_line_on_a_grid():
    grid = Grid.over((0, 0, 0), (3, 3, 3), 1.0)
    part, x, y, z = grid.along(np.zeros(3), np.array([2.0, 0, 0]), grid.y)
    assert part[1, 2, 0] == 0.5
    assert (x[1, 2, 0], y[1, 2, 0], z[1, 2, 1]) == (0, 2, 1)


def test_sweeps_are_closed_and_as_thick_as_asked():
    tube = sweep([(0, 0, 0), (1, 0, 0), (2, 0.2, 0)], [0.5, 0.5, 0.5], 12)
    assert open_edges([*tube.faces, *tube.caps]) == 0
    assert np.allclose(np.linalg.norm(tube.vertices[:12], axis=1), 0.5)
    solid = turned((0, 0, 0), (0, 0, 1), [(0, 0.1), (0, 2), (3, 2), (3, 0.1)], 16)
    assert open_edges([*solid.faces, *solid.caps]) == 0
    assert np.hypot(solid.vertices[:, 0], solid.vertices[:, 1]).max() == pytest.approx(2)


def test_a_curve_goes_from_its_first_to_its_last_point():
    curve = bezier([(0, 0, 0), (1, 0, 0), (1, 1, 0), (2, 1, 0)], 21)
    assert np.allclose(curve[[0, 10, 20]], [(0, 0, 0), (1, 0.5, 0), (2, 1, 0)])


@pytest.mark.parametrize("closed", [False, True])
def test_the_cup_has_its_bore_and_its_wall(closed):
    pole = replace(pole_with("spike"), y=2.0, closed=closed, cut=1.0 if closed else 99.0)
    shape = cup_mesh(pole)
    off = np.hypot(shape.vertices[:, 1] - 2, shape.vertices[:, 2])
    assert off.min() > pole.bore - 0.02
    assert off.max() == pytest.approx(pole.bore + pole.wall, abs=0.02)
    assert shape.vertices[:, 0].min() == 0
    top = shape.vertices[shape.vertices[:, 0] > pole.length - 0.1, 2].max()
    assert (top > pole.bore) == closed
    assert shape.faces.max() < len(shape.vertices)
    assert root_mesh(pole, pole.length + 1).vertices[:, 0].max() > pole.length + 2


def test_strands_fill_the_wire_and_strays_leave_it():
    rng = np.random.default_rng(0)
    sound, frayed = replace(pole_with("spike"), lean=0.0, rise=0.0), pole_with("stray-strand")
    shape = strand_mesh(rng, sound)
    off = np.hypot(shape.vertices[:, 1] - sound.y, shape.vertices[:, 2] - sound.sag)
    assert 0.9 * sound.radius < off.max() < sound.radius + 0.1
    assert len(shape.values["tin"]) == len(shape.vertices)
    assert 0 <= shape.values["tin"].min() <= shape.values["tin"].max() <= 1
    far = np.abs(strand_mesh(rng, frayed).vertices[:, 1] - frayed.y).max()
    assert far > 1.5 * frayed.radius
    assert not strand_mesh(rng, pole_with("none")).values["tin"].any()
    assert not core_mesh(pole_with("wetting")).values["tin"].any()


def test_the_insulation_ends_a_gap_before_the_lip_and_is_burnt_where_it_should_be():
    rng = np.random.default_rng(0)
    sound, burnt = pole_with("spike"), pole_with("insulation-damage")
    shape = insulation_mesh(rng, sound, (-60.0, 0.0, 0.0))
    assert insulation_end(sound).middle[0] == -sound.gap
    assert shape.vertices[:, 0].max() == pytest.approx(-sound.gap, abs=0.1 * sound.overall)
    assert shape.vertices[:, 0].min() < -150
    assert not shape.values["burn"].any()
    assert insulation_mesh(rng, burnt, (-60.0, 0.0, 0.0)).values["burn"].max() > 0.9


@pytest.mark.parametrize("fault", ["solder-fill", "wetting", "spike", "holes"])
def test_solder_is_closed_and_where_it_belongs(fault):
    pole = replace(pole_with(fault), y=1.5)
    (shape,) = solder_bodies(np.random.default_rng(0), [pole])
    assert open_edges(shape.faces) == 0
    low, high = shape.vertices.min(0), shape.vertices.max(0)
    assert low[0] < high[0] < pole.length + pole.bore
    assert low[1] < 1.5 < high[1]
    assert set(shape.values) == {"lx", "ly", "lz", "lay", "dark"}
    assert (shape.values["dark"].max() > 0.5) == (fault == "holes")
    outer = pole.bore + pole.wall
    assert (np.abs(shape.vertices[:, 1] - 1.5).max() > outer + 0.5) == (fault == "spike")


def test_a_pole_that_nobody_soldered_has_no_solder():
    assert solder_bodies(np.random.default_rng(0), [pole_with("none")]) == []


@pytest.mark.parametrize("light", sorted(set(LIGHTS)))
def test_the_room_is_bright_above(light):
    room = room_picture(np.random.default_rng(1), light)
    assert room.shape == (128, 256, 3)
    assert room.min() >= 0
    assert room[64:].mean() > room[:64].mean()


def test_a_picture_is_exposed_and_the_dark_and_the_blown_ones_are_not():
    y, x = np.mgrid[0:1:60j, 0:1:80j]
    light = np.stack([0.2 + x, 0.3 + y, 0.4 + x * y], -1)
    fine, dark, blown = (
        develop(np.random.default_rng(3), light, exposure, 0.01) for exposure in (1, 0.012, 40)
    )
    assert fine.shape == light.shape
    assert fine.dtype == np.uint8
    assert 60 < fine.mean() < 190
    assert dark.mean() < 40
    assert blown.mean() > 240


def test_the_camera_sees_what_blender_says():
    bpy = pytest.importorskip("bpy")
    from bpy_extras.object_utils import world_to_camera_view  # noqa: PLC0415 - needs Blender
    from mathutils import Vector  # noqa: PLC0415

    from tools.third_renderer.camera import add_camera  # noqa: PLC0415
    from tools.third_renderer.scene import build_scene  # noqa: PLC0415

    todo = replace(plan(1), faults=())
    rng = np.random.default_rng(0)
    pinhole, _ = add_camera(rng, todo, build_scene(rng, todo))
    assert isinstance(pinhole, Pinhole)
    scene = bpy.context.scene
    scene.render.resolution_x, scene.render.resolution_y = todo.size_px
    for point in ((0, 0, 0), (-4, 2, 1), (5, -3, 0.5)):
        seen = world_to_camera_view(scene, scene.camera, Vector(point))
        x, y = pinhole.project(point)
        assert x == pytest.approx(seen.x * todo.size_px[0], abs=0.05)
        assert y == pytest.approx((1 - seen.y) * todo.size_px[1], abs=0.05)
