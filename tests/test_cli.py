"""The command line: exit status, JSON lines, saved files, one sentence for each mistake."""

from __future__ import annotations

import json
import subprocess
import sys

import cv2
import numpy as np
import pytest
from PIL import Image

import scenes
from inspector import cli, stages
from inspector.errors import PhotoError
from inspector.model import Verdict


@pytest.fixture
def judged(monkeypatch):
    """Judge each photo by its name: pass.jpg, rework.jpg, retake.jpg, or no photo at all."""

    def run(source, job, _settings):
        for verdict in Verdict:
            if verdict.value in str(source):
                judged.jobs.append(job)
                return scenes.inspection(verdict=verdict)
        raise PhotoError(f"There is no file {source}.", "Check the name.")

    judged.jobs = []
    monkeypatch.setattr(stages, "run", run)
    monkeypatch.setattr(stages, "region_map", lambda i: i.patches[0].labels)
    return judged


@pytest.mark.parametrize(
    ("photos", "status"),
    [
        (["pass.jpg"], 0),
        (["rework.jpg"], 1),
        (["retake.jpg"], 3),
        (["pass.jpg", "retake.jpg", "rework.jpg"], 1),
        (["pass.jpg", "retake.jpg"], 3),
        (["none.jpg"], 2),
        (["rework.jpg", "none.jpg"], 2),
    ],
)
def test_exit_status(judged, photos, status, capsys):
    assert cli.main(["look", *photos]) == status
    assert len(judged.jobs) == len([p for p in photos if p != "none.jpg"])
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.usefixtures("judged")
def test_json_is_one_object_a_line_and_errors_go_elsewhere(capsys):
    assert cli.main(["look", "pass.jpg", "none.jpg", "rework.jpg", "--json"]) == 2
    out, err = capsys.readouterr()
    lines = [json.loads(line) for line in out.splitlines()]
    assert [line["verdict"] for line in lines] == ["pass", "rework"]
    assert lines[0]["overlay"] is None
    assert err == "inspector: There is no file none.jpg. Check the name.\n"


@pytest.mark.usefixtures("judged")
def test_saved_files(tmp_path, capsys):
    out = tmp_path / "new" / "out"
    cli.main(["look", "a/rework.jpg", "b/rework.png", "--save", str(out), "--json"])
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert sorted(p.name for p in out.iterdir()) == [
        "rework-2.overlay.jpg",
        "rework-2.regions.png",
        "rework.overlay.jpg",
        "rework.regions.png",
    ]
    assert lines[0]["overlay"] == str(out / "rework.overlay.jpg")
    assert lines[1]["regions"] == str(out / "rework-2.regions.png")
    regions = cv2.imread(lines[0]["regions"], cv2.IMREAD_UNCHANGED)
    assert regions.dtype == np.uint8
    assert regions.ndim == 2


@pytest.mark.usefixtures("judged")
def test_an_earlier_picture_of_another_photo_is_kept_and_the_same_one_not_doubled(tmp_path):
    cli.main(["look", "a/rework.jpg", "--save", str(tmp_path)])
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    cli.main(["look", "a/rework.jpg", "--save", str(tmp_path)])
    assert {path.name for path in tmp_path.iterdir()} == set(before)
    (tmp_path / "rework.overlay.jpg").write_bytes(b"of another photo")
    cli.main(["look", "a/rework.jpg", "--save", str(tmp_path)])
    assert (tmp_path / "rework.overlay.jpg").read_bytes() == b"of another photo"
    assert (tmp_path / "rework-2.overlay.jpg").read_bytes() == before["rework.overlay.jpg"]
    assert (tmp_path / "rework-2.regions.png").read_bytes() == before["rework.regions.png"]


def test_the_job_is_what_the_options_say(judged):
    cli.main(["look", "pass.jpg", "--poles", "3", "--wire", "14 AWG", "--alloy", "lead-free"])
    cli.main(["look", "pass.jpg", "--wire-od", "5.2"])
    first, second = judged.jobs
    assert (first.kind, first.poles, first.wire_od_mm, first.alloy) == ("cup", 3, 3.5, "lead-free")
    assert (second.poles, second.wire_od_mm, second.alloy) == (None, 5.2, "unknown")


@pytest.mark.parametrize("text", ["4.5", "4,5", "4.5mm", " 4,5 mm"])
def test_a_diameter_may_have_its_unit_and_a_comma(judged, text):
    cli.main(["look", "pass.jpg", "--wire-od", text])
    assert judged.jobs[0].wire_od_mm == 4.5


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["look"],
        ["look", "pass.jpg", "--kind", "knot"],
        ["look", "pass.jpg", "--poles", "0"],
        ["look", "pass.jpg", "--poles", "two"],
        ["look", "pass.jpg", "--poles", "9"],
        ["look", "pass.jpg", "--wire", "13"],
        ["look", "pass.jpg", "--wire-od", "nan"],
        ["look", "pass.jpg", "--wire-od", "-2"],
        ["look", "pass.jpg", "--wire-od", "1,234.5"],
        ["look", "pass.jpg", "--wire", "12", "--wire-od", "4.5"],
        ["look", "pass.jpg", "--save", "/dev/null/out"],
        ["serve", "--port", "99999"],
        ["juggle"],
    ],
)
def test_mistakes_get_one_line_and_status_2(judged, arguments, capsys):
    try:
        status = cli.main(arguments)
    except SystemExit as stop:
        status = stop.code
    out, err = capsys.readouterr()
    assert status == 2
    assert out == ""
    assert err.startswith("inspector: ")
    assert err.count("\n") == 1
    assert judged.jobs == []


@pytest.mark.parametrize("poles", ["0", "4", "9", "-1"])
def test_poles_that_no_such_connector_has_get_one_plain_sentence(judged, poles, capsys):
    assert cli.main(["look", "pass.jpg", f"--poles={poles}"]) == 2
    said = f"inspector: A power connector with solder cups has 1 to 3 poles, not '{poles}'.\n"
    assert capsys.readouterr().err == said
    assert judged.jobs == []


@pytest.mark.usefixtures("judged")
def test_fine_rows_are_folded_unless_all_are_asked_for(capsys):
    cli.main(["look", "rework.jpg"])
    assert "fine: insulation-gap" in capsys.readouterr().out
    cli.main(["look", "rework.jpg", "--all"])
    assert "fine: insulation-gap" not in capsys.readouterr().out


def test_a_file_that_is_no_photo_as_a_user_meets_it(tmp_path):
    path = tmp_path / "notes.txt"
    path.write_text("not a photo")
    command = [sys.executable, "-m", "inspector", "look", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "notes.txt is not a photo" in done.stderr


def test_help_names_every_option_and_does_not_load_the_network():
    code = (
        "import sys\nfrom inspector import cli\n"
        "try:\n    cli.main(['look', '--help'])\nexcept SystemExit: pass\n"
        "assert not {'onnxruntime', 'cv2', 'skimage', 'fastapi'} & set(sys.modules)\n"
    )
    done = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    for option in (
        "--kind",
        "--poles",
        "--wire",
        "--wire-od",
        "--alloy",
        "--save",
        "--json",
        "--all",
    ):
        assert option in done.stdout


def test_serving_on_a_taken_port_is_one_sentence(capsys):
    import socket  # noqa: PLC0415 - only here

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert cli.main(["serve", "--port", str(port)]) == 2
    assert f"Port {port} cannot be used" in capsys.readouterr().err


def test_a_picture_that_is_too_small(tmp_path, capsys):
    path = tmp_path / "icon.png"
    Image.new("RGB", (32, 32)).save(path)
    assert cli.main(["look", str(path)]) == 2
    assert "only 32 x 32 pixels" in capsys.readouterr().err


def test_a_missing_system_library_is_one_sentence(monkeypatch, capsys):
    def broken(_options):
        raise ImportError("libGL.so.1: cannot open shared object file: No such file or directory")

    monkeypatch.setattr(cli, "_look", broken)
    assert cli.main(["look", "a.jpg"]) == 2
    assert "apt install libgl1" in capsys.readouterr().err
