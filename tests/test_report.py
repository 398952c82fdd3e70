"""The JSON is the contract's, and numbers are written as people write them."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import pytest

import scenes
from inspector.checks import fillet
from inspector.model import (
    Finding,
    Job,
    Measurement,
    Outcome,
    Quantity,
    Scale,
    Verdict,
)
from inspector.one_check import judge_check
from inspector.report import CAUTIONS, as_json, reasons, scale_text, source_text, unseen_text
from inspector.settings import Settings
from inspector.wording import quantity_text
from scenes import changed, printed
from tests.made_checks import a_check, a_limit, measured


@pytest.fixture(scope="module")
def inspection():
    return scenes.inspection()


def test_the_object_has_the_contracts_keys(inspection):
    found = json.loads(json.dumps(as_json(inspection, overlay="out/a.overlay.jpg")))
    assert list(found) == [
        "photo", "verdict", "side_only", "seconds", "reasons", "pass_words", "joints", "scale",
        "quality", "overlay", "regions",
    ]  # fmt: skip
    assert found["photo"] == "a.jpg"
    assert found["verdict"] == "rework"
    assert found["side_only"] is True
    assert found["overlay"] == "out/a.overlay.jpg"
    assert found["regions"] is None
    assert found["scale"] == {"mm_per_px": 0.05, "uncertainty": 0.0012, "from": "wire"}
    joint = found["joints"][0]
    assert list(joint) == ["joint", "kind", "verdict", "box", "measurements", "findings"]
    assert joint["box"] == [580.0, 555.0, 1029.0, 645.0]
    assert joint["measurements"][0] == {
        "check": "insulation-gap",
        "name": "gap",
        "value": 1.0,
        "unit": "D",
        "uncertainty": 0.08,  # expanded: twice the standard uncertainty of 0.04
        "presence": 1.0,
        "limit": "<= 2 D",
        "source": "NASA-STD-8739.3 9.1 (seen)",
        "where": [[670.0, 600.0], [760.0, 600.0]],
    }


def test_a_measurement_without_a_limit_has_none(inspection):
    rough = as_json(inspection)["joints"][0]["measurements"][2]
    assert rough["name"] == "rough"
    assert rough["limit"] is None
    assert rough["source"] is None


def test_reasons_are_all_that_is_not_fine_with_the_gravest_first(inspection):
    assert [f.outcome.value for f in reasons(inspection)] == ["rework", "doubt", "not-seen"]
    assert as_json(inspection)["reasons"][0] == {
        "joint": 1,
        "check": "stray-strand",
        "outcome": "rework",
        "text": "A strand of 7.4 mm is outside the bundle.",
        "remedy": "Trim or tuck it.",
    }


def test_a_retake_without_joints(inspection):
    empty = replace(inspection, results=(), verdict=Verdict.RETAKE, scale=Scale(None, None, "none"))
    found = as_json(empty)
    assert found["joints"] == []
    assert found["scale"] == {"mm_per_px": None, "uncertainty": None, "from": "none"}


def test_json_never_holds_nan(inspection):
    odd = replace(inspection, quality={"blur_px": math.nan, "level": math.inf})
    text = json.dumps(as_json(odd), allow_nan=False)
    assert json.loads(text)["quality"] == {"blur_px": None, "level": None}


@pytest.mark.parametrize(
    ("value", "standard", "unit", "text"),
    [
        (0.6, 0.04, "D", "0.60 ± 0.08 D"),
        (7.4321, 0.075, "mm", "7.43 ± 0.15 mm"),
        (81.234, 2.0, "%", "81 ± 4 %"),
        (32.04, 0.61, "deg", "32.0 ± 1.2°"),
        (0.0123, 0.004, "chord", "0.012 ± 0.008 of the chord"),
        (3.0, 0.0, "1", "3 ± 0"),
    ],
)
def test_values_carry_their_unit_and_expanded_uncertainty(value, standard, unit, text):
    assert quantity_text(Quantity(value, standard, unit)) == text


def test_what_no_photo_shows_is_said(inspection):
    text = unseen_text(inspection)
    assert "far side" in text
    assert text.endswith("This one did not show: fillet.")
    unknown = replace(inspection, results=(), job=Job(kind="cup"))
    assert "did not show" not in unseen_text(unknown)


def test_without_a_wire_size_the_scale_says_so(inspection):
    text = scale_text(replace(inspection, scale=Scale(None, None, "none")))
    assert "--wire" in text


def test_the_scale_says_what_d_is_and_is_not_told_where_nothing_could_be_measured(inspection):
    known = replace(inspection, scale=Scale(0.05, 0.001, "wire"))
    assert scale_text(known) == (
        "Scale 50.0 ± 2.0 micrometres a pixel, from the wire's given diameter."
        " D is the diameter over the insulation."
    )
    blurred = [replace(r, findings=()) for r in inspection.results]
    assert scale_text(replace(known, results=tuple(blurred))).startswith("No scale")


def test_the_table_names_verdict_numbers_limits_remedies_and_cautions(inspection):
    text = printed(inspection)
    for part in (
        "REWORK", "7.40 ± 0.30 mm", "<= 0.5 mm", "Trim or tuck it.",
        "disconnect and remove the battery", "out/a.overlay.jpg", "k = 2", "fumes",
    ):  # fmt: skip
        assert part in text, part


def test_rows_that_are_fine_are_folded_unless_all_are_wanted(inspection):
    text = printed(inspection)
    assert "fine: insulation-gap" in text
    assert "not shown: fillet" in text
    assert "1.00 ± 0.08 D" not in text
    whole = printed(inspection, everything=True)
    assert "1.00 ± 0.08 D" in whole
    assert "<= 2 D" in whole
    assert "not measured: a strand" in whole


def test_a_fillets_side_stays_the_pictures_in_text_and_json_and_its_name_the_joints(inspection):
    joint = replace(inspection.results[0].joint, axis=(-1.0, 0.0))
    limit = next(limit for limit in fillet.LIMITS if limit.name == "angle-cup-left")
    measured = Measurement("angle-cup-left", Quantity(120.0, 5.0, "deg"))
    said = "On the lower side in the picture solder meets the cup at 120 degrees, over 90 degrees."
    finding = Finding(
        "fillet",
        Outcome.REWORK,
        said,
        limit.remedy,
        1,
        0.0,
        (measured,),
        (limit,),
        about=limit.name,
    )
    seen = changed(inspection, joint=joint, findings=(finding,))
    assert reasons(seen)[0].text == said
    found = as_json(seen)
    assert found["reasons"][0]["text"] == said
    assert found["joints"][0]["findings"][0]["text"] == said
    assert found["joints"][0]["measurements"][0]["name"] == "angle-cup-left"
    for part in ("angle cup, lower side", "120 ± 10°", limit.source, limit.text, limit.remedy):
        assert part in printed(seen), part


def test_a_pass_speaks_of_one_side_and_needs_no_cautions():
    text = printed(scenes.inspection(verdict=Verdict.PASS))
    assert "PASS, this side" in text
    assert "No photo shows" in text
    assert not any(caution in text for caution in CAUTIONS)


@pytest.mark.parametrize(
    ("source", "sure", "words"),
    [
        ("NASA-STD 9.1", "seen", "NASA-STD 9.1, its text was read."),
        ("J-STD 5.1", "seen, fragment", "J-STD 5.1, part of its text was read."),
        (
            "STD 7; 15 % house",
            "seen; 15 % house",
            "STD 7, its text was read; 15 % is our own figure.",
        ),
        (
            "A-1: 85 % of it house",
            "quoted",
            "A-1: 85 % of it is our own figure, as others quote it.",
        ),
        ("STD 2; the share is house", "quoted", "STD 2, as others quote it; the share is our own."),
        ("house limit, after IPC", "house", "our own limit, after IPC."),
        ("whatever", "common practice", "common practice, no source."),
    ],
)
def test_where_a_limit_comes_from_is_said_in_words_and_the_limit_once(source, sure, words):
    check = a_check(replace(a_limit(), source=source, sure=sure))
    finding = judge_check(check, (measured(1.95),), Settings())
    assert finding.limits[0].text in finding.text  # a doubt says its limit
    assert source_text(finding) == f"Source of the limit: {words}"
    silent = replace(finding, text="A sentence.")
    assert source_text(silent) == f"Limit {finding.limits[0].text}: {words}"
    assert source_text(replace(finding, about="nothing")) == ""


def test_what_was_not_shown_names_the_joints_where_others_did_and_no_gate(inspection):
    (result,) = inspection.results
    hidden = Finding("fillet", Outcome.NOT_SEEN, "It is hidden.", "Turn it.", 2)
    gate = Finding("focus", Outcome.NOT_SEEN, "It is blurred.", "Tap on it.", 2)
    measured = result.findings[0]
    second = replace(
        result, joint=replace(result.joint, number=2), findings=(measured, hidden, gate)
    )
    both = replace(inspection, results=(replace(result, findings=(measured,)), second))
    assert unseen_text(both).endswith("This one did not show: fillet (joint 2).")
    alone = replace(inspection, results=(second,))
    assert unseen_text(alone).endswith("This one did not show: fillet.")


def test_a_joint_to_be_reworked_comes_first(inspection):
    (result,) = inspection.results
    doubted = replace(
        result,
        findings=(Finding("spike", Outcome.DOUBT, "A spike may be there.", "Look.", 1),),
        verdict=Verdict.RETAKE,
    )
    reworked = replace(
        result,
        joint=replace(result.joint, number=2),
        findings=(Finding("bridge", Outcome.REWORK, "A bridge.", "Wick it.", 2),),
        verdict=Verdict.REWORK,
    )
    both = replace(inspection, results=(doubted, reworked))
    assert [(f.joint, f.check) for f in reasons(both)] == [(2, "bridge"), (1, "spike")]
