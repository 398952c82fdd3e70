"""What the network is punished for: regions, marks, faults. Needs the extra `train`."""

import numpy as np
import pytest

pytestmark = [pytest.mark.train, pytest.mark.filterwarnings("ignore")]
torch = pytest.importorskip("torch", reason="the extra `train` is not installed")

from inspector.model import OPINIONS, Fault, Mark, Region  # noqa: E402 - torch decides
from inspector.regions.training import batch, labels, losses  # noqa: E402
from tests.batches import bare_truth, batch_of, lying, truth_of, truth_with  # noqa: E402


@pytest.fixture(autouse=True)
def few_threads():
    torch.set_num_threads(1)
    torch.manual_seed(0)


def test_a_perfect_answer_costs_nothing_and_a_wrong_one_does(scenes):
    aim = losses.targets(truth_of(batch_of(scenes, 6)))
    hot = torch.nn.functional.one_hot(aim.labels.where(aim.labels != 255, 0), 8)
    right = (hot.permute(0, 3, 1, 2).float() - 0.5) * 40
    assert float(losses.region_loss(right, aim)) < 0.01
    assert float(losses.region_loss(-right, aim)) > 5
    soft = torch.cat([aim.heat, aim.areas], 1).clamp(1e-4, 1 - 1e-4)
    marks = torch.logit(soft)
    assert float(losses.mark_loss(marks, aim)) < 0.5 * float(losses.mark_loss(-marks, aim))


def pull_on_rare(count, size=256):
    """How the loss pulls at the strand where one of `count` pixels is: mean slope there."""
    labels = torch.zeros(1, size, size, dtype=torch.long)
    labels[0, 100, 20 : 20 + count] = int(Region.STRAND)
    truth = bare_truth(labels)
    logits = torch.zeros(1, len(Region), size, size)
    logits[:, Region.BACKGROUND] = 7.0  # sure of the ground, as a network is that never names one
    logits.requires_grad_()
    losses.region_loss(logits, losses.targets(truth)).backward()
    return float(-logits.grad[0, Region.STRAND][labels[0] == Region.STRAND].sum())


def test_a_strand_pulls_alike_however_few_its_pixels_are():
    many, few = pull_on_rare(200), pull_on_rare(10)
    assert many > 0.15
    assert few > 0.6 * many


def test_a_rare_mark_pulls_as_one_that_is_common():
    bits = torch.zeros(1, 128, 128, dtype=torch.int32)
    bits[0, 10:14, 10:14] |= 1 << int(Mark.HOLE)
    bits[0, 60:120, 60:120] |= 1 << int(Mark.MOUTH)
    aim = losses.targets(bare_truth(torch.zeros(1, 128, 128).long(), bits))
    logits = torch.full((1, len(Mark), 64, 64), -4.0, requires_grad=True)
    losses.mark_loss(logits, aim).backward()
    pull = -(logits.grad[:, len(losses.PEAKS) :] * aim.areas).sum((0, 2, 3))
    pull = dict(zip(losses.AREAS, pull.tolist(), strict=True))
    assert pull[Mark.HOLE] > 0.05 * pull[Mark.MOUTH] > 0
    assert pull[Mark.SPIKE] == 0


def test_rare_loss_forgives_what_lies_outside_the_scene():
    odds = torch.full((1, 1, 8, 8), 3.0, requires_grad=True)
    losses.rare_loss(odds, torch.zeros(1, 1, 8, 8), torch.zeros(1, 1, 8, 8)).sum().backward()
    assert float(odds.grad.abs().max()) == 0


def test_peaks_are_drawn_where_they_are():
    peaks = torch.zeros(1, 8, 3, 4)
    peaks[0, 0, 1] = torch.tensor([40.5, 20.5, 60.0, 1.0])
    heat = losses.heat(peaks, 96)[0]
    assert float(heat[0].max()) == 0
    row, column = divmod(int(heat[1].argmax()), 48)
    assert (column, row) == (20, 10)
    assert float(heat[1, 10, 23]) == pytest.approx(np.exp(-0.5 * (3 / 3.0) ** 2), abs=1e-4)


def test_no_truth_means_no_loss(scenes):
    truth = truth_of(batch_of(scenes, 2))
    assert (truth.faults >= 0).any()
    blank = batch.Truth(torch.full_like(truth.labels, 255), truth.bits, truth.peaks, truth.faults)
    aim = losses.targets(blank)
    logits = torch.zeros(2, 8, 128, 128, requires_grad=True)
    losses.region_loss(logits, aim).backward()
    assert logits.grad is not None
    assert float(logits.grad.abs().max()) == 0
    local = torch.zeros(2, OPINIONS, 16, 16, requires_grad=True)
    loss = losses.fault_loss(local, aim)
    loss.backward()
    assert float(loss) == float(local.grad.abs().max()) == 0


CELLS = 64  # of a window of 512 pixels, a side


def two_joints(faults=None):
    """A joint with D of 80 pixels to the left, another one turned to the right."""
    joints = [lying((150, 256), 90), lying((370, 256), 40)]
    return truth_with(joints, faults=faults)


def test_pooled_is_the_log_of_the_mean_odds_over_a_joints_cells():
    rng = np.random.default_rng(3)
    local = rng.normal(0, 3, (2, OPINIONS, 5, 7)).astype(np.float32)
    joints = rng.random((2, 4, 5, 7)) < 0.3
    joints[0, 0] = False
    joints[0, 0, 2, 3] = True
    joints[1, 2] = False
    got = losses.pooled(torch.from_numpy(local), torch.from_numpy(joints)).numpy()
    assert got.shape == (2, 4, OPINIONS)
    odds = np.exp(14 * np.tanh(local.astype(float) / 14))
    for n, j in np.ndindex(2, 4):
        if joints[n, j].any():
            expected = np.log(odds[n][:, joints[n, j]].mean(1))
            assert got[n, j] == pytest.approx(expected, abs=1e-4)
    assert np.abs(got[0, 0] - local[0, :, 2, 3]).max() < 0.6  # one cell: what that cell says
    assert (got[1, 2] < -20).all()  # no cell: as good as no odds, yet finite
    assert np.isfinite(got).all()


def test_one_sure_cell_speaks_for_the_joint_and_no_value_overflows():
    joints = torch.ones(1, 1, 10, 10, dtype=torch.bool)
    local = torch.full((1, 1, 10, 10), -8.0)
    assert float(losses.pooled(local, joints)) < -6
    local[0, 0, 4, 4] = 12.0
    assert float(losses.pooled(local, joints)) > 4
    local[0, 0, 4, 4] = 1e6
    assert float(losses.pooled(local, joints)) == pytest.approx(14 - np.log(100), abs=1e-3)


def local_for(aim, right=1):
    """What a sure network says: 9 in the cells of joints that have the fault, -9 elsewhere."""
    has = torch.einsum("njk,njhw->nkhw", (aim.faults == 1).float(), aim.joints.float()) > 0
    return torch.where(has, 9.0, -9.0) * right


def test_faults_right_cost_next_to_nothing_and_wrong_much():
    rng = np.random.default_rng(5)
    aim = losses.targets(two_joints(rng.integers(-1, 2, (2, OPINIONS))))
    assert (aim.faults == 1).sum() > 5 < (aim.faults == 0).sum()
    right = float(losses.fault_loss(local_for(aim), aim))
    wrong = float(losses.fault_loss(local_for(aim, -1), aim))
    assert right < 1e-3
    # by hand: what is left of 9 for each wrong answer, by fault over no fewer than 4, 0.3 of it
    known = int((aim.faults >= 0).sum())
    assert wrong == pytest.approx(0.3 * 14 * np.tanh(9 / 14) * known / 4, rel=1e-3)


def test_only_known_faults_of_a_joints_own_cells_pull():
    faults = torch.full((2, OPINIONS), -1)
    faults[0, Fault.HOLE], faults[0, Fault.CHAR] = 1, 0
    aim = losses.targets(two_joints(faults))
    local = torch.zeros(1, OPINIONS, CELLS, CELLS, requires_grad=True)
    losses.fault_loss(local, aim).backward()
    grad = local.grad[0]
    own = aim.joints[0, 0]
    assert (grad[Fault.HOLE][own] < 0).all()
    assert (grad[Fault.CHAR][own] > 0).all()
    assert float(grad[:, ~own].abs().max()) == 0
    others = [f for f in Fault if f not in {Fault.HOLE, Fault.CHAR}]
    assert float(grad[others].abs().max()) == 0


@pytest.mark.parametrize(("d_px", "counts"), [(43.0, False), (45.0, True)])
def test_a_joint_seen_too_small_has_no_second_opinion(d_px, counts):
    aim = losses.targets(truth_with([lying((250, 250), 0, d_px=d_px)]))
    assert bool((aim.faults[0, 0] == 0).all()) == counts
    assert bool((aim.faults[0, 0] == -1).all()) != counts
    assert (aim.faults[0, 1:] == -1).all()  # rows without a joint


@pytest.mark.parametrize(("outside_px", "counts"), [(120, True), (160, False)])
def test_a_joint_that_reaches_beyond_the_scene_has_no_second_opinion(outside_px, counts):
    # its capsule spans x from 120 to 344: 80 pixels of D, end at 160, lip at 240
    truth = truth_with([lying((200, 256), 0)])
    truth.labels[:, :, :outside_px] = 255
    aim = losses.targets(truth)
    assert aim.joints[0, 0].any()
    assert bool((aim.faults[0, 0] == 0).all()) == counts


@pytest.mark.parametrize(("middle_x", "counts"), [(380, True), (420, False)])
def test_a_joint_that_the_window_cuts_off_has_no_second_opinion(middle_x, counts):
    # the capsule reaches 144 pixels beyond its middle, and is 224 long
    aim = losses.targets(truth_with([lying((middle_x, 256), 0)]))
    assert aim.joints[0, 0].any()
    assert bool((aim.faults[0, 0] == 0).all()) == counts


@pytest.mark.parametrize("peak", [0, 1])
def test_a_joint_whose_end_or_lip_is_not_seen_has_no_second_opinion(peak):
    truth = truth_with([lying((256, 256), 0)])
    truth.peaks[0, 0, peak, 3] = 0
    aim = losses.targets(truth)
    assert not aim.joints.any()
    assert (aim.faults == -1).all()


def opinions(*said):
    """Log-odds (1, J, OPINIONS): -9 but where said otherwise, a dictionary for each joint."""
    odds = torch.full((1, len(said), OPINIONS), -9.0)
    for k, each in enumerate(said):
        for fault, value in each.items():
            odds[0, k, fault] = value
    return odds


def known(*faults):
    """Truths (1, J, OPINIONS): sound but for what is said, a dictionary for each joint."""
    truth = torch.zeros(1, len(faults), OPINIONS, dtype=torch.long)
    for k, each in enumerate(faults):
        for fault, value in each.items():
            truth[0, k, fault] = value
    return truth


def test_a_bad_joint_is_caught_by_any_fault_that_it_has():
    truth = known({Fault.SPIKE: 1, Fault.HOLE: 1})
    one = losses.whole_loss(opinions({Fault.SPIKE: 6.0}), truth)
    other = losses.whole_loss(opinions({Fault.HOLE: 6.0}), truth)
    none = losses.whole_loss(opinions({}), truth)
    wrong = losses.whole_loss(opinions({Fault.CHAR: 6.0}), truth)
    assert float(one) == pytest.approx(float(other))
    assert float(none) > 5 * float(one)
    assert float(wrong) == pytest.approx(float(none), rel=1e-3)


def test_a_sound_joint_costs_what_speaks_against_it():
    """The same as a look's `overall`: the sum of softplus over the faults."""
    odds = opinions({Fault.CHAR: 1.0, Fault.FILL: -2.0})
    against = torch.nn.functional.softplus(odds[0, 0, : len(Fault)]).sum()
    cost = losses.whole_loss(odds, known({}))
    assert float(cost) == pytest.approx(0.3 * 0.5 * float(against) / 4, rel=1e-5)


@pytest.mark.parametrize("state", [labels.NEAR, labels.UNKNOWN])
def test_a_joint_near_a_limit_or_mostly_unknown_is_neither(state):
    faults = {Fault.CHAR: state} if state == labels.NEAR else dict.fromkeys(list(Fault)[:8], state)
    assert float(losses.whole_loss(opinions({Fault.CHAR: 5.0}), known(faults))) == 0.0


def test_hindrances_have_no_part_in_the_whole():
    odds = opinions({})
    odds[..., len(Fault) :] = 9.0
    cost = losses.whole_loss(odds, known({}))
    assert float(cost) == pytest.approx(float(losses.whole_loss(opinions({}), known({}))))


def test_what_is_far_off_pulls_without_a_number_that_is_not_finite():
    odds = torch.full((1, 2, OPINIONS), -20.0, requires_grad=True)
    losses.whole_loss(odds, known({Fault.SPIKE: 1}, {})).backward()
    assert torch.isfinite(odds.grad).all()
    assert float(odds.grad[0, 0, Fault.SPIKE]) < -0.03
