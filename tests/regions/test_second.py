"""The second opinion on a joint: which cells speak for it, and how they are pooled."""

from dataclasses import replace

import numpy as np
import pytest

from inspector.checks import registry
from inspector.model import Fault, Faults, Joint, Mark, NotMeasured, Patch
from inspector.regions.capsule import ASIDE_D, BEHIND_D, BEYOND_D, CELL_PX
from inspector.second import asked, log_odds
from tests.made_checks import a_check, measured

SIDE = 40  # cells
D_PX, GAP_D = 60.0, 1.0


def joint_of(grid, *, angle_deg=0.0, end=(120.0, 160.0), corner=(3.5, 3.5), d_px=D_PX):
    axis = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    faults = None if grid is None else Faults(grid, corner, float(CELL_PX))
    size = (SIDE * CELL_PX, SIDE * CELL_PX)
    patch = Patch(
        np.zeros((*size, 3), np.uint8), np.zeros(size, np.uint8), np.ones(size, np.float32),
        np.zeros((len(Mark), *size), np.float32), (0.0, 0.0), 1.0, faults,
    )  # fmt: skip
    lip = tuple(np.array(end) + GAP_D * d_px * axis)
    own = np.zeros(size, bool)
    return Joint(1, "cup", patch, end, lip, tuple(axis), d_px, 1.0, own, sure=0.9)


def flat(value, fault=Fault.HOLE):
    grid = np.full((len(Fault), SIDE, SIDE), -30.0, np.float32)
    grid[fault] = value
    return grid


def cells_by_hand(joint):
    """Middles of the joint's cells, one at a time and by plain trigonometry."""
    corner = np.array(joint.patch.faults.corner)
    found = []
    for i in range(SIDE):
        for j in range(SIDE):
            dx, dy = corner + CELL_PX * np.array([j, i]) - joint.end
            s = (dx * joint.axis[0] + dy * joint.axis[1]) / joint.d_px
            t = (dy * joint.axis[0] - dx * joint.axis[1]) / joint.d_px
            if -BEHIND_D <= s <= GAP_D + BEYOND_D and abs(t) <= ASIDE_D:
                found.append((i, j))
    return found


def soft(value):
    return 14.0 * np.tanh(value / 14.0)


@pytest.mark.parametrize("value", [-9.0, -1.0, 0.0, 3.0, 40.0])
def test_cells_that_agree_are_taken_at_their_word(value):
    joint = joint_of(flat(value))
    said = np.log(np.exp(soft(value)) + 1e-9)
    assert log_odds(joint, Fault.HOLE) == pytest.approx(said, abs=1e-5)
    assert log_odds(joint, Fault.SPIKE) < -13.0 < said + 5.0  # each fault by itself


@pytest.mark.parametrize("angle_deg", [0.0, 37.0, 90.0, 200.0])
def test_one_cell_that_is_sure_speaks_for_the_joint(angle_deg):
    grid = flat(-14.0)
    joint = joint_of(grid, angle_deg=angle_deg, end=(160.0, 160.0))
    mine = cells_by_hand(joint)
    assert 80 < len(mine) < 500
    grid[(Fault.HOLE, *mine[len(mine) // 2])] = 8.0
    odds = (np.exp(soft(8.0)) + (len(mine) - 1) * np.exp(soft(-14.0))) / len(mine)
    assert log_odds(joint, Fault.HOLE) == pytest.approx(np.log(odds + 1e-9), abs=1e-4)


@pytest.mark.parametrize("angle_deg", [0.0, 37.0, 90.0, 200.0])
def test_cells_of_another_joint_say_nothing(angle_deg):
    grid = flat(8.0)
    joint = joint_of(grid, angle_deg=angle_deg, end=(160.0, 160.0))
    for cell in cells_by_hand(joint):
        grid[(Fault.HOLE, *cell)] = -5.0
    assert log_odds(joint, Fault.HOLE) == pytest.approx(soft(-5.0), abs=1e-4)


def test_a_grid_that_begins_outside_the_patch_lies_where_its_corner_says():
    """As at the photo's edge, where the patch is cut and the grid is not."""
    grid = flat(-6.0)
    whole = joint_of(grid)
    grid[(Fault.HOLE, *cells_by_hand(whole)[-1])] = 5.0
    cut = joint_of(grid, end=(120.0 - 45, 160.0 - 21), corner=(3.5 - 45, 3.5 - 21))
    assert log_odds(cut, Fault.HOLE) == pytest.approx(log_odds(whole, Fault.HOLE), abs=1e-9)
    shifted = replace(cut, patch=whole.patch)
    assert log_odds(shifted, Fault.HOLE) != pytest.approx(log_odds(whole, Fault.HOLE), abs=1e-3)


def test_it_has_an_opinion_on_every_fault():
    for fault in Fault:
        said = log_odds(joint_of(flat(8.0, fault)), fault)
        assert said == pytest.approx(soft(8.0), abs=1e-4)


def test_without_faults_or_without_cells_there_is_no_opinion():
    assert log_odds(joint_of(None), Fault.HOLE) is None
    assert log_odds(joint_of(flat(1.0), corner=(1000.0, 1000.0)), Fault.HOLE) is None


def test_each_measurement_is_asked_about_its_own_fault():
    check = replace(a_check(), faults={"gap": Fault.HOLE, "angle": Fault.SPIKE})
    items = (
        measured(1.0), measured(1.0, name="angle-left"), measured(1.0, name="other"),
        NotMeasured("gap", "hidden"),
    )  # fmt: skip
    gap, angle, other, hidden = asked(check, items, joint_of(flat(2.0)))
    assert gap.second == pytest.approx(soft(2.0), abs=1e-5)
    assert angle.second < -13.0
    assert other.second is None
    assert hidden == items[3]
    assert asked(check, items, joint_of(None)) == items


def test_every_fault_is_asked_of_by_a_check():
    asked_of = {fault for check in registry().values() for fault in check.faults.values()}
    assert asked_of == set(Fault)
    for check in registry().values():
        sides = {"", "-left", "-right"}
        limited = {limit.name for limit in check.limits}
        for name in check.faults:
            assert limited & {name + side for side in sides}, (check.name, name)
        assert set(check.proof) <= set(check.faults)


@pytest.mark.train
@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("angle_deg", [0.0, 23.0, 141.0, 290.0])
def test_it_is_pooled_as_in_training(angle_deg):
    torch = pytest.importorskip("torch", reason="the extra `train` is not installed")
    from inspector.regions.training.capsules import cells  # noqa: PLC0415 - torch
    from inspector.regions.training.losses import pooled  # noqa: PLC0415

    rng = np.random.default_rng(round(angle_deg))
    grid = rng.normal(-3.0, 6.0, (len(Fault), SIDE, SIDE)).astype(np.float32)
    joint = joint_of(grid, angle_deg=angle_deg, end=(151.3, 148.9), d_px=47.7)
    peaks = torch.zeros(1, 1, 3, 4)
    peaks[0, 0, 0] = torch.tensor([*joint.end, joint.d_px, 1.0])
    peaks[0, 0, 1] = torch.tensor([*joint.lip, joint.d_px, 1.0])
    theirs = pooled(torch.from_numpy(grid)[None], cells(peaks, SIDE, SIDE))[0, 0]
    for fault in Fault:
        assert log_odds(joint, fault) == pytest.approx(float(theirs[fault]), abs=1e-4)
