"""The truth of a whole scene: each joint's, and what lies between joints."""

from __future__ import annotations

from typing import Any

from . import part as pt
from .buffers import Buffers
from .joint import JointModel
from .limits import worst
from .request import MOST_TILT_DEG, Request
from .truth import joint_truth
from .view import Camera

# what is planted between joints, and the fault that it is
BETWEEN = {"bridge": "bridge", "near bridge": "bridge", "melted housing": "char"}


def _shared(
    entry: dict[str, Any], planted: list[dict[str, Any]], camera: Camera, buffers: Buffers
) -> None:
    """Add to a joint's truth what is planted between joints: bridges, a melted housing."""
    number = entry["joint"]
    melted = ((buffers.label == pt.HOUSING) & (buffers.marks & pt.CHAR > 0)).sum()
    shown = {
        "bridge": entry["holds"]["bridge"] == "bad",
        "near bridge": entry["box"] is not None,
        "melted housing": bool(melted > (0.1 * entry["d_px"]) ** 2),
    }
    faults = entry["faults"]
    for p in planted:
        if p["name"] not in shown:
            continue
        # where it is measured it is bad there; of all others, and where it hides, nothing is said
        between = BETWEEN[p["name"]]
        if faults[between] == "sound":
            faults[between] = "not-seen"
        if p["joint"] == number:
            where, _ = camera.project(p["where"])
            known = {k: p[k] for k in ("check", "name", "size")}
            entry["planted"].append(known | {"where": where.tolist(), "visible": shown[p["name"]]})
        if p["check"] == "bridge" and number - p["joint"] in (0, 1):
            # its solder stands outside both terminals; by how much is not measured
            holds = entry["holds"]
            holds["excess-solder"] = worst(holds["excess-solder"], "near")
            faults["excess"] = worst(faults["excess"], "near")


def scene_truth(
    ask: Request,
    joints: list[JointModel],
    planted: list[dict[str, Any]],
    camera: Camera,
    buffers: Buffers,
) -> dict[str, Any]:
    """A scene's truth, as the README of sample_images describes it."""
    entries = []
    for number, model in enumerate(joints, 1):
        entry = joint_truth(model, number, camera, buffers)
        _shared(entry, planted, camera, buffers)
        x, y = entry["lip"]
        if not (
            -2 * entry["d_px"] < x < camera.width + 2 * entry["d_px"]
            and -2 * entry["d_px"] < y < camera.height + 2 * entry["d_px"]
        ):
            continue  # quite outside the picture
        entries.append(entry)
    d_px = min((e["d_px"] for e in entries), default=ask.d_px)
    tilt = max((e["tilt_deg"] for e in entries), default=0.0)
    fair = ask.fate == "usable" or (ask.fate == "tilt" and tilt <= MOST_TILT_DEG)
    because = None if fair else ask.fate
    return {
        "seed": ask.seed,
        "look": ask.look,
        "size": [camera.width, camera.height],
        "usable": because is None,
        "unusable_because": because,
        "photo": {"tilt_deg": tilt, "d_px": d_px},
        "joints": entries,
    }
