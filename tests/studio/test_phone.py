"""The phone: repeatable, its fates are what they say, blur as computed, files decode."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from sample_images.studio import phone, phone_finish, phone_lens, phone_plan

Rng = np.random.default_rng


def _scene(h: int = 192, w: int = 256) -> np.ndarray:
    rng = Rng(1)
    image = np.full((h, w, 3), 0.2, np.float32)
    for _ in range(60):
        at, rgb = rng.integers(0, [w, h]), rng.uniform(0.02, 0.9, 3)
        cv2.circle(
            image,
            tuple(int(k) for k in at),
            int(rng.integers(3, 20)),
            tuple(float(k) for k in rgb),
            -1,
        )
    return image


@pytest.mark.parametrize("look", ["train", "test"])
def test_the_fates_keep_their_limits(look: phone.Look) -> None:
    for seed in range(150):
        rng = Rng(seed)
        d = float(rng.uniform(40, 400))
        usable = phone.plan_phone(rng, look, "usable", d)
        assert phone.blur_px(usable) <= max(phone_plan.USABLE_BLUR_D * d, 0.72) * 1.02
        blurred = phone.plan_phone(rng, look, "focus", d)
        assert phone.blur_px(blurred) >= phone_plan.FOCUS_BLUR_D[0] * d * 0.75
        assert phone.plan_phone(rng, look, "exposure", d).joint_level is not None
        assert usable.joint_level is None


def test_exposure_fates_show_in_the_picture() -> None:
    scene, lost = _scene(), {"dark": 0, "blown": 0}
    for seed in range(12):
        rng = Rng(seed)
        plan = phone.plan_phone(rng, "train", "exposure")
        _, info = phone.develop(rng, scene, "train", plan)
        assert plan.joint_level is not None
        dark = plan.joint_level < 1
        lost["dark" if dark else "blown"] += 1
        assert info["exposure_ev"] < -3 if dark else info["exposure_ev"] > 2
        usable = phone.plan_phone(rng, "train", "usable")
        _, fine = phone.develop(rng, scene, "train", usable)
        assert fine["clipped_share"] <= phone_plan.USABLE_CLIPPED
        assert abs(fine["exposure_ev"]) < 2.5
    assert min(lost.values()) > 0


def test_the_same_generator_gives_the_same_photo() -> None:
    scene = _scene()
    files = []
    for seed in (3, 3, 4):
        rng = Rng(seed)
        plan = phone.plan_phone(rng, "test", "usable")
        rgb, _ = phone.develop(rng, scene, "test", plan)
        assert rgb.dtype == np.uint8
        assert rgb.shape == scene.shape
        files.append(phone.encode(rng, rgb, plan))
    assert files[0] == files[1] != files[2]


def test_the_looks_process_differently() -> None:
    plans = {
        k: [phone.plan_phone(Rng(s), k, "usable") for s in range(80)] for k in ("train", "test")
    }
    assert {p.curve for p in plans["test"]} - {p.curve for p in plans["train"]}
    assert {p.demosaic for p in plans["test"]} - {p.demosaic for p in plans["train"]}
    assert {p.blades for p in plans["test"]} - {p.blades for p in plans["train"]}


@pytest.mark.parametrize("radius", [1.0, 2.5, 6.0, 20.0])
@pytest.mark.parametrize("blades", [0, 6])
def test_a_point_blurs_by_the_stated_deviation(radius: float, blades: int) -> None:
    point = np.zeros((129, 129, 3), np.float32)
    point[64, 64] = 1.0
    out = phone_lens.defocus(point, np.full((129, 129), radius, np.float32), blades)[..., 0]
    x = np.arange(129) - 64
    assert out.sum() == pytest.approx(1.0, rel=0.02)
    sd = float(np.sqrt((out.sum(0) * x**2).sum() / out.sum()))
    assert sd == pytest.approx(radius * phone_plan.DISC_SD, rel=0.12, abs=0.12)


def test_depth_blurs_the_ground_but_not_the_joint() -> None:
    board = (np.indices((200, 200)).sum(0) // 4 % 2).astype(np.float32)[..., None].repeat(3, 2)
    depth = np.full((200, 200), 100.0, np.float32)
    depth[:, 100:] = 160.0
    plan = replace(
        phone.plan_phone(Rng(1), "train", "usable"), defocus_px=0.0, aperture_mm=2.0, blades=0
    )
    coc = phone_lens.circle_of_confusion(depth, 100.0, plan, 900.0)
    assert coc[0, 0] == pytest.approx(0.0, abs=1e-5)
    assert coc[0, 150] == pytest.approx(900 * (1 / 100 - 1 / 160), rel=1e-5)  # thin lens, by hand
    out = phone_lens.defocus(board, coc, 0)
    assert out[20:180, 20:80, 0].std() > 0.4
    assert out[20:180, 120:180, 0].std() < 0.1
    assert out.mean() == pytest.approx(board.mean(), abs=0.03)


def test_encode_round_trip() -> None:
    rgb = (_scene() * 255).astype(np.uint8)
    plan = replace(phone.plan_phone(Rng(2), "train", "usable"), quality=95, subsampling="444")
    back = cv2.imdecode(np.frombuffer(phone.encode(Rng(2), rgb, plan), np.uint8), cv2.IMREAD_COLOR)[
        ..., ::-1
    ]
    assert back.shape == rgb.shape
    assert np.abs(back.astype(int) - rgb).mean() < 4
    small = phone_finish.jpeg(rgb, 30, "420")
    assert len(small) < len(phone_finish.jpeg(rgb, 95, "444")) / 2


def test_the_encoding_is_srgb() -> None:
    """IEC 61966-2-1: linear 0.18 is 117.7 of 255, linear 0.5 is 187.5."""
    out = phone_finish.srgb(np.array([0.0, 0.18, 0.5, 1.0], np.float32)) * 255
    np.testing.assert_allclose(out, [0, 117.7, 187.5, 255], atol=0.3)
