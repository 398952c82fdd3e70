"""Pits painted on solder: what they change, and what they leave alone. Needs torch."""

import pytest

pytestmark = [pytest.mark.train, pytest.mark.filterwarnings("ignore")]
torch = pytest.importorskip("torch", reason="the extra `train` is not installed")

from inspector.model import Fault, Mark, Region  # noqa: E402 - torch decides
from inspector.regions.training import losses, pits  # noqa: E402
from inspector.regions.training.labels import NEAR  # noqa: E402
from tests.batches import lying, truth_with  # noqa: E402

SIZE, D = 256, 80.0
HOLE = 1 << int(Mark.HOLE)


@pytest.fixture(autouse=True)
def seeded(monkeypatch):
    torch.set_num_threads(1)
    torch.manual_seed(11)
    monkeypatch.setattr(pits, "chosen", lambda like, _chance: torch.arange(len(like)))


def soldered(tone=0.7, region=Region.SOLDER):
    """A window with one joint that lies along its rows, solder from its end on; its pixels."""
    truth = truth_with([lying((128, 128), 0, d_px=D)], SIZE)
    truth.labels[0, 96:160, 90:220] = int(region)
    rgb = torch.full((1, 3, SIZE, SIZE), 0.4)
    rgb[:, :, 96:160, 90:220] = tone
    return rgb, truth


def pierced(rgb, truth):
    return [pits.pierce(rgb, truth) for _ in range(60)]


def test_only_solder_is_pierced_and_what_is_dark_there_is_marked():
    rgb, truth = soldered()
    seen = 0
    for new, after in pierced(rgb, truth):
        darker = (rgb - new).amax(1) > 0.36  # half a cover takes 0.35
        marked = (after.bits & HOLE) > 0
        assert not (marked & (truth.labels != Region.SOLDER)).any()
        assert not (darker & ~marked).any()
        assert torch.equal(new[:, :, :90], rgb[:, :, :90])
        assert torch.equal(after.labels, truth.labels)
        if bool(marked.any()):
            assert float(new.mean(1)[marked].mean()) < 0.6 * 0.7
        seen += bool(marked.any())
    assert seen > 40


def test_a_pit_counts_against_the_joint_once_it_is_clearly_large():
    rgb, truth = soldered()
    told = set()
    for _, after in pierced(rgb, truth):
        rows, columns = torch.nonzero((after.bits[0] & HOLE) > 0, as_tuple=True)
        hole = int(after.faults[0, 0, Fault.HOLE])
        told.add(hole)
        if len(rows) == 0:
            assert hole == 0
        else:
            corners = torch.stack([rows, columns], 1).float()
            across = float(torch.cdist(corners, corners).max()) / D
            # a box is no longer than the greatest extent: clear here is clear in truth
            assert hole in ((1, NEAR) if across > pits.CLEARLY_D else (NEAR,))
        others = [f for f in range(after.faults.shape[2]) if f != Fault.HOLE]
        assert (after.faults[0, 0, others] == 0).all()
    assert {1, NEAR} <= told


def test_what_cannot_be_seen_is_not_taught():
    rgb, truth = soldered(tone=0.06)
    for new, after in pierced(rgb, truth):
        assert torch.equal(new, rgb)
        assert torch.equal(after.bits, truth.bits)
        assert torch.equal(after.faults, truth.faults)


def test_a_joint_without_solder_is_left_alone():
    rgb, truth = soldered(region=Region.CONDUCTOR)
    assert all(torch.equal(new, rgb) for new, _ in pierced(rgb, truth))


def test_a_joint_too_far_off_to_own_the_solder_gets_no_pit():
    rgb, truth = soldered()
    truth.labels[0] = int(Region.BACKGROUND)
    truth.labels[0, :20, :] = int(Region.SOLDER)
    assert all(torch.equal(new, rgb) for new, _ in pierced(rgb, truth))


def test_every_other_joint_of_a_pierced_window_is_unknown():
    rgb, truth = soldered()
    truth.peaks[0, 1] = torch.from_numpy(lying((128, 138), 0, d_px=D))
    truth.faults[0, 1] = 0
    for _, after in pierced(rgb, truth):
        if bool(((after.bits & HOLE) > 0).any()):
            assert set(after.faults[0, :2, Fault.HOLE].tolist()) <= {1, NEAR}
            assert (after.faults[0, :2, Fault.HOLE] == 1).sum() <= 1


def test_a_joint_that_has_a_hole_keeps_it():
    rgb, truth = soldered()
    truth.peaks[0, 1] = torch.from_numpy(lying((128, 225), 0, d_px=D))
    truth.faults[0, 0, Fault.HOLE] = truth.faults[0, 1, Fault.HOLE] = 1
    for _, after in pierced(rgb, truth):
        assert after.faults[0, :2, Fault.HOLE].tolist() == [1, 1]


def test_solder_that_may_be_the_next_poles_gets_no_pit():
    rgb, truth = soldered()
    truth.peaks[0, 1] = torch.from_numpy(lying((128, 128), 0, d_px=D))
    assert all(torch.equal(new, rgb) for new, _ in pierced(rgb, truth))


def test_a_pit_too_small_to_tell_makes_no_joint_sound():
    """Whatever is said of holes there, the loss of the whole says nothing."""
    rgb, truth = soldered()
    for _, after in pierced(rgb, truth):
        if int(after.faults[0, 0, Fault.HOLE]) != 1 and bool((after.bits & HOLE).any()):
            odds = torch.zeros(1, *after.faults.shape[1:])
            assert float(losses.whole_loss(odds, after.faults)) == 0.0
