"""The tables of regions, errors, stated uncertainty and size in the picture."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from .compare import Pair, pairs
from .intervals import share
from .records import SQUARE_DEG, Case, Record
from .table_text import markdown, number, percent
from .tally import D_BINS, by_check, d_bin
from .tally_regions import region_scores, strands

IOU_TARGETS = {"solder": 0.92, "conductor": 0.90, "insulation": 0.97, "terminal": 0.90}
# Largest error, for 95 % of the measurements at a tilt up to 18 degrees.
ERROR_TARGETS = {
    "insulation-gap.gap": 0.1,
    "wetting.wetted": 5.0,
    "fillet.angle-conductor": 8.0,
    "fillet.angle-cup": 8.0,
    "stray-strand.length": 0.3,
}


def regions(records: Sequence[Record], joints: Sequence[Case]) -> str:
    """Intersection over union, recall of strands."""
    body = [
        (name, number(pooled), number(median), n, IOU_TARGETS.get(name, ""))
        for name, (pooled, median, n) in region_scores(records).items()
    ]
    found = strands(joints)
    recall, patch = percent(found["within_photo_px"]), percent(found["within_patch_px"])
    false = number(found["false_a_joint"])
    return (
        "## Regions\n\nIntersection over union in usable photos, at full size.\n\n"
        + markdown(("region", "pooled", "median scene", "scenes", "target"), body)
        + f"\n\nStrands: of {found['visible_px']} px of visible centre line {recall} lie"
        f" within 2 px of a found one in the photo, {patch} within 2 px of the network's"
        f" picture (target 80 %). False strands a joint without any: {false}"
        f" of {found['joints_without']} joints (target at most 0.05)."
        "\n\nThe twenty photos whose regions are most wrong (picture, truth, answer):"
        " [worst-regions.jpg](worst-regions.jpg)."
    )


def _tilted(rows: Iterable[Pair]) -> dict[str, dict[str, list[Pair]]]:
    """Pairs by measurement, then by tilt."""
    found: dict[str, dict[str, list[Pair]]] = {}
    for pair in rows:
        tilt = "to 18" if pair.case.tilt_deg <= SQUARE_DEG else "over 18"
        found.setdefault(pair.key, {"to 18": [], "over 18": []})[tilt].append(pair)
    return dict(sorted(found.items()))


def errors(joints: Sequence[Case]) -> str:
    """Errors by measurement and tilt, beside their targets."""
    body = []
    for key, by_tilt in _tilted(pairs(joints)).items():
        for tilt, rows in by_tilt.items():
            if not rows:
                continue
            size = np.abs([p.error for p in rows])
            target = ERROR_TARGETS.get(key)
            within = share(list(size <= target)).text if target is not None else "-"
            middle, most = np.percentile(size, [50, 95])
            numbers = (number(middle), number(most), within)
            body.append((key, rows[0].unit, tilt, len(rows), *numbers, _limit(target, rows)))
    head = ("measurement", "unit", "tilt, deg", "n", "median error", "95 % within", "within target")
    return "## Errors of measurement\n\n" + markdown((*head, "target for 95 %"), body)


def _limit(target: float | None, rows: Sequence[Pair]) -> str:
    return "" if target is None else f"{target:g} {rows[0].unit}"


def coverage(joints: Sequence[Case]) -> str:
    """How often the truth lies within the stated uncertainty, and how wide that is."""
    body = []
    for key, by_tilt in _tilted(pairs(joints)).items():
        for tilt, rows in by_tilt.items():
            if rows:
                covers = share([abs(p.error) <= 2 * p.u for p in rows]).text
                width = number(float(np.median([2 * p.u for p in rows])))
                body.append((key, rows[0].unit, tilt, covers, width))
    head = ("measurement", "unit", "tilt, deg", "truth within k = 2", "median k = 2 uncertainty")
    return "## Stated uncertainty (target: covers 93 to 97 %)\n\n" + markdown(head, body)


def by_size(joints: Sequence[Case]) -> str:
    """Outcomes by D in photo pixels: what each check needs."""
    bins = [d_bin(low) for low in D_BINS[:-1]]
    body = []
    for check in by_check(joints):
        row: list[str] = []
        for name in bins:
            here = [c for c in joints if d_bin(c.d_px) == name]
            states = by_check(here).get(check)
            if states is None:
                row.append("-")
                continue
            bad, sound = states["bad"], states["sound"]
            row.append(
                f"{bad['fine']}/{bad.total()}, {sound['rework']}/{sound.total()},"
                f" {sound['doubt']}/{sound.total()}"
            )
        body.append((check, *row))
    gap = [p for p in pairs(joints) if p.key == "insulation-gap.gap"]
    sizes = []
    for name in bins:
        size = [abs(p.error) for p in gap if d_bin(p.case.d_px) == name]
        sizes.append(f"{np.percentile(size, 95):.3f} ({len(size)})" if size else "-")
    body.append(("gap, D: 95 % of errors within (n)", *sizes))
    return (
        "## By the size of D in the photo, pixels\n\nBad called fine, sound called rework, sound in"
        " doubt; each of how many.\n\n" + markdown(("check", *bins), body)
    )
