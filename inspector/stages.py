"""The stages in their order: photo, regions, joints, scale, quality, measurements, verdict."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from time import perf_counter
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from inspector import checks, kinds
from inspector.joints import find_joints
from inspector.model import Inspection, Job, Joint, Patch, Photo, Scale, View
from inspector.photo import read_photo
from inspector.quality import GATES, examine, photo_findings, problems_of
from inspector.regions import network
from inspector.regions.along import along
from inspector.settings import Settings
from inspector.spots import SPOT
from inspector.verdict import judge, judge_photo
from inspector.windows import Window, match, misjudged, plan_windows
from inspector.wire import OVERALL_STANDARD_UNCERTAINTY_MM

# D in the whole photo's patch under which joints are often overlooked there, and photo pixels for
# one of its own from which a finer one shows more; both ours, no source.
SMALL_D_PX, LEAST_FINER = 32.0, 1.2
MOST_WINDOWS = 8  # of a crowded photo; each joint judged in them takes three tenths of one more


def run(source: Photo | bytes | str | Path, job: Job, settings: Settings) -> Inspection:
    """All stages on one photo; see inspector.look.look. SettingsError for an unknown limit."""
    started = perf_counter()
    checks.check_limits(settings.limits)
    photo = read_photo(source)
    patches, joints = _find(photo, job.kind)
    quality: list[Mapping[str, float]] = []
    results = []
    for joint in joints:
        measures, trouble = examine(photo, joint)
        quality.append(measures)
        others = tuple(other for other in joints if other is not joint)
        view = View(joint, others, scale_of([joint], job), job)
        kind = kinds.registry()[job.kind]
        result = judge(joint, view, checks.registry(), kind, settings, quality=trouble)
        results.append(replace(result, quality=measures))
    findings = photo_findings(joints, job)
    return Inspection(
        photo=photo,
        job=job,
        scale=scale_of(joints, job),
        patches=patches,
        results=tuple(results),
        findings=findings,
        quality=_worst(quality),
        verdict=judge_photo(results, findings),
        seconds=perf_counter() - started,
    )


def region_map(inspection: Inspection) -> NDArray[np.uint8]:
    """What every pixel is, (H, W) of Region, at the upright photo's size."""
    high, wide = inspection.photo.rgb.shape[:2]
    return network.compose((wide, high), inspection.patches)


def scale_of(joints: Iterable[Joint], job: Job) -> Scale:
    """Millimetres per photo pixel from the wire's overall diameter over D in pixels.

    Several joints: the median, with their spread added to the uncertainty, since they lie at
    different distances from the camera. The table's own tolerance is part of it. A spot's D is a
    guess and says nothing about the scale.
    """
    scales, uncertainties = [], []
    for joint in joints:
        if job.wire_od_mm is None:
            break
        if SPOT in joint.problems:
            continue
        mm_per_px = job.wire_od_mm / (joint.d_px * joint.patch.step)
        relative = math.hypot(
            joint.d_standard_uncertainty_px / joint.d_px,
            OVERALL_STANDARD_UNCERTAINTY_MM / job.wire_od_mm,
        )
        scales.append(mm_per_px)
        uncertainties.append(mm_per_px * relative)
    if not scales:
        return Scale(None, None, "none")
    spread = float(np.std(scales))
    return Scale(
        float(np.median(scales)), math.hypot(float(np.median(uncertainties)), spread), "wire"
    )


def _find(photo: Photo, kind: str) -> tuple[tuple[Patch, ...], tuple[Joint, ...]]:
    """Joints found small in the whole photo, then again in close windows at a fixed D."""
    high, wide = photo.rgb.shape[:2]
    whole, rough = _rough(photo, kind)
    windows = plan_windows(rough, photo)[:MOST_WINDOWS]
    patches = [_close(photo, window) for window in windows]
    close = [find_joints(patch, kind, (wide, high)) for patch in patches]
    for index, window in misjudged(windows, close):  # D was not what the whole photo suggested
        patches[index] = _close(photo, window)
        close[index] = find_joints(patches[index], kind, (wide, high))
    joints = match(rough, [joint for found in close for joint in found])
    return (whole, *patches), tuple(_again(photo, joint) for joint in joints)


def _again(photo: Photo, joint: Joint) -> Joint:
    """A joint that will be judged, looked at once more along its axis for a second opinion."""
    if problems_of(joint) or joint.patch.faults is None:
        return joint
    return replace(joint, along=along(photo, joint))


def _rough(photo: Photo, kind: str) -> tuple[Patch, Sequence[Joint]]:
    """The whole photo and the joints found in it; finer where few pixels show them, or none do.

    Of 134 joints of 15 to 24 pixels, in calibration photos set into larger ones, 66 were found in
    640 pixels and 87 in 832, which takes a fifth of a second more (94 in 960, for 170 MB more).
    """
    high, wide = photo.rgb.shape[:2]
    whole = network.coarse(photo)
    rough = find_joints(whole, kind, (wide, high))
    sizes = [joint.d_px for joint in rough if SPOT not in joint.problems]
    if whole.step < LEAST_FINER or min(sizes, default=0.0) >= SMALL_D_PX:
        return whole, rough
    finer = network.coarse(photo, network.FINER_SIDE_PX)
    again = find_joints(finer, kind, (wide, high))
    better = sum(SPOT not in joint.problems for joint in again) >= len(sizes)
    return (finer, again) if better else (whole, rough)


def _close(photo: Photo, window: Window) -> Patch:
    return network.close(photo, window.center, window.d_px, window.extent)


def _worst(measured: Iterable[Mapping[str, float]]) -> Mapping[str, float]:
    """Of several joints' measures each gate's worst."""
    worst: dict[str, float] = {}
    for measures in measured:
        for name, value in measures.items():
            pick = max if name in GATES and GATES[name].sense == "max" else min
            worst[name] = pick(worst.get(name, value), value)
    return MappingProxyType(worst)
