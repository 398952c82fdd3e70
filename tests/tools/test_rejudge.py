"""A record judged anew gives the verdict that the joint itself gets."""

import json

import pytest

from inspector import uncertainty, whole
from inspector.checks import registry
from inspector.kinds import registry as kinds
from inspector.model import Verdict
from inspector.quality import GATES
from inspector.second import overall
from inspector.settings import Settings
from inspector.verdict import judge
from inspector.whole import WHOLE
from tests.defects import Drawing, view
from tests.made_checks import table
from tests.test_whole import opinion
from tools.accuracy.__main__ import main
from tools.accuracy.looks import _finding, normal_law
from tools.accuracy.records import Case, ResultsError
from tools.accuracy.rejudge import judged_anew, would_pass

S = Settings()
VOUCHED = uncertainty.Calibration(scenes=999, conformance=((-99.0, 0.999), (0.0, 0.999)))


def recorded(monkeypatch, v):
    """The joint as `look --for-fit` writes it down: judged before anything is calibrated."""
    with monkeypatch.context() as patch:
        patch.setattr(uncertainty, "calibrations", lambda: normal_law({}))
        result = judge(v.joint, v, registry(), kinds()["cup"], S)
    listed = [_finding(f, everywhere=True) for f in result.findings]
    found = {"findings": listed, "against": 0.1, "axis": [*v.joint.axis]}
    return Case({"joints": [found]}, {}, found)


@pytest.mark.parametrize("drawing", [{}, {"gap": 1.41}, {"gap": 3.2}, {"gap": 0.6}])
@pytest.mark.parametrize("level", [-7.0, -2.0])
@pytest.mark.parametrize("worth", [0.8, 0.97])
def test_as_the_joint_itself(monkeypatch, drawing, level, worth):
    v = opinion(view(Drawing(**drawing)), level)
    case = recorded(monkeypatch, v)
    table(monkeypatch, {f"{c.name}.{name}": worth for c in registry().values() for name in c.proof})
    known = dict(uncertainty.calibrations())
    anew = would_pass(case, known, S)
    assert uncertainty.calibrations() == known  # nothing is left changed
    monkeypatch.setattr(whole, "LEANS_TO_BAD", 1e9)
    with_whole = {**known, WHOLE: VOUCHED}
    for module in (uncertainty, whole):
        monkeypatch.setattr(module, "calibrations", lambda: with_whole)
    result = judge(v.joint, v, registry(), kinds()["cup"], S)
    assert anew == (result.verdict is Verdict.PASS)


def test_some_of_these_pass_and_some_do_not(monkeypatch):
    known = dict(uncertainty.calibrations())
    views = [opinion(view(Drawing(gap=gap)), -7.0) for gap in (0.6, 3.2)]
    told = [would_pass(recorded(monkeypatch, v), known, S) for v in views]
    assert told == [True, False]


def test_what_was_not_found_or_was_sent_back_by_the_gate_does_not_pass():
    assert not would_pass(Case({"joints": []}, {}, None), {}, S)
    gated = {"findings": [{"check": "focus", "outcome": "not-seen", "text": "", "measured": []}]}
    assert not would_pass(Case({"joints": [gated]}, {}, gated), {}, S)


def rounded(what):
    if isinstance(what, dict):
        return {key: rounded(value) for key, value in what.items()}
    if isinstance(what, list):
        return [rounded(value) for value in what]
    return float(f"{what:.9g}") if isinstance(what, float) else what


def record_of(case, **more):
    found = {**case.found, "truth": 1, "number": 1}
    return {
        "joints": [found], "photo_findings": [], "for_fit": True, "failed": None,
        **more,
    }  # fmt: skip


@pytest.mark.parametrize("drawing", [{}, {"gap": 1.41}, {"gap": 3.2}, {"gap": 0.6}])
@pytest.mark.parametrize("level", [-7.0, -2.0, 2.0])
@pytest.mark.parametrize("share", [0.001, 0.3])
def test_every_finding_as_the_joint_itself(monkeypatch, drawing, level, share):
    v = opinion(view(Drawing(**drawing)), level)
    case = recorded(monkeypatch, v)
    table(monkeypatch, {f"{c.name}.{name}": 0.8 for c in registry().values() for name in c.proof})
    whole_joint = uncertainty.Calibration(scenes=9, conformance=((-99.0, 1 - share), (0.0, 0.999)))
    known = {**uncertainty.calibrations(), WHOLE: whole_joint}
    case.found["against"] = overall(v.joint)
    anew = judged_anew(record_of(case), known, S)["joints"][0]
    for module in (uncertainty, whole):
        monkeypatch.setattr(module, "calibrations", lambda: known)
    result = judge(v.joint, v, registry(), kinds()["cup"], S)
    assert anew["verdict"] == result.verdict.value
    themselves = [_finding(f, everywhere=True) for f in result.findings]
    assert rounded(anew["findings"]) == rounded(themselves)


def test_the_photos_verdict_follows_the_joints(monkeypatch):
    good = recorded(monkeypatch, opinion(view(Drawing(gap=0.6)), -7.0))
    table = {**uncertainty.calibrations(), WHOLE: VOUCHED}
    assert judged_anew(record_of(good), table, S)["verdict"] == "pass"
    cut = record_of(good, photo_findings=[["poles", "not-seen"]])
    assert judged_anew(cut, table, S)["verdict"] == "retake"
    assert judged_anew(record_of(good, joints=[]), table, S)["verdict"] == "retake"


@pytest.mark.parametrize(("hindrance", "check"), [("steep", "tilt"), ("pair", "two-wires")])
def test_a_gate_that_is_narrower_now_sends_the_joint_back(monkeypatch, hindrance, check):
    good = recorded(monkeypatch, opinion(view(Drawing(gap=0.6)), -7.0))
    known = {**uncertainty.calibrations(), WHOLE: VOUCHED}
    gate = GATES[f"{hindrance}_log_odds"].value
    for over, verdict in ((-0.1, "pass"), (0.1, "retake")):
        good.found["hindrances"] = {"steep": -9.0, "pair": None, hindrance: gate + over}
        anew = judged_anew(record_of(good), known, S)["joints"][0]
        assert anew["verdict"] == verdict
        assert would_pass(good, known, S) is (verdict == "pass")
    (finding,) = anew["findings"]
    assert (finding["check"], finding["outcome"]) == (check, "not-seen")
    assert finding["text"]


def test_an_ordinary_look_cannot_be_judged_anew(monkeypatch):
    good = recorded(monkeypatch, opinion(view(Drawing(gap=0.6)), -7.0))
    with pytest.raises(ResultsError, match="--for-fit"):
        judged_anew(record_of(good, for_fit=False), {}, S)


def test_from_the_command_line(monkeypatch, tmp_path):
    case = recorded(monkeypatch, opinion(view(Drawing(gap=0.6)), -7.0))
    truth = {"seed": 3_000_000, "joints": []}
    looked, out, calibration = (tmp_path / n for n in ("looked.jsonl", "out.jsonl", "c.json"))
    looked.write_text(json.dumps(record_of(case, truth=truth)) + "\n", "utf-8")
    calibration.write_text(uncertainty.write_calibrations({WHOLE: VOUCHED}), "utf-8")
    given = ["rejudge", str(looked), "--calibration", str(calibration), "--out", str(out)]
    assert main(given) == 0
    (record,) = map(json.loads, out.read_text("utf-8").splitlines())
    assert record["verdict"] in {"pass", "retake"}
    assert record["for_fit"] is False


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda f: f["calibration"].write_text("[]", "utf-8"), "holds no calibrations"),
        (lambda f: f["calibration"].write_text("{}", "utf-8"), "holds no calibrations"),
        (lambda f: f["calibration"].write_text("{", "utf-8"), "holds no calibrations (Expecting"),
        (lambda f: f["calibration"].write_text('{"a.b": {"factor": -1.0}}', "utf-8"),
         "holds no calibrations (the calibration of a.b holds what no fit gives); make one"),
        (lambda f: f["calibration"].unlink(), "cannot be read"),
        (lambda f: f["looked"].write_bytes(b"\xff\xfe"), "is no text"),
        (lambda f: f["looked"].write_text('{"scene": "7", "truth": {"seed": 7}, "for_fit": true}'),
         "Scene 7 cannot be judged anew"),
        (lambda f: f.update(out=f["looked"]), "Name another file"),
        (lambda f: f["out"].mkdir(), "cannot be written"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_gets_one_sentence(tmp_path, capsys, spoil, says):
    files = {n: tmp_path / n for n in ("looked", "out", "calibration")}
    files["looked"].write_text(
        '{"scene": "7", "truth": {"seed": 7}, "for_fit": true, "failed": "it died"}', "utf-8"
    )
    files["calibration"].write_text(uncertainty.write_calibrations({WHOLE: VOUCHED}), "utf-8")
    spoil(files)
    given = ["rejudge", str(files["looked"]), "--out", str(files["out"])]
    assert main([*given, "--calibration", str(files["calibration"])]) == 2
    told = capsys.readouterr().err
    assert says in told
    assert told.count("\n") == 1
