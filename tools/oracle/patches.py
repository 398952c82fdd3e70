"""Patches made from a scene's truth, as a good network would answer."""

from __future__ import annotations

import json
import math
import multiprocessing
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager, nullcontext
from functools import partial
from pathlib import Path
from typing import Any
from unittest import mock

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector import uncertainty
from inspector.model import Mark, Patch, Photo
from inspector.regions import network
from tools.accuracy import looks

AREAS = range(Mark.MOUTH, len(Mark))
PEAK_D, PEAK = 0.10, 0.95  # standard deviation in D and height of a peak
SOFT_PX = 0.5  # blur of the borders in patch pixels, standard deviation
PEAKS = (
    (Mark.END, "end", "end_visible"),
    (Mark.LIP, "lip", "lip_visible"),
    (Mark.TOE, "toe", None),
)
Floats = NDArray[np.float32]


class Truth:
    """The truth maps of one scene: label (h, w), marks (h, w) of bits, and its JSON."""

    def __init__(self, photo: Path) -> None:
        """Read the maps beside `photo`."""
        self.label = np.asarray(cv2.imread(str(photo.with_suffix(".regions.png")), -1), np.uint8)
        self.marks = np.asarray(cv2.imread(str(photo.with_suffix(".marks.png")), -1), np.uint16)
        self.json: dict[str, Any] = json.loads(photo.with_suffix(".json").read_text("utf-8"))

    def patch(self, photo: Photo, window: tuple[int, int, int, int], step: float) -> Patch:
        """The window (left, top, width, height in patch pixels), cut off at the photo's edge."""
        left, top, width, height = window
        high, wide = self.label.shape
        x0, y0 = max(left, 0), max(top, 0)
        columns = max(1, math.floor(min(wide - x0, left + width * step - x0) / step))
        rows = max(1, math.floor(min(high - y0, top + height * step - y0) / step))
        origin = (x0 + (step - 1) / 2, y0 + (step - 1) / 2)
        seen = self.label[y0 : y0 + math.ceil(rows * step), x0 : x0 + math.ceil(columns * step)]
        bits = self.marks[y0 : y0 + seen.shape[0], x0 : x0 + seen.shape[1]]
        rgb = photo.rgb[y0 : y0 + seen.shape[0], x0 : x0 + seen.shape[1]]
        size = (columns, rows)
        chance = np.stack([_shrunk(seen == k, size, step) for k in range(8)])
        marks = np.zeros((len(Mark), rows, columns), np.float32)
        for k in AREAS:
            if (bits >> k & 1).any():
                marks[k] = _shrunk((bits >> k & 1) > 0, size, step)
        self._peaks(marks, origin, step)
        how = cv2.INTER_AREA if step >= 1 else cv2.INTER_LINEAR
        small = np.asarray(cv2.resize(rgb, size, interpolation=how), np.uint8)
        best = chance.argmax(axis=0).astype(np.uint8)
        return Patch(small, best, chance.max(axis=0), marks, origin, step)

    def _peaks(self, marks: Floats, origin: tuple[float, float], step: float) -> None:
        y, x = np.mgrid[: marks.shape[1], : marks.shape[2]].astype(np.float32)
        for joint in self.json["joints"]:
            sigma = max(PEAK_D * joint["d_px"] / step, 1.0)
            places = [(m, joint[k]) for m, k, v in PEAKS if joint[k] and (v is None or joint[v])]
            places += [(Mark.END, place) for place in joint.get("more_ends", ())]
            for mark, place in places:
                at = (np.asarray(place, float) - origin) / step
                peak = PEAK * np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2 * sigma**2))
                np.maximum(marks[mark], peak, out=marks[mark])


def _shrunk(mask: NDArray[np.bool_], size: tuple[int, int], step: float) -> Floats:
    how = cv2.INTER_AREA if step >= 1 else cv2.INTER_LINEAR
    found = cv2.resize(mask.astype(np.float32), size, interpolation=how)
    return np.asarray(cv2.GaussianBlur(found, (0, 0), SOFT_PX), np.float32)


@contextmanager
def in_place_of_the_network(photo: Path) -> Iterator[None]:
    """While it lasts, inspector.look answers from the truth of `photo`."""
    truth = Truth(photo)

    def patch(seen: Photo, left: int, top: int, width: int, height: int, step: float) -> Patch:
        return truth.patch(seen, (left, top, width, height), step)

    with (
        mock.patch.object(network, "_patch", patch),
        mock.patch.object(network, "network_hash", return_value="the truth itself"),
    ):
        yield


@contextmanager
def as_if_proven() -> Iterator[None]:
    """While it lasts, "none seen" lets a joint pass: the normal law is taken as shown to hold.

    Nothing is calibrated then, for the tables say what the network's maps are worth, not true ones.
    """
    table = looks.normal_law({})
    with mock.patch.object(uncertainty, "calibrations", return_value=table):
        yield


def look_at(photo: Path, *, proven: bool = False) -> dict[str, Any]:
    """The record of one scene (see tools/accuracy/records.py), truth in the network's place.

    proven: passes are counted as if calibration scenes had shown what "none seen" is worth.
    """
    with in_place_of_the_network(photo), as_if_proven() if proven else nullcontext():
        return looks.look_at(photo)


def look_at_all(photos: list[Path], jobs: int, *, proven: bool = False) -> Iterable[dict[str, Any]]:
    """Records as they come, in the order of the photos."""
    context = multiprocessing.get_context("spawn")
    look = partial(look_at, proven=proven)
    with ProcessPoolExecutor(jobs, context, initializer=looks.begin, initargs=(None,)) as pool:
        yield from pool.map(look, photos, chunksize=4)
