"""Hand-made results: a photo, its joints and what was found of them, each by a few words."""

from tools.accuracy.records import Case

CHECKS = (
    "insulation-gap", "solder-fill", "wetting", "fillet", "excess-solder", "seating",
    "bridge", "spike", "surface", "stray-strand", "birdcage", "insulation-damage",
)  # fmt: skip
VALUES = {
    "gap_D": 1.0, "fill": 1.0, "wetted": 1.0, "dry_stretch_conductor_diameters": 0.0, "fillet": [],
    "excess_D": 0.0, "surplus_share": 0.0, "surplus_area_D2": 0.0,
    "hidden_contour": False, "spike_mm": 0.0,
    "birdcage_D": 0.5, "seating": 1.0, "seating_visible": False, "rough_share": 0.0,
    "rough_size": 0.0, "hole_D": 0.0, "hole_hidden": False, "char_D": 0.0,
    "ragged_D": 0.0, "embed_D": 0.0,
    "bridge_D": 0.0, "spike_hidden": False, "rough_D": 0.0, "char_kind": None,
}  # fmt: skip


def true_joint(number=1, *, at=200.0, holds=None, values=None, strands=(), planted=(), **more):
    """A joint whose wire ends at (at, 300), lip 100 px to the right, D 100 px."""
    return {
        "joint": number, "wire": "12 AWG", "d_mm": 4.5, "d_px": 100.0, "tilt_deg": 5.0,
        "end": [at, 300.0], "lip": [at + 100.0, 300.0], "axis": [1.0, 0.0],
        "end_visible": True, "lip_visible": True, "strands": list(strands),
        "planted": list(planted), "values": {**VALUES, **(values or {})},
        "holds": dict.fromkeys(CHECKS, "sound") | {"seating": "not-seen"} | (holds or {}), **more,
    }  # fmt: skip


def measured(
    name, value, *, u=0.05, raw=None, unit="D", presence=1.0, p=1.0, where=(), second=None
):
    return {
        "name": name, "value": value, "u": u, "raw": u if raw is None else raw, "unit": unit,
        "presence": presence, "second": second, "p": p, "where": [list(point) for point in where],
    }  # fmt: skip


def found(number, verdict, **findings):
    """What was found of true joint `number`: check_name=(outcome, measured items...)."""
    listed = [
        {
            "check": check.replace("_", "-"), "outcome": outcome, "text": "",
            "p": min((m["p"] for m in items if "p" in m), default=None), "measured": list(items),
        }
        for check, (outcome, *items) in findings.items()
    ]  # fmt: skip
    return {
        "truth": number, "number": number or 9, "verdict": verdict, "lip": [300.0, 300.0],
        "d_px": 100.0, "findings": listed,
    }  # fmt: skip


def photo(seed, verdict, truths, joints=(), *, because=None, failed=None):
    return {
        "scene": f"{seed:07d}", "failed": failed, "network": "abc", "wire_known": False,
        "verdict": None if failed else verdict, "seconds": 0.5, "quality": {},
        "photo_findings": [], "joints": list(joints), "confusion": None, "strands": [],
        "for_fit": 2_000_000 <= seed < 3_000_000,  # as calibration scenes are looked at
        "truth": {
            "seed": seed, "look": "test", "size": [800, 600], "usable": because is None,
            "unusable_because": because, "photo": {}, "joints": list(truths),
        },
    }  # fmt: skip


def case(truth, joint, verdict="rework"):
    """One joint of a photo of its own."""
    return Case(photo(1, verdict, [truth], [joint] if joint else []), truth, joint)
