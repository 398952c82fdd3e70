"""The sheet of photos whose regions are most wrong."""

from __future__ import annotations

import shutil
from pathlib import Path

import cv2
import numpy as np
import pytest

from tools.accuracy.records import ResultsError
from tools.accuracy.worst import draw, worst

DEMO = Path(__file__).parents[2] / "sample_images" / "demo"


def record(name, right, wrong, *, usable=True):
    table = np.zeros((8, 8), int)
    table[1, 1], table[1, 0] = right, wrong
    truth = {"usable": usable, "joints": [{"lip": [450, 350], "d_px": 80}]}
    return {"scene": name, "confusion": table.tolist(), "truth": truth}


def test_least_intersection_over_union_comes_first_and_unusable_ones_do_not_count():
    records = [
        record("good", 90, 10), record("bad", 10, 90), record("middling", 50, 50),
        record("dark", 0, 100, usable=False),
    ]  # fmt: skip
    assert worst(records, 2) == [(0.1, "bad"), (0.5, "middling")]


def test_the_sheet_shows_photo_truth_and_what_was_found(tmp_path):
    for ending in (".jpg", ".regions.png"):
        shutil.copy(DEMO / f"12-awg-sound{ending}", tmp_path)
    out = tmp_path / "sheet.jpg"
    assert draw([record("12-awg-sound", 9, 1)], tmp_path, out) == ["12-awg-sound: mean IoU 0.90"]
    photo, truth, found = np.hsplit(cv2.imread(str(out)).astype(int), 3)
    assert abs(photo - truth).mean() > 5  # tinted
    assert abs(truth - found).mean() < abs(photo - truth).mean()  # mostly alike
    with pytest.raises(ResultsError, match="the folder that was looked at"):
        draw([record("gone", 9, 1)], tmp_path, out)
