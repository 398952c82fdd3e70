"""From photo to verdict with the network's part played by geometry."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from scipy.special import ndtr

from drawn import Cup
from drawn_photo import Drawn
from inspector import Job, Settings, checks, look, quality, stages, uncertainty
from inspector.errors import JobError, PhotoError, SettingsError, WireError
from inspector.look import region_map
from inspector.model import Fault, Faults, NotMeasured, Outcome, Region, Verdict

# as if calibration scenes had shown that the normal law holds for what may not be there
KNOTS = tuple((z, float(ndtr(z))) for z in np.linspace(-8, 8, 65))
PROVEN = {
    f"{check.name}.{name}": uncertainty.Calibration(conformance=KNOTS)
    for check in checks.registry().values()
    for name in check.proof
}
PAIR = Drawn(cups=(Cup(end=(420.0, 200.0)), Cup(end=(420.0, 380.0), gap=2.8)))


@pytest.fixture
def see(monkeypatch):
    """Make a drawn scene what the network sees; returns its photo."""

    def use(drawn):
        monkeypatch.setattr(stages.network, "coarse", drawn.coarse)
        monkeypatch.setattr(stages.network, "close", drawn.close)
        monkeypatch.setattr(uncertainty, "calibrations", lambda: PROVEN)
        return drawn.photo()

    return use


def outcome(inspection, joint, check):
    found = {f.check: f.outcome for f in inspection.results[joint - 1].findings}
    return found[check]


def test_a_sound_joint_passes_and_its_gap_is_measured(see):
    inspection = look(see(Drawn()), Job(wire_od_mm=4.5))
    assert inspection.verdict is Verdict.PASS
    gap = inspection.results[0].findings[0].measured[0].quantity
    assert abs(gap.value - 1.0) < gap.expanded_uncertainty


@pytest.mark.parametrize("missing", sorted(PROVEN))
def test_none_seen_is_no_pass_before_it_is_shown_that_it_would_be_found(see, monkeypatch, missing):
    drawn = {"bridge.bridge": PAIR, "seating.reach": Drawn(cups=(Cup(toe=0.95),))}
    photo = see(drawn.get(missing, Drawn()))
    monkeypatch.setattr(
        uncertainty, "calibrations", lambda: {k: v for k, v in PROVEN.items() if k != missing}
    )
    wire = None if missing.endswith("-in-D") else 4.5
    first = look(photo, Job(wire_od_mm=wire)).results[0]
    assert first.verdict is Verdict.RETAKE
    assert [f.check for f in first.findings if f.outcome is Outcome.DOUBT] == ["unproven"]
    check, name = missing.split(".")
    (blind,) = (f for f in first.findings if f.check == check)
    assert blind.outcome is Outcome.NOT_SEEN  # and no reassuring number beside it
    assert all(isinstance(m, NotMeasured) for m in blind.measured if m.name == name)


def test_the_bad_one_of_two_is_named(see):
    inspection = look(see(PAIR), Job(wire_od_mm=4.5, poles=2))
    for result in inspection.results:  # each carries what was measured of its own picture
        assert result.quality == quality.measures(inspection.photo, result.joint)
    assert inspection.verdict is Verdict.REWORK
    assert [r.joint.number for r in inspection.results] == [1, 2]
    assert inspection.results[0].verdict is Verdict.PASS
    assert outcome(inspection, 2, "insulation-gap") is Outcome.REWORK


@pytest.mark.parametrize("gap", [1.0, 1.8])
@pytest.mark.parametrize("on_top", [False, True])
@pytest.mark.parametrize(
    "second", [(0.0, 1.05), (0.0, 0.75), (0.0, 0.5), (0.0, 0.3), (-0.5, 0.0), (-1.0, 0.2)]
)
def test_two_wires_in_one_cup_are_a_retake_that_says_so(see, second, on_top, gap):
    """Side by side, overlapping, and one behind the other."""
    cup = Cup(end=(420.0, 280.0), gap=gap, second=second, on_top=on_top)
    inspection = look(see(Drawn(cups=(cup,))), Job(wire_od_mm=4.5))
    assert inspection.verdict is Verdict.RETAKE
    assert "two-wires" in [f.check for r in inspection.results for f in r.findings]


def test_positions_are_those_of_the_full_size_photo(see):
    inspection = look(see(Drawn()), Job())
    dimension = inspection.results[0].findings[0].measured[0].evidence[0].points
    assert np.abs(dimension[0] - (420, 280)).max() < 4
    assert np.abs(dimension[-1] - (500, 280)).max() < 4
    x0, y0, x1, y1 = inspection.results[0].joint.box
    assert x0 < 420 < x1
    assert y0 < 280 < y1


def test_the_wire_gives_millimetres(see):
    inspection = look(see(Drawn()), Job(wire_od_mm=4.5))
    scale = inspection.scale
    assert scale.origin == "wire"
    assert abs(scale.mm_per_px - 4.5 / 80) < 2 * scale.standard_uncertainty
    # 0.1 mm of tolerance, taken as rectangular, is the least that it can be
    assert scale.standard_uncertainty >= scale.mm_per_px * 0.1 / 3**0.5 / 4.5
    assert look(see(Drawn()), Job()).scale.mm_per_px is None


def test_no_joint_is_a_retake_that_says_so(see):
    inspection = look(see(Drawn(cups=())), Job())
    assert inspection.verdict is Verdict.RETAKE
    assert inspection.results == ()
    assert [f.check for f in inspection.findings] == ["no-joint"]


def test_fewer_joints_than_poles_is_a_retake(see):
    assert look(see(Drawn()), Job(poles=2)).verdict is Verdict.RETAKE


def test_a_stricter_limit_of_the_workshop_counts(see):
    strict = Settings(limits={"insulation-gap.gap": 0.5})
    inspection = look(see(Drawn()), Job(), strict)
    assert outcome(inspection, 1, "insulation-gap") is Outcome.REWORK


def test_the_region_map_has_the_photos_size(see):
    inspection = look(see(Drawn()), Job())
    regions = region_map(inspection)
    assert regions.shape == (600, 960)
    assert regions[280, 380] == Region.INSULATION
    assert regions[280, 435] == Region.CONDUCTOR
    assert regions[60, 60] == Region.BACKGROUND


def test_bytes_paths_and_photos_are_the_same(see, tmp_path):
    photo = see(Drawn())
    buffer = io.BytesIO()
    Image.fromarray(photo.rgb).save(buffer, "PNG")
    path = tmp_path / "drawn.png"
    path.write_bytes(buffer.getvalue())
    found = {look(source, Job()).verdict for source in (photo, buffer.getvalue(), path, str(path))}
    assert found == {Verdict.PASS}


@pytest.mark.parametrize(
    ("job", "error"),
    [
        (Job(kind="knot"), JobError),
        (Job(poles=0), JobError),
        (Job(poles=99), JobError),
        (Job(wire_od_mm=-4.5), WireError),
        (Job(wire_od_mm=float("nan")), WireError),
    ],
)
def test_jobs_that_make_no_sense(see, job, error):
    photo = see(Drawn())
    with pytest.raises(error):
        look(photo, job)


def test_what_is_no_photo():
    with pytest.raises(PhotoError):
        look(b"no photo")


@pytest.mark.parametrize(
    "options",
    [
        {"fine": 0.2, "rework": 0.9},
        {"fine": 1.0},
        {"rework": 0.0},
        {"limits": {"gap": 2.0}},
        {"limits": {"insulation-gap.gap": float("nan")}},
    ],
)
def test_settings_that_make_no_sense(options):
    with pytest.raises(SettingsError):
        Settings(**options)


def test_settings_cannot_be_changed_behind_their_back():
    limits = {"insulation-gap.gap": 1.0}
    settings = Settings(limits=limits)
    limits["insulation-gap.gap"] = 9.0
    assert settings.limit("insulation-gap", "gap", 2.0) == 1.0
    assert settings.limit("insulation-gap", "other", 2.0) == 2.0


def test_a_spot_says_nothing_about_the_scale(see):
    result = look(see(Drawn()), Job(wire_od_mm=4.5)).results[0]
    guess = replace(result.joint, d_px=2 * result.joint.d_px, problems=("spot",))
    job = Job(wire_od_mm=4.5)
    alone = stages.scale_of([result.joint], job)
    assert stages.scale_of([result.joint, guess], job) == alone
    assert stages.scale_of([guess], job).mm_per_px is None


TWO_WIRES = Drawn(cups=(Cup(end=(420.0, 280.0), second=(0.0, 1.05)),))


@pytest.mark.parametrize(
    ("drawn", "opinions", "again"), [(PAIR, True, 2), (PAIR, False, 0), (TWO_WIRES, True, 0)]
)
def test_a_joint_is_looked_at_again_only_if_it_is_judged_and_there_was_an_opinion(
    see, monkeypatch, drawn, opinions, again
):
    asked = []
    monkeypatch.setattr(stages, "along", lambda _photo, joint: asked.append(joint))
    photo = see(drawn)
    if opinions:
        grid = np.full((len(Fault), 120, 120), -9.0, np.float32)
        close = stages.network.close

        def with_opinions(*args):
            return replace(close(*args), faults=Faults(grid, (3.5, 3.5), 8.0))

        monkeypatch.setattr(stages.network, "close", with_opinions)
    inspection = look(photo, Job(wire_od_mm=4.5))
    assert len(asked) == again
    assert all(r.joint.along is None for r in inspection.results)  # the stand-in gave none
