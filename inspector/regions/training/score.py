"""Figures on held-out scenes: IoU by region, peak error in D, IoU by mark; pooled and median.

By bands of D too, in pixels of the window: the smaller a joint is seen, the less can be told.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
import torch
from numpy.typing import NDArray

from inspector.model import Mark, Region
from inspector.regions.training.confidence import Sample
from inspector.regions.training.crops import LARGEST_GAIN, Aim, Crop, cut, plain_matrix
from inspector.regions.training.labels import IGNORED, Picture
from inspector.regions.training.losses import AREAS, PEAKS
from inspector.regions.training.net import Net
from inspector.regions.training.opinions import Opinions
from inspector.regions.training.scenes import Scene
from inspector.regions.training.thin import Strands

CLOSE_D_PX = 128.0
_PEAK_FLOOR = 0.3
_NEAR_D = 1.0
_BANDS_PX = (0, 16, 24, 36, 60, 90, 1000)  # of D in the window
_LEAST_PIXELS = 20  # of a region in a scene, to count in the median


@dataclass
class Tally:
    """Running counts of one way of looking (close or whole)."""

    both: NDArray[np.int64] = field(default_factory=lambda: np.zeros(len(Region), np.int64))
    either: NDArray[np.int64] = field(default_factory=lambda: np.zeros(len(Region), np.int64))
    by_scene: dict[Region, list[float]] = field(default_factory=lambda: {r: [] for r in Region})
    mark_both: NDArray[np.int64] = field(default_factory=lambda: np.zeros(len(AREAS), np.int64))
    mark_either: NDArray[np.int64] = field(default_factory=lambda: np.zeros(len(AREAS), np.int64))
    peak_errors_D: dict[Mark, list[float]] = field(  # noqa: N815 - the unit is part of the name
        default_factory=lambda: {m: [] for m in PEAKS}
    )
    peaks_missed: dict[Mark, int] = field(default_factory=lambda: dict.fromkeys(PEAKS, 0))
    strands: Strands = field(default_factory=Strands)
    scenes: int = 0

    def add(self, crop: Crop, labels: Picture, marks: NDArray[np.float32]) -> None:
        """Count one window; labels (S, S), marks (len(Mark), S/2, S/2)."""
        self.scenes += 1
        known = crop.labels != IGNORED
        for region in Region:
            truth, found = (crop.labels == region) & known, (labels == region) & known
            both, either = int((truth & found).sum()), int((truth | found).sum())
            self.both[region] += both
            self.either[region] += either
            if truth.sum() >= _LEAST_PIXELS:
                self.by_scene[region].append(both / either)
        self.strands.add(crop.labels, labels)
        half = known[::2, ::2]
        for i, mark in enumerate(AREAS):
            truth = ((crop.bits[::2, ::2] >> int(mark)) & 1).astype(bool) & half
            found = (marks[mark] > 0.5) & half  # noqa: PLR2004 - likelier than not
            self.mark_both[i] += int((truth & found).sum())
            self.mark_either[i] += int((truth | found).sum())
        for joint in crop.peaks:
            for i, mark in enumerate(PEAKS):
                if joint[i, 3] > 0:
                    self._peak(marks[mark], mark, joint[i])

    def _peak(self, heat: NDArray[np.float32], mark: Mark, truth: NDArray[np.float32]) -> None:
        x, y, d_px = float(truth[0] - 0.5) / 2, float(truth[1] - 0.5) / 2, float(truth[2]) / 2
        ys, xs = np.mgrid[: heat.shape[0], : heat.shape[1]]
        near = np.hypot(xs - x, ys - y) <= _NEAR_D * d_px
        value = np.where(near, heat, 0)
        top = float(value.max())
        if top < _PEAK_FLOOR:
            self.peaks_missed[mark] += 1
            return
        row, column = np.unravel_index(int(value.argmax()), value.shape)
        weight = value * (value >= top / 2) * (np.hypot(xs - column, ys - row) <= 0.3 * d_px)
        total = weight.sum()
        off = np.hypot((weight * xs).sum() / total - x, (weight * ys).sum() / total - y)
        self.peak_errors_D[mark].append(float(off / d_px))

    def short(self) -> dict[str, Any]:
        """IoU and strands only."""
        pooled = {
            r.name.lower(): round(float(self.both[r] / self.either[r]), 4)
            for r in Region
            if self.either[r]
        }
        return {
            "windows": self.scenes,
            "iou_pooled": pooled,
            "strands_within_2_px": self.strands.figures(),
        }

    def figures(self) -> dict[str, Any]:
        """All figures; what never occurred is left out."""
        return {
            **self.short(),
            "iou_median_scene": {
                r.name.lower(): round(float(np.median(v)), 4) for r, v in self.by_scene.items() if v
            },
            "mark_iou_pooled": {
                m.name.lower(): round(float(self.mark_both[i] / self.mark_either[i]), 4)
                for i, m in enumerate(AREAS)
                if self.mark_either[i]
            },
            "peak_error_median_D": {
                m.name.lower(): round(float(np.median(v)), 4)
                for m, v in self.peak_errors_D.items()
                if v
            },
            "peak_error_p95_D": {
                m.name.lower(): round(float(np.percentile(v, 95)), 4)
                for m, v in self.peak_errors_D.items()
                if v
            },
            "peaks_missed_share": {
                m.name.lower(): round(n / (n + len(self.peak_errors_D[m])), 4)
                for m, n in self.peaks_missed.items()
                if n + len(self.peak_errors_D[m])
            },
        }


def windows(scene: Scene, size: int) -> Iterable[tuple[str, Crop]]:
    """What inference sees of a scene: the whole of it, and close by its first joint."""
    height, width = scene.labels.shape
    border = cv2.BORDER_REPLICATE
    at = Aim((width - 1) / 2, (height - 1) / 2, min(size / max(height, width), 1.0))
    yield "whole", cut(scene, plain_matrix(at, size), size, at.scale, border)
    for joint in scene.joints[:1]:
        if not joint.peaks[:, 2].any():
            continue
        x, y = joint.peaks[joint.peaks[:, 2] > 0, :2].mean(0)
        at = Aim(float(x), float(y), min(CLOSE_D_PX / joint.d_px, LARGEST_GAIN))
        yield "close", cut(scene, plain_matrix(at, size), size, at.scale, border)


def _lower(band: str) -> int:
    return int(band.split("-", maxsplit=1)[0])


def _band(crop: Crop) -> str | None:
    """The band of the smallest D in a window."""
    sizes = [float(j[:, 2].max()) for j in crop.peaks if j[:, 3].any()]
    if not sizes:
        return None
    low, high = next(p for p in pairwise(_BANDS_PX) if min(sizes) < p[1] or p[1] == _BANDS_PX[-1])
    return f"{low}-{high}"


@torch.no_grad()
def score(
    net: Net, scenes: Iterable[Scene], device: torch.device, size: int, most_seconds: float
) -> tuple[dict[str, Any], list[tuple[Crop, Picture]]]:
    """Figures of `net` on `scenes`, and some close windows with the labels found, worst first.

    The figures' "temperature" is what makes `sure` true on these scenes; see `confidence`.
    """
    net = net.to(device).eval()
    tallies = {"whole": Tally(), "close": Tally()}
    bands: dict[str, Tally] = {}
    sample, opinions = Sample(), Opinions()
    shown: list[tuple[float, Crop, Picture]] = []
    end = time.monotonic() + most_seconds
    for scene in scenes:
        if time.monotonic() > end:
            break
        for way, crop in windows(scene, size):
            rgb = torch.from_numpy(crop.rgb).to(device).permute(2, 0, 1)[None].float()
            regions, marks, faults = net(rgb)
            labels = regions[0].argmax(0).to(torch.uint8).cpu().numpy()
            chances = marks[0].sigmoid().float().cpu().numpy()
            tallies[way].add(crop, labels, chances)
            if (band := _band(crop)) is not None:
                bands.setdefault(band, Tally()).add(crop, labels, chances)
            sample.add(regions[0], torch.from_numpy(crop.labels))
            if way == "close":
                opinions.add(crop, faults)
                known = crop.labels != IGNORED
                wrong = float((labels != crop.labels)[known].mean()) if known.any() else 0.0
                shown.append((wrong, crop, labels))
    shown.sort(key=lambda entry: -entry[0])
    figures: dict[str, Any] = {w: tally.figures() for w, tally in tallies.items() if tally.scenes}
    figures["by_D_px"] = {b: bands[b].short() for b in sorted(bands, key=_lower)}
    figures["faults"] = opinions.figures()
    temperature = sample.temperature()
    gaps = {"before": sample.gap(), "after": sample.gap(temperature)}
    figures |= {"temperature": temperature, "sureness_off_by": gaps}
    return figures, [(crop, labels) for _, crop, labels in shown[:20]]
