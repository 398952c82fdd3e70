"""The second renderer's meshes and fields against what they must be, without Blender."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from bad_joints import bad_joint, bad_number
from tools.second_renderer.cups import cup_mesh
from tools.second_renderer.fields import Grid, close_borders, smooth_max, smooth_min, step, waves
from tools.second_renderer.insulation import insulation_mesh
from tools.second_renderer.meshes import lathe, loft, sweep, tubes, turns
from tools.second_renderer.shot import draw_shot
from tools.second_renderer.solder import bridge_mesh, solder_mesh
from tools.second_renderer.strands import strand_lines, stray_lines
from tools.second_renderer.surface_nets import surface_net


def volume(mesh):
    """By the divergence theorem over the faces' two triangles each."""
    a, b, c, d = (mesh.vertices[mesh.faces[:, i]] for i in range(4))
    halves = (np.cross(a, b) * c).sum(-1) + (np.cross(a, c) * d).sum(-1)
    return halves.sum() / 6


def open_edges(mesh):
    """Edges that do not run once each way."""
    ends = np.stack([mesh.faces, np.roll(mesh.faces, -1, 1)], -1).reshape(-1, 2)
    ways = Counter(map(tuple, ends.tolist()))
    return [edge for edge, n in ways.items() if n != ways[edge[::-1]]]


def radius(points):
    return np.hypot(points[:, 1], points[:, 2])


def mean_agreement(mesh):
    """Mean cosine between the normals and those of the faces, outward by their order."""
    a, b, c, d = (mesh.vertices[mesh.faces[:, i]] for i in range(4))
    facing = np.cross(c - a, d - b)
    facing /= np.linalg.norm(facing, axis=1, keepdims=True) + 1e-12
    return (mesh.normals[mesh.faces].mean(1) * facing).sum(1).mean()


def test_a_tube_has_its_radius_all_along_a_bent_line():
    angle = np.linspace(0, 1, 40)
    line = np.stack([10 * np.sin(angle), 10 * np.cos(angle), 0 * angle], 1)
    tube = tubes(line[None], 0.25, 16)
    away = np.linalg.norm(tube.vertices.reshape(40, 16, 3) - line[:, None], axis=-1)
    assert np.allclose(away, 0.25)
    arc = 10.0 * np.pi * 0.25**2
    assert abs(volume(tube)) == pytest.approx(arc, rel=0.05)  # 16 sides, open ends


def test_a_sweep_follows_the_radii_given():
    path = np.stack([np.linspace(0, 2, 5), np.zeros(5), np.zeros(5)], 1)
    radii = np.linspace(0.2, 0.6, 5)[:, None] * np.ones(12)
    assert np.allclose(radius(sweep(path, radii, turns(12)).vertices), radii.ravel())


def test_a_lathe_turns_its_profile_and_a_loft_of_power_2_is_an_ellipse():
    cylinder = lathe([(0, 0.0), (0, 1.0), (3, 1.0), (3, 0.0)], 64)
    exact = 3 * 64 / 2 * np.sin(2 * np.pi / 64)  # of a prism with 64 sides
    assert abs(volume(cylinder)) == pytest.approx(exact)
    body = loft([(0, 2.0, 1.0), (1, 2.0, 1.0)], 2, 40)
    _, y, z = body.vertices.T
    assert np.allclose((y / 2) ** 2 + z**2, 1)


def test_surface_nets_make_a_closed_sphere_of_the_right_size():
    grid = Grid.over((-1.3, -1.2, -1.25), (1.3, 1.2, 1.25), 0.05)
    field = np.sqrt(grid.x**2 + grid.y**2 + grid.z**2) - 1
    ball = surface_net(field, grid)
    away = np.linalg.norm(ball.vertices, axis=1)
    assert np.abs(away - 1).max() < 0.0008  # 0.0009 where points do not settle on the field
    assert volume(ball) == pytest.approx(4 / 3 * np.pi, rel=0.005)
    assert not open_edges(ball)
    assert np.allclose((ball.normals * ball.vertices).sum(1) / away, 1, atol=0.01)


def test_a_body_cut_by_the_grid_is_closed_there():
    grid = Grid.over((-1, -1, -1), (0.5, 1, 1), 0.1)
    field = np.sqrt(grid.x**2 + grid.y**2 + grid.z**2) - 0.8
    assert open_edges(surface_net(field, grid))
    close_borders(field)
    assert not open_edges(surface_net(field, grid))


def test_blends_and_steps():
    a, b = np.array([0.0, 1.0, 0.1]), np.array([1.0, 0.0, 0.1])
    assert np.allclose(smooth_min(a, b, 0.2), [0, 0, 0.1 - 0.05])
    assert np.allclose(smooth_max(a, b, 0.2), [1, 1, 0.1 + 0.05])
    assert np.allclose(step(np.arange(4.0), 1, 3), [0, 0, 0.5, 1])
    assert np.allclose(step(np.arange(4.0), 3, 1), [1, 1, 0.5, 0])


def test_waves_are_smooth_and_about_as_high_as_one():
    x = np.linspace(0, 40, 4001)
    values = waves(np.random.default_rng(3), 1.0, 10, 1)(x)
    assert 0.7 < np.abs(values).max() < 2.6
    assert np.abs(np.diff(values)).max() < 0.01 * 2 * np.pi * 1.4 * 2.6


def test_a_cup_has_its_radii_and_its_depth():
    for kind in ("scoop", "closed"):
        joint, _ = bad_joint("birdcage", "birdcage", kind)
        cup, mesh = joint.cup, cup_mesh(joint)
        assert radius(mesh.vertices).max() == pytest.approx(cup.outer)
        assert mesh.vertices[:, 0].min() == 0
        assert mesh.vertices[:, 0].max() == pytest.approx(cup.depth + 0.02)
        entry = mesh.vertices[(mesh.vertices[:, 0] > 0) & (mesh.vertices[:, 0] < cup.run / 2)]
        top = np.arctan2(np.abs(entry[:, 1]), entry[:, 2]).min()  # angle off straight up
        assert (top > 0.9 * cup.half_opening) == (kind == "scoop")


def test_the_cup_stands_at_its_pole():
    joint, _ = bad_joint("birdcage", "birdcage")
    moved = cup_mesh(replace(joint, y=1.5)).vertices - cup_mesh(joint).vertices
    assert np.allclose(moved, [0, 1.5, 0])


def test_the_insulation_ends_at_the_gap_with_the_wires_radius():
    joint, rng = bad_joint("insulation-gap", "gap")
    mesh = insulation_mesh(rng, joint)
    assert mesh.vertices[:, 0].max() == pytest.approx(-joint.gap, abs=0.01)
    near = mesh.vertices[mesh.vertices[:, 0] > -joint.gap - 0.5]
    assert radius(near).max() == pytest.approx(0.5, abs=0.02)


def test_strands_bulge_to_a_birdcages_size_and_not_otherwise():
    joint, rng = bad_joint("birdcage", "birdcage")
    joint = replace(joint, aside=0.0, drop=0.0)
    lines = strand_lines(rng, joint).reshape(-1, 3)
    assert 2 * radius(lines).max() == pytest.approx(joint.defect_size, abs=0.06)
    lines = strand_lines(rng, replace(joint, defect=None)).reshape(-1, 3)
    assert radius(lines).max() < joint.conductor_radius


def test_strays_are_as_long_as_the_truth_says():
    joint, rng = bad_joint("stray-strand", "several")
    lines = stray_lines(rng, joint)
    assert len(lines) == len(joint.strays_mm) > 1
    assert joint.defect_size == max(joint.strays_mm)
    for line, length_mm in zip(lines, joint.strays_mm, strict=True):
        inside = np.linspace(-0.35, length_mm / joint.overall_mm, len(line)) < 0
        outside = np.linalg.norm(np.diff(line[~inside], axis=0), axis=1).sum() * joint.overall_mm
        # what keeps it clear of the cup and of the insulation may add to it
        assert 0.95 * length_mm < outside < 1.5 * length_mm


def test_a_joints_solder_is_closed_and_fills_the_cup():
    joint, rng = bad_joint("insulation-gap", "gap")
    for kind in ("scoop", "closed"):
        mesh = solder_mesh(rng, replace(joint, cup=replace(joint.cup, kind=kind)))
        assert not open_edges(mesh)
        assert volume(mesh) > 0
        assert radius(mesh.vertices).max() < joint.cup.outer
        assert mean_agreement(mesh) > 0.97


def test_a_spike_is_as_long_as_the_truth_says():
    joint, rng = bad_joint("spike", "spike", "scoop")
    length = radius(solder_mesh(rng, joint).vertices).max() - joint.cup.outer
    told = joint.defect_size / joint.overall_mm
    # it may lean along the wire, by half as much as it goes out, and its tip is 0.018 D round
    assert (joint.cup.outer + told) / np.hypot(1, 0.5) - joint.cup.outer < length < told + 0.04


def test_a_blob_stands_out_of_the_cup_by_its_size():
    joint, rng = bad_joint("excess-solder", "blob")
    beyond = np.abs(solder_mesh(rng, joint).vertices[:, 1]).max() - joint.cup.outer
    assert beyond == pytest.approx(joint.defect_size, abs=0.09)


def test_a_bead_keeps_clear_of_the_cup():
    joint, rng = bad_joint("wetting", "bead", "scoop")
    vertices = solder_mesh(rng, joint).vertices
    in_cup = vertices[(vertices[:, 0] > 0.05) & (vertices[:, 2] < 0)]
    assert radius(in_cup).max() < joint.cup.inner - 0.02


def test_a_cup_that_is_filled_too_little_holds_less():
    joint, rng = bad_joint("solder-fill", "front")
    less = solder_mesh(rng, joint)
    assert volume(less) < 0.7 * volume(solder_mesh(rng, replace(joint, defect=None)))
    assert less.vertices[:, 0].max() < joint.share * joint.cup.run + 0.15


def test_a_bridge_reaches_from_cup_to_cup():
    shot, rng = draw_shot(bad_number("bridge", "bridge"))
    pair = shot.joints[shot.bad], shot.joints[shot.bad + 1]
    mesh = bridge_mesh(rng, pair, 0.3)
    assert not open_edges(mesh)
    y = mesh.vertices[:, 1]
    assert y.min() < pair[0].y + pair[0].cup.outer
    assert y.max() > pair[1].y - pair[1].cup.outer
    assert pair[0].defect.size == pytest.approx(shot.connector.pitch - 2 * pair[0].cup.outer)
