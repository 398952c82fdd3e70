"""One photo from its number: scene, camera, render, truth, and the files."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np

from .camera import add_camera
from .develop import develop
from .lights import add_lights
from .pinhole import joint_window
from .plan import plan
from .render import render_photo, set_up
from .scene import build_scene
from .truth import truth_of

QUALITY = (75, 93)  # of the JPEG: from, and below


def make(number: int, folder: Path, samples: int, threads: int) -> None:
    """Write NNN.jpg and, last, its truth NNN.json.

    samples: a pixel, round the joints. The order of the draws is part of what a number shows.
    """
    todo = plan(number)
    rng = np.random.default_rng(todo.seed)
    scene = build_scene(rng, todo)
    pinhole, stand = add_camera(rng, todo, scene)
    add_lights(rng, todo.light, stand)
    set_up(todo.size_px, threads)
    # there is nothing fine to see in a photo that cannot carry a verdict
    window = None if todo.hindrance else joint_window(scene.poles, pinhole)
    linear = render_photo(todo.size_px, window, samples)
    image = develop(rng, linear, todo.exposure, todo.noise)
    quality = int(rng.integers(*QUALITY))
    truth = truth_of(todo, scene.cups, scene.plating, scene.poles, scene.bridge, pinhole)
    name = f"{number:03d}"
    path = folder / f"{name}.jpg"
    if not cv2.imwrite(str(path), image, [cv2.IMWRITE_JPEG_QUALITY, quality]):
        raise OSError(f"{path} could not be written.")
    part = folder / f"{name}.json.part"
    part.write_text(json.dumps(truth, indent=1), "utf-8")
    part.replace(folder / f"{name}.json")
