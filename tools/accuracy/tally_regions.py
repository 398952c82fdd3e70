"""Intersection over union of the regions, pooled over photos and of the median scene."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .areas import iou
from .records import Record

REGIONS = {1: "insulation", 2: "conductor", 3: "solder", 4: "terminal", 5: "housing", 6: "strand"}


def region_scores(records: Sequence[Record]) -> dict[str, tuple[float | None, float | None, int]]:
    """By region: pooled over all pixels, median of the scenes that have it in truth, how many."""
    maps = [
        np.array(r["confusion"], np.int64)
        for r in records
        if r["confusion"] is not None and r["truth"]["usable"]
    ]
    scores: dict[str, tuple[float | None, float | None, int]] = {}
    for region, name in REGIONS.items():
        having = [m for m in maps if m[region].sum()]
        each = [value for m in having if (value := iou(m, region)) is not None]
        pooled = iou(np.sum(maps, axis=0), region) if maps else None
        scores[name] = (pooled, float(np.median(each)) if each else None, len(each))
    return scores
