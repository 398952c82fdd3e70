"""One look at one scene, as a record; and many of them, each worker with one thread.

A photo that makes the inspector fail is recorded with its error, never lost.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import traceback
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from scipy.special import ndtr

from inspector import checks, uncertainty
from inspector.model import Fault, Hindrance
from inspector.second import log_odds, overall
from inspector.uncertainty import Calibration

from . import areas
from .records import not_measured

if TYPE_CHECKING:
    from inspector.model import Finding, Inspection, Job, Measured

SAME_JOINT_D = 0.6
LONGEST_S = 180
FINE = 0.95
MOST_PLACES = 80  # points of evidence kept with a measurement
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
Json = dict[str, Any]


def scenes(folder: Path) -> list[Path]:
    """The photos NAME.jpg of a folder that have a NAME.json beside them, by name."""
    return [p for p in sorted(folder.glob("*.jpg")) if p.with_suffix(".json").exists()]


def normal_law(table: Mapping[str, Calibration]) -> dict[str, Calibration]:
    """Calibrations under which "none seen" counts: by the normal law where no table was fitted."""
    normal = tuple((float(z), float(ndtr(z))) for z in np.linspace(-8, 8, 321))
    out = dict(table)
    for check in checks.registry().values():
        for name in check.proof:
            key = f"{check.name}.{name}"
            old = out.get(key, uncertainty.UNCALIBRATED)
            if not old.conformance:
                out[key] = replace(old, conformance=normal)
    return out


def begin(network: Path | None, *, for_fit: bool = False) -> None:
    """What a worker does first: one thread, another network if one is named.

    for_fit: nothing is calibrated and every finder counts, so that what is fitted to the results
    does not hang on an earlier fit, and "none seen" is recorded as what was measured.
    """
    from inspector.regions import network as regions  # noqa: PLC0415 - after the environment is set

    cv2.setNumThreads(1)
    regions._THREADS = 1  # noqa: SLF001 - workers share the machine; the program itself uses two
    if network is not None:
        regions.NETWORK = network
    if for_fit:
        uncertainty.calibrations = cache(partial(normal_law, {}))


def job_of(truth: Json) -> Job:
    """What a user would say: the wire for half of the photos, by seed, if all joints share it."""
    from inspector import Job  # noqa: PLC0415 - heavy, and only workers need it
    from inspector.wire import parse_wire  # noqa: PLC0415

    said = np.random.default_rng([int(truth["seed"]), 7]).random() < 0.5  # noqa: PLR2004 - half
    wires = {joint["wire"] for joint in truth["joints"]}
    known = said and len(wires) == 1
    return Job(wire_od_mm=parse_wire(wires.pop()).overall_mm if known else None)


def look_at(photo: Path, *, for_fit: bool = False) -> Json:
    """The record of one scene; see records.py for its form. `for_fit` is only noted down."""
    truth = json.loads(photo.with_suffix(".json").read_text("utf-8"))
    record: Json = {"scene": photo.stem, "failed": None, "truth": truth, "joints": []}
    record |= {"verdict": None, "confusion": None, "strands": [], "for_fit": for_fit}
    if hasattr(signal, "SIGALRM"):
        signal.signal(signal.SIGALRM, _too_long)
        signal.alarm(LONGEST_S)
    try:
        _look(photo, truth, record)
    except Exception as error:  # noqa: BLE001 - whatever it is, it is a result
        record["failed"] = _one_line(error)
    finally:
        if hasattr(signal, "SIGALRM"):
            signal.alarm(0)
    _shorten(truth)
    return record


def _too_long(_number: int, _frame: FrameType | None) -> None:
    raise TimeoutError(f"took longer than {LONGEST_S} s")


def _one_line(error: Exception) -> str:
    where = traceback.extract_tb(error.__traceback__)[-1]
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text} ({Path(where.filename).name}:{where.lineno})"


def _shorten(truth: Json) -> None:
    """Strands' paths need no more than a point in four for saying whether a place is near one."""
    for joint in truth["joints"]:
        for strand in joint["strands"]:
            strand["path"] = [*strand["path"][::4], *strand["path"][-1:]]


def _look(photo: Path, truth: Json, record: Json) -> None:
    from inspector import look  # noqa: PLC0415 - see job_of
    from inspector.look import region_map  # noqa: PLC0415
    from inspector.regions.network import network_hash  # noqa: PLC0415

    record["network"] = network_hash()[:12]
    job = job_of(truth)
    record["wire_known"] = job.wire_od_mm is not None
    inspection = look(photo, job)
    record["verdict"] = inspection.verdict.value
    record["seconds"] = round(inspection.seconds, 3)
    record["quality"] = {k: round(v, 4) for k, v in inspection.quality.items()}
    record["photo_findings"] = [[f.check, f.outcome.value] for f in inspection.findings]
    record["joints"] = _joints(inspection, truth["joints"], everywhere=record["for_fit"])
    path = photo.with_suffix(".regions.png")
    if path.exists():
        labels = np.asarray(cv2.imread(str(path), cv2.IMREAD_UNCHANGED), np.uint8)
        found = region_map(inspection)
        record["confusion"] = areas.confusion(labels, found).tolist()
        record["strands"] = areas.strand_recall(truth["joints"], labels, inspection.patches)


def _joints(inspection: Inspection, truths: list[Json], *, everywhere: bool) -> list[Json]:
    lips = [r.joint.patch.to_photo(np.array([r.joint.lip]))[0] for r in inspection.results]
    partner = match(lips, truths)
    return [
        {
            "truth": partner[i],
            "number": result.joint.number,
            "verdict": result.verdict.value,
            "lip": [round(float(c), 1) for c in lips[i]],
            "axis": [round(float(c), 4) for c in result.joint.axis],
            "d_px": round(result.joint.d_px * result.joint.patch.step, 2),
            "against": overall(result.joint),
            "faults": {f.name.lower(): log_odds(result.joint, f) for f in Fault},
            "hindrances": {h.name.lower(): log_odds(result.joint, h) for h in Hindrance},
            "findings": [_finding(f, everywhere=everywhere) for f in result.findings],
        }
        for i, result in enumerate(inspection.results)
    ]


def match(lips: list[np.ndarray], truths: list[Json]) -> list[int | None]:
    """The true joint's number of each found lip, nearest pairs first, within 0.6 D."""
    gaps = []
    for i, lip in enumerate(lips):
        for truth in truths:
            gap = float(np.hypot(*(lip - np.asarray(truth["lip"])))) / truth["d_px"]
            gaps.append((gap, i, int(truth["joint"])))
    partner: list[int | None] = [None] * len(lips)
    for gap, i, number in sorted(gaps):
        if gap <= SAME_JOINT_D and partner[i] is None and number not in partner:
            partner[i] = number
    return partner


def _finding(finding: Finding, *, everywhere: bool = False) -> Json:
    """everywhere: with the places of what is fine too, which other calibrations may not call so."""
    return {
        "check": finding.check,
        "outcome": finding.outcome.value,
        "p": finding.conformance,
        "text": finding.text,
        "measured": [_measured(m, finding, everywhere=everywhere) for m in finding.measured],
    }


def _measured(item: Measured, finding: Finding, *, everywhere: bool = False) -> Json:
    from inspector.model import NotMeasured  # noqa: PLC0415 - see job_of
    from inspector.probability import probability  # noqa: PLC0415 - see job_of

    if isinstance(item, NotMeasured):
        return not_measured(item)
    q = item.quantity
    limits = [limit for limit in finding.limits if limit.name == item.name]
    chances = [probability(finding.check, item, limit) for limit in limits]
    points = np.concatenate([np.zeros((0, 2)), *(e.points for e in item.evidence)])
    points = points[:: max(1, len(points) // MOST_PLACES)]
    suspect = bool(chances) and (everywhere or min(chances) < FINE)  # of others nobody asks
    return {
        "name": item.name,
        "value": q.value,
        "u": q.standard_uncertainty,
        "raw": uncertainty.combine(q.parts.values()) if q.parts else q.standard_uncertainty,
        "unit": q.unit,
        "presence": item.presence,
        "second": item.second,
        "p": min(chances) if chances else None,
        "where": np.round(points, 1).tolist() if suspect else [],
    }


def look_at_all(
    photos: list[Path], jobs: int, network: Path | None, *, for_fit: bool = False
) -> Iterator[Json]:
    """Records as they come; a worker that dies costs no record but that of its own photo."""
    for name in _ONE_THREAD:
        os.environ[name] = "1"
    batches = [photos]
    while batches:
        left = set(batches.pop())
        try:
            for photo, record in _pooled(sorted(left), jobs, network, for_fit=for_fit):
                left.discard(photo)
                yield record
        except BrokenProcessPool:
            again = sorted(left)
            half = len(again) // 2
            if half:  # halve until the photo that kills a worker stands alone
                batches += [again[half:], again[:half]]
            else:
                yield _died(again[0], for_fit=for_fit)


def _died(photo: Path, *, for_fit: bool) -> Json:
    truth = json.loads(photo.with_suffix(".json").read_text("utf-8"))
    died = {"failed": "the process died", "verdict": None, "confusion": None, "for_fit": for_fit}
    return {"scene": photo.stem, "truth": truth, "joints": [], "strands": [], **died}


def _pooled(
    photos: Iterable[Path], jobs: int, network: Path | None, *, for_fit: bool
) -> Iterator[tuple[Path, Json]]:
    context = multiprocessing.get_context("spawn")
    first = partial(begin, network, for_fit=for_fit)
    with ProcessPoolExecutor(jobs, context, initializer=first) as pool:
        waiting = {pool.submit(look_at, photo, for_fit=for_fit): photo for photo in photos}
        for done in as_completed(waiting):
            yield waiting[done], done.result()
