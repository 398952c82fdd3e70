"""The renderer's grain goes, edges, lines and textures stay: on pictures made by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import ndimage

from sample_images.studio import denoise

IN = np.s_[8:-8, 8:-8]  # where the picture's edge does not reach
SHAPE = (48, 64)


def even(value, shape=SHAPE):
    return np.full((*shape, 3), value, np.float32)


def facing(deg, shape=SHAPE):
    """Normals of a plane turned about the picture's vertical."""
    turn = np.radians(deg)
    return even((np.sin(turn), 0, np.cos(turn)), shape)


def grainy(light, share, seed=0):
    noise = np.random.default_rng(seed).normal(size=(*light.shape[:2], 1))
    return (light * (1 + share * noise)).astype(np.float32)


def smooth(light, albedo=0.5, normals=None):
    shape = light.shape[:2]
    albedo = even(albedo, shape) if np.isscalar(albedo) else albedo
    return denoise.smooth(light, albedo, facing(0, shape) if normals is None else normals)


def test_on_one_even_surface_it_is_the_plain_kernel():
    """Against the convolution with (0.6, 1, 0.6) both ways, and again with holes of a pixel."""
    # so little noise that no light tells its neighbour apart
    light = (0.5 * (1 + 1e-3 * np.random.default_rng(1).normal(size=(*SHAPE, 3)))).astype("f4")
    kernel = np.outer([0.6, 1, 0.6], [0.6, 1, 0.6])
    wide = np.zeros((5, 5))
    wide[::2, ::2] = kernel
    for k in range(3):
        plain = ndimage.convolve(light[..., k].astype(float), kernel / kernel.sum())
        plain = ndimage.convolve(plain, wide / wide.sum())
        assert smooth(light)[IN][..., k] == pytest.approx(plain[IN], abs=1e-6)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.2])
def test_noise_falls_to_a_fifth_and_the_light_stays(share):
    light = grainy(even(0.5), share)
    out = smooth(light)
    assert out[IN].std() < light[IN].std() / 5
    assert out.mean() == pytest.approx(light.mean(), rel=0.005)


@pytest.mark.parametrize("where", [[(20, 10)], [(30, 30), (30, 31)], [(40, 50), (41, 51)]])
def test_bright_pixels_and_pairs_of_them_are_brought_down(where):
    light = grainy(even(0.3), 0.05)
    for place in where:
        light[place] = (90.0, 45.0, 9.0)
    clamped = denoise.without_fireflies(light)
    for place in where:
        assert 0.3 < clamped[place].max() < 0.6
        assert clamped[place] / clamped[place].max() == pytest.approx([1, 0.5, 0.1])
        assert smooth(light)[place].max() < 0.36
    others = np.ones(SHAPE, bool)
    others[tuple(np.transpose(where))] = False
    assert (clamped == light)[others].all()


@pytest.mark.parametrize("slope", [0, 1])
def test_a_line_of_one_pixel_is_no_firefly(slope):
    light = even(0.3)
    x = np.arange(40)
    light[4 + slope * x, 5 + x] = 9.0
    clamped = denoise.without_fireflies(light)
    assert np.array_equal(clamped[6:40], light[6:40])


@pytest.mark.parametrize("line", [0.03, 3.0])
@pytest.mark.parametrize("way", [0, 1])
def test_a_line_of_two_pixels_keeps_its_light_and_its_width(line, way):
    light = even(0.3)
    (light if way == 0 else light.swapaxes(0, 1))[20:22] = line
    assert smooth(light)[IN] == pytest.approx(light[IN], rel=0.01)


@pytest.mark.parametrize("times", [2.0, 4.0])
def test_a_step_of_light_stays_where_it_is(times):
    light = even(0.2)
    light[:, 32:] *= times
    out = smooth(grainy(light, 0.1))
    rows = out[8:-8, :, 0].mean(axis=0)
    low, high = rows[8:26].mean(), rows[38:56].mean()
    assert high / low == pytest.approx(times, rel=0.01)
    share = (rows[24:40] - low) / (high - low)
    assert 24 + (1 - share).sum() == pytest.approx(32, abs=0.5)  # pixels' edges, in between
    assert (share[:7] < 0.1).all()
    assert (share[9:] > 0.9).all()
    for half in (np.s_[8:-8, 8:26], np.s_[8:-8, 38:56]):
        assert out[half].std() < grainy(light, 0.1)[half].std() / 5


@pytest.mark.parametrize(("dark", "pale"), [(0.2, 0.7), (0.45, 0.55)])
@pytest.mark.parametrize("side", [1, 3])
def test_a_texture_under_even_light_is_not_blurred(side, dark, pale):
    """Off by no more than the floor under reflectance makes."""
    checks = (np.indices(SHAPE) // side).sum(axis=0) % 2
    albedo = np.repeat(np.where(checks, pale, dark)[..., None], 3, axis=2).astype(np.float32)
    worst = (1 + denoise._DARK / dark) / (1 + denoise._DARK / pale) - 1
    out = smooth(0.8 * albedo, albedo)
    assert np.abs(out / (0.8 * albedo) - 1).max() < worst
    if pale < 1.3 * dark:  # without an albedo to go by such a texture is taken for noise
        assert smooth(0.8 * albedo)[IN].std() < 0.5 * out[IN].std()


@pytest.mark.parametrize("turned_deg", [30, 45, 90])
def test_planes_that_face_apart_do_not_mix(turned_deg):
    light, normals = even(0.5), facing(0)
    light[:, 32:] = 0.6  # by less than what tells two lights apart
    normals[:, 32:] = facing(turned_deg)[:, 32:]
    assert smooth(light, normals=normals) == pytest.approx(light, rel=0.002)
    assert smooth(light)[24, 31, 0] > 0.52  # on one plane they do


def test_strips_fit_together(monkeypatch):
    rng = np.random.default_rng(3)
    shape = (1300, 40)
    light = np.exp(rng.normal(-2, 0.3, (*shape, 3))).astype(np.float32)
    light[:512] *= 0.01  # a strip in shadow
    albedo = rng.uniform(0.1, 0.8, (*shape, 3)).astype(np.float32)
    strips = smooth(light, albedo)
    monkeypatch.setattr(denoise, "_ROWS", 2000)
    assert strips == pytest.approx(smooth(light, albedo), rel=1e-5)


def test_black_stays_black_and_single_precision():
    out = denoise.smooth(even(0.0), even(0.0), even(0.0))
    assert out.dtype == np.float32
    assert not out.any()
    assert smooth(even(0.5)).dtype == np.float32


def test_a_pixel_without_albedo_or_normal_spoils_no_other():
    both = np.concatenate([even(0.7), even(0.5), facing(0)], axis=2)  # light, albedo, normals
    both[20, 30, 3:6], both[10, 10, 6:], both[30, 10, 3] = np.nan, np.nan, np.inf
    fake = SimpleNamespace(load_dict=dict, render=lambda *_args, **_more: both)
    albedo, normals = denoise.guides(fake, None, 1)
    out = denoise.smooth(even(0.7), albedo, normals)
    assert out[IN] == pytest.approx(0.7, rel=0.01)
