"""Burns painted over a window: what they change, and what they leave alone. Needs torch."""

import pytest

pytestmark = [pytest.mark.train, pytest.mark.filterwarnings("ignore")]
torch = pytest.importorskip("torch", reason="the extra `train` is not installed")

from inspector.model import Fault, Mark, Region  # noqa: E402 - torch decides
from inspector.regions.training import burns  # noqa: E402
from tests.batches import lying, truth_with  # noqa: E402

SIZE, D = 256, 80.0
CHAR = 1 << int(Mark.CHAR)


@pytest.fixture(autouse=True)
def seeded(monkeypatch):
    torch.set_num_threads(1)
    torch.manual_seed(11)
    monkeypatch.setattr(burns, "chosen", lambda like, _chance: torch.arange(len(like)))


def wire(tone=0.8, region=Region.INSULATION):
    """A window with one joint, whose wire comes in from the left, and its pixels."""
    truth = truth_with([lying((128, 128), 0, d_px=D)], SIZE)
    truth.labels[0, 88:168, :110] = int(region)
    rgb = torch.full((1, 3, SIZE, SIZE), 0.5)
    rgb[:, :, 88:168, :110] = tone
    return rgb, truth


def burnt(rgb, truth):
    return [burns.burn(rgb, truth) for _ in range(60)]


def test_only_insulation_and_housing_are_stained_and_what_is_stained_is_marked():
    rgb, truth = wire()
    seen = 0
    for new, after in burnt(rgb, truth):
        moved = (new - rgb).abs().amax(1) > 0.45
        marked = (after.bits & CHAR) > 0
        assert not (moved & (truth.labels != Region.INSULATION)).any()
        assert not (marked & (truth.labels != Region.INSULATION)).any()
        assert not (moved & ~marked).any()
        assert (new <= rgb + 0.05).all()  # but for the grain of a stain's faint rim
        assert torch.equal(after.labels, truth.labels)
        seen += bool(marked.any())
    assert seen > 40


def test_a_stain_counts_against_the_joint_once_it_is_clearly_large():
    rgb, truth = wire()
    told = set()
    for _, after in burnt(rgb, truth):
        area = float(((after.bits & CHAR) > 0).sum())
        across = 2 * (area / torch.pi) ** 0.5 / D
        char = int(after.faults[0, 0, Fault.CHAR])
        told.add(char)
        assert char in ((0,) if area == 0 else (1, -2) if across > burns.CLEARLY_D else (-2,))
        others = [f for f in range(after.faults.shape[2]) if f != Fault.CHAR]
        assert (after.faults[0, 0, others] == 0).all()
    assert {1, -2} <= told


def test_what_cannot_be_seen_is_not_taught():
    rgb, truth = wire(tone=0.03)
    for new, after in burnt(rgb, truth):
        assert torch.equal(new, rgb)
        assert torch.equal(after.bits, truth.bits)
        assert torch.equal(after.faults, truth.faults)


def test_metal_is_never_stained():
    rgb, truth = wire(region=Region.CONDUCTOR)
    assert all(torch.equal(new, rgb) for new, _ in burnt(rgb, truth))


@pytest.mark.parametrize("neighbour", [(128, 138), (200, 216)])
def test_every_other_joint_of_a_stained_window_is_unknown(neighbour):
    rgb, truth = wire()
    truth.peaks[0, 1] = torch.from_numpy(lying(neighbour, 0, d_px=D))
    truth.faults[0, 1] = 0
    told = [tuple(after.faults[0, :2, Fault.CHAR].tolist()) for _, after in burnt(rgb, truth)]
    assert set(told) <= {(0, 0), (1, -2), (-2, 1), (-2, -2)}
    assert (1, -2) in told


def test_the_part_of_a_stain_that_does_not_show_is_none():
    rgb, truth = wire()
    rgb[:, :, 128:168, :110] = 0.03  # black below, where no stain can be seen
    for _, after in burnt(rgb, truth):
        assert not bool((after.bits[0, 128:] & CHAR).any())


def test_a_window_without_joints_stays_as_it_is():
    rgb, truth = wire()
    truth.peaks.zero_()
    new, after = burns.burn(rgb, truth)
    assert torch.equal(new, rgb)
    assert after is truth
