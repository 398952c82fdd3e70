"""Intersection over union of the regions; recall of strands, and strands that are not there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .areas import iou
from .records import Case, Record

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


def strands(of: Sequence[Case]) -> dict[str, float | None]:
    """Recall of visible strands' centre lines, and false strands a joint without any."""
    visible = near = near_patch = 0
    for case in of:
        for row in case.record["strands"]:
            if row["joint"] == case.truth["joint"]:
                visible += row["visible_px"]
                near += row["found_px"]
                near_patch += row["found_patch_px"]
    free = [c for c in of if c.holds.get("stray-strand") == "sound" and c.found is not None]
    false = sum(_count(c) for c in free)
    return {
        "visible_px": visible,
        "within_photo_px": near / visible if visible else None,
        "within_patch_px": near_patch / visible if visible else None,
        "false_a_joint": false / len(free) if free else None,
        "joints_without": len(free),
    }


def _count(case: Case) -> float:
    finding = case.finding("stray-strand") or {"measured": ()}
    values = [m.get("value", 0.0) for m in finding["measured"] if m["name"] == "strands"]
    return float(sum(values))
