"""What is wrong with a joint, fault by fault, from values made by hand."""

from __future__ import annotations

import pytest

from inspector.model import Fault
from made_results import VALUES
from sample_images.studio import limits

PARTS = {
    "insulation-gap": ("gap", "embed"),
    "solder-fill": ("fill",),
    "wetting": ("wetted", "dry"),
    "fillet": ("fillet",),
    "excess-solder": ("excess",),
    "bridge": ("bridge",),
    "spike": ("spike",),
    "stray-strand": ("strand",),
    "birdcage": ("birdcage",),
    "surface": ("rough", "hole"),
    "insulation-damage": ("char", "ragged"),
    "seating": ("seating",),
}


def made(d_mm=3.0, strands=(), **values):
    """A joint without fault but for what is named."""
    sides = [side(0.0)]
    known = {**VALUES, "fillet": sides, "seating_visible": True, **values}
    return {"d_mm": d_mm, "strands": list(strands), "values": known}


def side(convexity, *, conductor_deg=30.0, cup_deg=20.0):
    return {"convexity": convexity, "angle_conductor_deg": conductor_deg, "angle_cup_deg": cup_deg}


def strand(visible_mm):
    return [{"visible_mm": visible_mm}]


DRY = "dry_stretch_conductor_diameters"
ROUGH = {"rough_share": 0.3, "rough_size": 0.6, "rough_D": 0.35}
CASES = [
    ("gap", "sound", {"gap_D": 1.5}),  # 2 D over 1.3
    ("gap", "sound", {"gap_D": -0.4}),
    ("gap", "near", {"gap_D": 2.2}),
    ("gap", "bad", {"gap_D": 2.7}),
    ("gap", "near", {"gap_D": 1.5, "d_mm": 4.0}),  # 6 mm of 6.35
    ("gap", "bad", {"gap_D": 1.5, "d_mm": 6.0}),  # 9 mm
    ("embed", "sound", {"embed_D": 0.005}),
    ("embed", "near", {"embed_D": 0.15}),
    ("embed", "bad", {"embed_D": 0.2}),
    ("fill", "sound", {"fill": 0.92}),
    ("fill", "near", {"fill": 0.8}),
    ("fill", "bad", {"fill": 0.5}),
    ("fill", "not-seen", {"fill": None}),
    ("wetted", "sound", {"wetted": 0.95}),
    ("wetted", "near", {"wetted": 0.7}),
    ("wetted", "bad", {"wetted": 0.3, DRY: 0.5}),
    ("wetted", "near", {"wetted": 0.3, DRY: 0.49}),  # of hardly any line
    ("wetted", "bad", {"wetted": 0.3, DRY: 0.7, "dry_hidden": 2.0}),
    ("wetted", "not-seen", {"wetted": None}),
    ("wetted", "not-seen", {"dry_hidden": 0.4}),
    ("wetted", "sound", {"dry_hidden": 0.2}),
    ("dry", "sound", {DRY: 0.7}),
    ("dry", "near", {DRY: 1.1}),
    ("dry", "bad", {DRY: 1.4}),
    ("dry", "near", {DRY: 1.1, "dry_hidden": 2.0}),
    ("dry", "not-seen", {DRY: None}),
    ("dry", "not-seen", {"dry_hidden": 0.4}),
    ("fillet", "sound", {"fillet": [side(0.02), side(-0.3)]}),
    ("fillet", "near", {"fillet": [side(0.02), side(0.1)]}),
    ("fillet", "bad", {"fillet": [side(0.02), side(0.2)]}),
    ("fillet", "near", {"fillet": [side(0.0, cup_deg=80.0)]}),
    ("fillet", "bad", {"fillet": [side(0.0, conductor_deg=118.0)]}),
    ("fillet", "not-seen", {"fillet": []}),
    ("excess", "sound", {"excess_D": 0.02}),
    ("excess", "near", {"excess_D": 0.1}),
    ("excess", "bad", {"excess_D": 0.14}),
    ("excess", "near", {"surplus_area_D2": 0.02}),
    ("excess", "near", {"hidden_contour": True, "surplus_share": 0.1}),
    ("excess", "bad", {"hidden_contour": True, "surplus_share": 0.3}),
    ("excess", "not-seen", {"excess_hidden": True}),
    ("excess", "not-seen", {"excess_D": 0.06, "excess_hidden": True}),
    ("excess", "near", {"excess_D": 0.1, "excess_hidden": True}),
    ("excess", "bad", {"excess_D": 0.14, "excess_hidden": True}),
    ("excess", "near", {"surplus_area_D2": 0.02, "excess_hidden": True}),
    ("excess", "near", {"hidden_contour": True, "surplus_share": 0.1, "excess_hidden": True}),
    ("bridge", "sound", {"bridge_D": 0.0}),
    ("bridge", "near", {"bridge_D": 0.15}),
    ("bridge", "bad", {"bridge_D": 0.2}),
    ("spike", "sound", {"spike_mm": 0.02}),
    ("spike", "near", {"spike_mm": 0.6}),
    ("spike", "bad", {"spike_mm": 1.1}),
    ("spike", "bad", {"spike_mm": 1.1, "spike_hidden": True}),
    ("spike", "not-seen", {"spike_hidden": True}),
    ("strand", "near", {"strands": strand(0.7)}),
    ("strand", "bad", {"strands": strand(0.2) + strand(1.2)}),
    ("strand", "not-seen", {"strands": strand(0.01)}),
    ("birdcage", "sound", {"birdcage_D": 0.7}),
    ("birdcage", "near", {"birdcage_D": 1.1}),
    ("birdcage", "bad", {"birdcage_D": 1.4}),
    ("rough", "sound", {**ROUGH, "rough_share": 0.01, "rough_D": 0.1}),
    ("rough", "near", {**ROUGH, "rough_size": 0.4}),
    ("rough", "near", {**ROUGH, "rough_share": 0.1, "rough_D": 0.3}),
    ("rough", "bad", ROUGH),
    ("rough", "bad", {**ROUGH, "rough_share": 0.1, "rough_D": 0.4}),
    ("rough", "near", {**ROUGH, "rough_D": 0.29}),  # a sliver, though much of what shows
    ("rough", "near", {**ROUGH, "rough_share": 1.0, "rough_size": 1.0, "rough_D": 0.1}),
    ("rough", "bad", {**ROUGH, "rough_D": 0.31}),
    ("hole", "near", {"hole_D": 0.05}),
    ("hole", "bad", {"hole_D": 0.1}),
    ("hole", "not-seen", {"hole_hidden": True}),
    ("char", "near", {"char_D": 0.2, "char_kind": "burnt"}),
    ("char", "bad", {"char_D": 0.3, "char_kind": "burnt"}),
    ("char", "near", {"char_D": 0.3, "char_kind": "browned"}),
    ("char", "not-seen", {"char_kind": "burnt"}),
    ("ragged", "sound", {"ragged_D": 0.1}),
    ("ragged", "near", {"ragged_D": 0.27}),
    ("ragged", "bad", {"ragged_D": 0.4}),
    ("seating", "sound", {"seating": 0.95}),
    ("seating", "near", {"seating": 0.7}),
    ("seating", "bad", {"seating": 0.4}),
    ("seating", "not-seen", {"seating": 0.4, "seating_visible": False}),
]  # fmt: skip


def test_faults_are_those_of_the_data_contract_and_a_good_joint_has_none():
    got = limits.faults(made())
    assert list(got) == [fault.name.lower() for fault in Fault]
    assert set(got.values()) == {"sound"}
    assert set(limits.clearness(made()).values()) == {"sound"}


@pytest.mark.parametrize(("fault", "state", "values"), CASES)
def test_each_fault_follows_from_its_values(fault, state, values):
    assert limits.faults(made(**values))[fault] == state


def test_each_fault_that_can_be_near_or_unseen_is_tried():
    tried = {(fault, state) for fault, state, _ in CASES}
    names = {fault.name.lower() for fault in Fault}
    assert {f for f, s in tried if s == "bad"} == names
    assert {f for f, s in tried if s == "near"} == names
    always_seen = {"gap", "embed", "bridge", "birdcage", "rough", "ragged"}
    assert {f for f, s in tried if s == "not-seen"} == names - always_seen


@pytest.mark.parametrize(("fault", "values"), [(fault, values) for fault, _, values in CASES])
def test_a_check_is_as_bad_as_the_worst_of_its_faults(fault, values):
    truth = made(**values)
    faults, checks = limits.faults(truth), limits.clearness(truth)
    assert set(checks) == set(PARTS)
    assert sorted(f for parts in PARTS.values() for f in parts) == sorted(faults)
    for check, parts in PARTS.items():
        states = [faults[f] for f in parts]
        clear = [s for s in states if s in ("bad", "near")]
        if clear:
            assert checks[check] == ("bad" if "bad" in clear else "near")
        elif len(set(states)) == 1:
            assert checks[check] == states[0]
    changed = {check for check, parts in PARTS.items() if fault in parts}
    assert {c for c, s in checks.items() if s in ("bad", "near")} <= changed


@pytest.mark.parametrize(
    ("check", "values", "state"),
    [
        # a hidden hole or hidden char leaves the check open though the rest is sound
        ("surface", {"hole_hidden": True}, "not-seen"),
        ("insulation-damage", {"char_kind": "burnt"}, "not-seen"),
        ("surface", {"hole_hidden": True, **ROUGH}, "bad"),
        ("insulation-damage", {"char_kind": "burnt", "ragged_D": 0.27}, "near"),
        # what cannot be measured beside what is sound leaves the check sound
        ("wetting", {"wetted": None}, "sound"),
        ("wetting", {DRY: None}, "sound"),
        ("wetting", {"wetted": None, DRY: None}, "not-seen"),
        # but dryness that may be hidden does not
        ("wetting", {"wetted": None, "dry_hidden": 0.4}, "not-seen"),
        ("wetting", {"wetted": 0.3, DRY: 0.6, "dry_hidden": 0.4}, "bad"),
    ],
)
def test_faults_not_seen_beside_others_of_a_check(check, values, state):
    assert limits.clearness(made(**values))[check] == state
