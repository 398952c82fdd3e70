"""A sheet of the test photos whose regions the network gets most wrong: photo, truth, found.

Cut about the joints in view, with the regions tinted. Worst means the least mean intersection over
union of insulation, conductor, solder and terminal, where the truth has them.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from inspector.look import look, region_map
from inspector.model import Region
from inspector.photo import read_photo
from inspector.regions.training.labels import shrink_labels, shrink_picture
from inspector.regions.training.sheets import sheet, tint

from .areas import iou
from .records import Record, ResultsError

WHAT = (Region.INSULATION, Region.CONDUCTOR, Region.SOLDER, Region.TERMINAL)
MOST_PX = 640  # of a cut, before it becomes a tile
AROUND_D = 3.0  # left round the joints' lips
COLUMNS = 2
Picture = NDArray[np.uint8]


def worst(records: Sequence[Record], count: int) -> list[tuple[float, str]]:
    """Mean IoU and name of the `count` usable photos with the least."""
    found = []
    for record in records:
        if record["confusion"] is None or not record["truth"]["usable"]:
            continue
        table = np.array(record["confusion"], np.int64)
        each = [v for r in WHAT if table[r].sum() and (v := iou(table, r)) is not None]
        if each and record["truth"]["joints"]:
            found.append((float(np.mean(each)), str(record["scene"])))
    return sorted(found)[:count]


def draw(records: Sequence[Record], scenes: Path, out: Path, count: int = 20) -> list[str]:
    """Write the sheet as a JPEG; gives a line for each photo, in the sheet's order."""
    named = {str(r["scene"]): r for r in records}
    triples, lines = [], []
    for score, name in worst(records, count):
        path = scenes / f"{name}.jpg"
        if not path.exists():
            raise ResultsError(f"{path} is not there; name the folder that was looked at.")
        triples.append(_triple(path, named[name]["truth"]["joints"]))
        lines.append(f"{name}: mean IoU {score:.2f}")
    rows = [list(chain(*triples[i : i + COLUMNS])) for i in range(0, len(triples), COLUMNS)]
    if rows and len(rows[-1]) < len(rows[0]):
        rows[-1] += [np.zeros_like(rows[-1][0])] * (len(rows[0]) - len(rows[-1]))
    sheet(out, rows)
    return lines


def _triple(path: Path, joints: Sequence[Record]) -> list[Picture]:
    """The cut about the joints: photo, truth, found."""
    inspection = look(read_photo(path))
    rgb, found = inspection.photo.rgb, region_map(inspection)
    truth = np.asarray(cv2.imread(str(path.with_suffix(".regions.png")), cv2.IMREAD_UNCHANGED))
    lips = np.array([joint["lip"] for joint in joints], float)
    low, high = lips.min(axis=0), lips.max(axis=0)
    half = float((high - low).max()) / 2 + AROUND_D * max(joint["d_px"] for joint in joints)
    x, y = (low + high) / 2
    rows = slice(max(0, int(y - half)), int(y + half))
    columns = slice(max(0, int(x - half)), int(x + half))
    part = rgb[rows, columns]
    scale = min(1.0, MOST_PX / max(part.shape[:2]))
    width, height = (max(1, round(n * scale)) for n in (part.shape[1], part.shape[0]))
    small = shrink_picture(np.ascontiguousarray(part), width, height)
    out = [small]
    for labels in (truth, found):
        few = shrink_labels(np.ascontiguousarray(labels[rows, columns]), width, height)
        out.append(tint(small, few))
    return [_square(p) for p in out]


def _square(picture: Picture) -> Picture:
    """Black bars until it is square."""
    height, width = picture.shape[:2]
    side = max(height, width)
    down, right = side - height, side - width
    return np.pad(picture, ((0, down), (0, right), (0, 0)))
