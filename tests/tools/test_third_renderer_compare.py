"""The table of what the inspector makes of the third renderer's photos."""

from collections import Counter

import pytest

from inspector.model import Verdict
from tools.third_renderer.compare import (
    BAD,
    NAMED,
    NOT_FOUND,
    OTHER,
    PASSED,
    RETAKE,
    SOUND,
    UNUSABLE,
    Found,
    main,
    match,
    table,
    tally,
)


def true_joint(x, *bad):
    return {"lip": [x, 100.0], "d_px": 100.0, "bad": list(bad), "sound": not bad}


def truth(*joints, usable=True):
    return {"usable": usable, "why": None if usable else "nearly black", "joints": list(joints)}


def found(x, verdict, *failed):
    return Found((x, 100.0), verdict, frozenset(failed))


def test_each_found_joint_is_matched_once_nearest_first_and_within_reach():
    near, nearer = found(130.0, Verdict.PASS), found(190.0, Verdict.PASS)
    truths = [true_joint(100.0), true_joint(200.0)]
    assert match([near, nearer], truths) == {0: near, 1: nearer}
    assert match([found(300.0, Verdict.PASS)], truths) == {}
    assert match([near, found(110.0, Verdict.REWORK)], truths[:1])[0].verdict is Verdict.REWORK


def test_bad_joints_by_what_was_said_of_them():
    bad = true_joint(100.0, "spike", "surface")
    told = [
        (found(100.0, Verdict.REWORK, "spike"), NAMED),
        (found(100.0, Verdict.REWORK, "bridge"), OTHER),
        (found(100.0, Verdict.RETAKE), RETAKE),
        (found(100.0, Verdict.PASS), PASSED),
    ]
    for joint, column in told:
        assert tally(truth(bad), [joint], joint.verdict) == {(BAD, column): 1}


@pytest.mark.parametrize(
    ("verdict", "column"),
    [(Verdict.RETAKE, NOT_FOUND), (Verdict.PASS, PASSED), (Verdict.REWORK, PASSED)],
)
def test_a_joint_that_was_not_found_counts_as_passed_unless_the_photo_is_sent_back(verdict, column):
    photo = truth(true_joint(100.0, "spike"), true_joint(400.0))
    assert tally(photo, [], verdict) == {(BAD, column): 1, (SOUND, column): 1}


def test_unusable_photos_count_by_the_photo():
    photo = truth(true_joint(100.0), true_joint(300.0), usable=False)
    assert tally(photo, [], Verdict.RETAKE) == {(UNUSABLE, RETAKE): 1}
    assert tally(photo, [], Verdict.REWORK) == {(UNUSABLE, OTHER): 1}


def test_the_table():
    counts = Counter({(BAD, NAMED): 3, (BAD, PASSED): 1, (SOUND, OTHER): 2, (UNUSABLE, RETAKE): 4})
    assert table(counts).splitlines() == [
        "|  | all | rework for a named fault | rework for another | retake | passed | not found |",
        "| --- | --- | --- | --- | --- | --- | --- |",
        "| bad joints | 4 | 3 | 0 | 0 | 1 | 0 |",
        "| sound joints | 2 | - | 2 | 0 | 0 | 0 |",
        "| unusable photos | 4 | - | 0 | 4 | 0 | - |",
    ]


def test_a_folder_without_photos_is_refused(tmp_path, capsys):
    (tmp_path / "001.jpg").write_bytes(b"")
    assert main([str(tmp_path)]) == 2
    assert capsys.readouterr().err == f"There is no photo with its truth in {tmp_path}.\n"


def test_a_photo_that_cannot_be_read_is_named_and_the_table_still_comes(tmp_path, capsys):
    (tmp_path / "001.jpg").write_bytes(b"no picture")
    (tmp_path / "001.json").write_text('{"usable": false, "why": "", "joints": []}', "utf-8")
    assert main([str(tmp_path)]) == 1
    out, err = capsys.readouterr()
    assert err.startswith("001.jpg: ")
    assert "| bad joints | 0 |" in out
    assert "0 photos." in out
