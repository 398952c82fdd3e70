"""Inference on a stand-in network: windows, steps, edges, region map."""

import hashlib
from pathlib import Path

import cv2
import numpy as np
import pytest

from inspector.errors import InstallError
from inspector.model import Fault, Mark, Photo
from inspector.regions import network

TINY = Path(__file__).with_name("tiny.onnx")


@pytest.fixture(autouse=True)
def tiny_network(monkeypatch):
    monkeypatch.setattr(network, "NETWORK", TINY)


def photo_of(labels):
    """A photo that the tiny network reads as `labels`, with blue where the label is 3."""
    rgb = np.zeros((*labels.shape, 3), np.uint8)
    rgb[..., 0] = labels * 32
    rgb[..., 2] = np.where(labels == 3, 255, 0)
    return Photo("drawn", rgb)


def disc(width, height, x, y, radius, label=3):
    ys, xs = np.mgrid[:height, :width]
    return np.where(np.hypot(xs - x, ys - y) <= radius, np.uint8(label), np.uint8(0))


def middle(patch, label=3):
    ys, xs = np.nonzero(patch.labels == label)
    return patch.to_photo(np.array([[xs.mean(), ys.mean()]]))[0]


@pytest.mark.parametrize(
    "size", [(640, 480), (641, 480), (1000, 333), (97, 3000), (1283, 965), (40, 30)]
)
def test_coarse_shows_the_whole_photo_at_640_at_most(size):
    width, height = size
    patch = network.coarse(photo_of(disc(width, height, width / 2, height / 2, 12)))
    rows, columns = patch.labels.shape
    assert max(rows, columns) <= 640
    assert patch.step == max(1.0, np.ceil(max(size) / 640 * 32) / 32)
    assert columns == int(width // patch.step) or width < 640
    assert (rows, columns) == (patch.rgb.shape[0], patch.sure.shape[1])
    assert patch.marks.shape == (len(Mark), rows, columns)
    covered = patch.to_photo(np.array([[-0.5, -0.5], [columns - 0.5, rows - 0.5]]))
    assert np.allclose(covered[0], -0.5)
    assert (covered[1] <= np.array(size) - 0.5).all()
    assert (covered[1] > np.array(size) - 0.5 - patch.step).all()


@pytest.mark.parametrize("step_px", [40.0, 48.0, 96.0, 101.0, 333.0, 500.0])
def test_positions_carry_over_at_every_step(step_px):
    photo = photo_of(disc(1500, 1100, 611.0, 487.0, 0.6 * step_px))
    patch = network.close(photo, (600.0, 500.0), step_px, 5 * step_px)
    assert np.allclose(middle(patch), (611.0, 487.0), atol=0.1 * patch.step)


def test_d_spans_128_pixels_unless_that_magnifies_more_than_twice():
    photo = photo_of(disc(2000, 1500, 900, 700, 100))
    assert network.close(photo, (900, 700), 256.0, 900).step == 2.0
    assert network.close(photo, (900, 700), 128.0, 300).step == 1.0
    assert network.close(photo, (900, 700), 20.0, 200).step == 0.5


def test_a_window_too_large_for_the_network_is_seen_smaller():
    photo = photo_of(disc(2000, 1800, 900, 900, 100))
    patch = network.close(photo, (900, 900), 128.0, 1408)
    assert patch.step == 2.0
    assert patch.labels.shape == (704, 704)


@pytest.mark.parametrize(
    "at", [(0.0, 0.0), (499.0, 0.0), (3.0, 396.0), (499.0, 399.0), (250.0, 2.0)]
)
@pytest.mark.parametrize("d_px", [33.0, 96.0, 250.0])
def test_a_window_over_the_edge_shows_only_the_photo(at, d_px):
    labels = disc(500, 400, at[0], at[1], 40)
    patch = network.close(photo_of(labels), at, d_px, 6 * d_px)
    rows, columns = patch.labels.shape
    covered = patch.to_photo(np.array([[-0.5, -0.5], [columns - 0.5, rows - 0.5]]))
    assert (covered[0] >= -0.5 - 1e-9).all()
    assert (covered[1] <= np.array([500, 400]) - 0.5 + 1e-9).all()
    ys, xs = np.nonzero(labels)
    assert np.allclose(middle(patch), (xs.mean(), ys.mean()), atol=0.3 * patch.step + 0.3)


def test_marks_and_sureness_are_probabilities_at_the_labels_places():
    patch = network.close(photo_of(disc(800, 600, 400, 300, 60)), (400, 300), 128.0, 320)
    assert patch.marks.min() >= 0
    assert patch.marks.max() <= 1
    assert (
        patch.marks[Mark.MOUTH][
            cv2.erode((patch.labels == 3).astype(np.uint8), None, iterations=3) > 0
        ]
        > 0.99
    ).all()
    assert (patch.sure > 1 / 8).all()
    assert (patch.sure <= 1).all()


def test_a_patch_cannot_be_written_to():
    patch = network.coarse(photo_of(disc(200, 150, 100, 75, 20)))
    for array in (patch.rgb, patch.labels, patch.sure, patch.marks):
        assert not array.flags.writeable


@pytest.mark.parametrize("size", [(640, 480), (1283, 965), (1999, 640), (300, 200)])
def test_the_region_map_repeats_the_photo(size):
    width, height = size
    labels = disc(width, height, 0.4 * width, 0.5 * height, 0.2 * height)
    labels[:, -1] = labels[-1] = 5  # the rim, narrower than a patch pixel, is covered too
    photo = photo_of(labels)
    whole = network.coarse(photo)
    near = network.close(photo, (0.4 * width, 0.5 * height), 128.0, 0.6 * height)
    coarse_map = network.compose(size, [whole])
    assert coarse_map.shape == (height, width)
    assert coarse_map.dtype == np.uint8
    assert (coarse_map != labels).mean() < 0.02
    both = network.compose(size, [whole, near])
    x0, y0, x1, y1 = (0.25 * width, 0.3 * height, 0.55 * width, 0.7 * height)
    inside = np.s_[int(y0) : int(y1), int(x0) : int(x1)]
    if near.step == 1.0:
        assert (both[inside] == labels[inside]).all()
    else:
        assert (both[inside] != labels[inside]).mean() < 0.01


@pytest.mark.parametrize(
    ("center", "d_px", "extent"),
    [
        ((10, 10), 0.0, 50), ((10, 10), -3.0, 50), ((10, 10), 20.0, 0.0), ((10, 10), np.nan, 50),
        ((np.inf, 10), 20.0, 50), ((-5, 10), 20.0, 50), ((10, 200), 20.0, 50),
    ],
)  # fmt: skip
def test_a_window_that_makes_no_sense_is_refused(center, d_px, extent):
    with pytest.raises(ValueError, match="window"):
        network.close(photo_of(disc(100, 80, 50, 40, 10)), center, d_px, extent)


def spotted(width, height, x, y):
    """A photo with one green spot of 8 x 8 pixels about (x, y)."""
    rgb = np.zeros((height, width, 3), np.uint8)
    rgb[y - 4 : y + 4, x - 4 : x + 4, 1] = 200
    return Photo("drawn", rgb)


def test_a_network_without_faults_has_no_second_opinion():
    assert network.coarse(spotted(160, 128, 60, 60)).faults is None


@pytest.mark.parametrize("center", [(300, 200), (12, 200), (300, 9), (20, 16), (590, 393)])
@pytest.mark.parametrize("d_px", [64.0, 128.0, 300.0])
def test_cells_of_the_faults_lie_where_the_photo_shows_them(monkeypatch, center, d_px):
    monkeypatch.setattr(network, "NETWORK", TINY.with_name("tiny_second.onnx"))
    at = (min(max(center[0], 8), 590), min(max(center[1], 8), 390))
    patch = network.close(spotted(600, 400, *at), center, d_px, 3 * d_px)
    faults = patch.faults
    assert faults.grid.shape[0] == len(Fault)
    assert faults.grid.dtype == np.float32
    assert not faults.grid.flags.writeable
    weight = faults.grid[Fault.HOLE].astype(float)
    ys, xs = np.indices(weight.shape)
    cell = np.array([(xs * weight).sum(), (ys * weight).sum()]) / weight.sum()
    place = patch.to_photo(np.array([cell * faults.cell_px + faults.corner]))[0]
    # the spot's middle, which lies half a pixel before `at`, to within the cells' coarseness
    assert np.abs(place - (np.array(at) - 0.5)).max() <= 4.0 * patch.step


def test_the_grid_of_faults_is_not_cut_at_the_photos_edge(monkeypatch):
    monkeypatch.setattr(network, "NETWORK", TINY.with_name("tiny_second.onnx"))
    patch = network.close(spotted(600, 400, 60, 60), (0.0, 100.0), 128.0, 320)
    assert patch.labels.shape == (260, 160)
    assert patch.faults.grid.shape[1:] == (40, 40)
    assert patch.faults.corner == (3.5 - 160, 3.5 - 60)


def test_the_hash_is_that_of_the_file():
    assert network.network_hash() == hashlib.sha256(TINY.read_bytes()).hexdigest()


def test_a_missing_or_damaged_network_is_one_sentence(monkeypatch, tmp_path):
    photo = photo_of(disc(64, 64, 32, 32, 10))
    for name, content in (("none.onnx", None), ("bad.onnx", b"not a network")):
        path = tmp_path / name
        if content is not None:
            path.write_bytes(content)
        monkeypatch.setattr(network, "NETWORK", path)
        with pytest.raises(InstallError, match=name):
            network.coarse(photo)
    monkeypatch.setattr(network, "NETWORK", tmp_path / "none.onnx")
    with pytest.raises(InstallError, match="missing"):
        network.network_hash()
