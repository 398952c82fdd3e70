"""Pictures that show no joint are a retake: never a pass, nor a rework that sends one soldering."""

import cv2
import numpy as np
import pytest
from skimage import data

from inspector import look
from inspector.model import Photo, Verdict
from inspector.photo import make_photo

SHIPPED = (  # of scikit-image's pictures, those that come inside its package
    "astronaut", "brick", "camera", "cat", "checkerboard", "clock", "coffee", "coins", "grass",
    "gravel", "horse", "hubble_deep_field", "moon", "page", "rocket", "text",
)  # fmt: skip


def as_photo(picture: np.ndarray) -> Photo:
    grey = picture.astype(np.uint8) * (255 if picture.dtype == bool else 1)
    rgb = grey if grey.ndim == 3 else np.repeat(grey[..., None], 3, axis=2)
    return make_photo(np.ascontiguousarray(rgb[..., :3]))


@pytest.mark.parametrize("name", SHIPPED)
def test_faces_things_and_textures_are_a_retake(name):
    try:
        picture = getattr(data, name)()
    except (OSError, ImportError, ConnectionError, ValueError):
        pytest.skip("not inside this version of scikit-image")
    assert look(as_photo(picture)).verdict is Verdict.RETAKE


def flat(value):
    return np.full((480, 640, 3), value, np.uint8)


def noise():
    return np.random.default_rng(3).integers(0, 256, (480, 640, 3), np.uint8)


def drawn():
    """A wire, a bare end and a cup as a child would draw them."""
    board = flat(250)
    cv2.line(board, (40, 240), (330, 240), (200, 30, 30), 60)
    cv2.line(board, (330, 240), (400, 240), (190, 120, 60), 30)
    cv2.rectangle(board, (400, 200), (520, 280), (230, 200, 60), 6)
    cv2.circle(board, (460, 240), 20, (170, 170, 170), -1)
    return board


def stripes():
    board = flat(30)
    for x in range(0, 640, 40):
        cv2.line(board, (x, 0), (x + 120, 480), (220, 60, 60), 14)
    return board


@pytest.mark.parametrize("make", [noise, drawn, stripes, lambda: flat(0), lambda: flat(255)])
def test_what_was_never_photographed_is_a_retake(make):
    assert look(as_photo(make())).verdict is Verdict.RETAKE
