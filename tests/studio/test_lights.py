"""Lights: none in view, the exposure they give, the room's brightness."""

from __future__ import annotations

import numpy as np
import pytest

from sample_images.studio import lights, lights_room

TARGET = np.array([0.0, 0.0, 4.0])


def _camera(rng: np.random.Generator) -> np.ndarray:
    tilt, turn = np.radians(rng.uniform(0, 50)), rng.uniform(0, 2 * np.pi)
    away = [np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.cos(tilt)]
    return TARGET + rng.uniform(60, 250) * np.array(away)


@pytest.mark.parametrize("look", ["train", "test"])
def test_no_lamp_is_in_view_and_none_hides_the_joint(look: lights.Look) -> None:
    for seed in range(60):
        rng = np.random.default_rng(seed)
        camera = _camera(rng)
        lamps, _ = lights.plan_lights(rng, look, camera, TARGET)
        forward = (TARGET - camera) / np.linalg.norm(TARGET - camera)
        shining = [k for k in lamps if k.radiance is not None]
        assert 1 <= len(shining) <= 4
        for lamp in lamps:  # the phone's body too; an independent, finer sampling of the rectangle
            ray = lamp.corners(41) - camera
            angle = np.degrees(np.arccos(ray @ forward / np.linalg.norm(ray, axis=1)))
            assert angle.min() > lights.VIEW_HALF_DEG - 1, lamp.name
            assert lamp.corners()[:, 2].min() > 0 or lamp.radiance is None
        for lamp in shining:  # it is the bright side that faces the joint
            assert np.cross(lamp.u, lamp.v) @ (TARGET - lamp.centre) > 0


def test_in_view_sees_a_lamp_between_camera_and_joint() -> None:
    camera = np.array([0.0, 0.0, 154.0])
    face = lights_room.face(np.random.default_rng(0), "disc")
    lamp = lights.Lamp(
        "x", np.array([0.0, 0.0, 90.0]), np.array([5.0, 0, 0]), np.array([0, -5.0, 0]), face
    )
    assert lights.in_view(lamp, camera, TARGET)
    wide = lights.Lamp(
        "x", np.array([150.0, 0.0, 90.0]), np.array([145.0, 0, 0]), np.array([0, -5.0, 0]), face
    )
    assert lights.in_view(wide, camera, TARGET)
    above = lights.Lamp(
        "x", np.array([0.0, 0.0, 300.0]), np.array([50.0, 0, 0]), np.array([0, -50.0, 0]), face
    )
    assert not lights.in_view(above, camera, TARGET)


def test_the_key_lamp_gives_the_joint_unit_exposure() -> None:
    """Numerical integral over the lamp's face against the level that _fit chose."""
    lamps, _ = lights.plan_lights(
        np.random.default_rng(5), "train", np.array([40.0, 0, 150.0]), TARGET
    )
    key = lamps[1]
    assert key.radiance is not None
    ray = key.corners(64) - TARGET
    far = np.linalg.norm(ray, axis=1)
    normal = np.cross(key.u, key.v)
    area = 4 * np.linalg.norm(normal)
    luma = (key.radiance @ [0.2126, 0.7152, 0.0722]).ravel()
    facing = np.abs(ray @ normal) / np.linalg.norm(normal) / far
    assert (luma * facing / far**2).mean() * area == pytest.approx(np.pi, rel=0.2)


def test_a_black_body_near_daylight_is_nearly_white() -> None:
    """IEC 61966-2-1 puts white at D65, 6504 K; the black body there is slightly pinker."""
    np.testing.assert_allclose(lights_room.blackbody(6504), 1.0, atol=0.06)
    warm, cold = lights_room.blackbody(2700), lights_room.blackbody(9000)
    assert warm[0] > 1.5 > warm[2] * 4
    assert cold[2] > 1.1 > cold[0]


@pytest.mark.parametrize("look", ["train", "test"])
def test_rooms_have_mean_one_and_differ(look: str) -> None:
    rooms = [lights_room.room(np.random.default_rng(s), look, 0.3) for s in range(6)]
    weight = np.sin((np.arange(lights_room.HIGH) + 0.5) / lights_room.HIGH * np.pi)[
        : lights_room.HIGH // 2
    ]
    for r in rooms:
        upper = r[: lights_room.HIGH // 2].mean((1, 2))
        assert (upper * weight).sum() / weight.sum() == pytest.approx(1.0, rel=0.01)
        assert (r >= 0).all()
    assert not np.allclose(rooms[0], rooms[1])


def test_mitsuba_takes_the_lights() -> None:
    mi = pytest.importorskip("mitsuba")
    mi.set_variant("scalar_rgb")
    for seed in (1, 2):
        dicts = lights.lights(
            np.random.default_rng(seed), "train", np.array([40.0, 0, 150.0]), TARGET
        )
        scene = mi.load_dict({"type": "scene"} | {f"k{i}": d for i, d in enumerate(dicts)})
        assert len(scene.emitters()) == len(dicts) - 1
        assert scene.environment() is not None
