"""Where a joint's second opinion is looked for, what hides it, its figures: extra `train`."""

import math

import numpy as np
import pytest

pytestmark = [pytest.mark.train, pytest.mark.filterwarnings("ignore")]
torch = pytest.importorskip("torch", reason="the extra `train` is not installed")

from inspector.model import OPINIONS, Fault, Hindrance  # noqa: E402 - torch decides
from inspector.regions.capsule import ASIDE_D, BEHIND_D, BEYOND_D, CELL_PX  # noqa: E402
from inspector.regions.training import augment, capsules  # noqa: E402
from inspector.regions.training.opinions import Opinions  # noqa: E402
from tests.batches import crop_with, lying, truth_with  # noqa: E402

CELLS = 64
SIZE = CELLS * CELL_PX
D_PX, LONG_D = 80.0, 1.5


def corners(peaks):
    """Of the area that is looked at, from its definition, (4, 2) in pixels of the window."""
    end, lip, d = peaks[0, :2].astype(float), peaks[1, :2].astype(float), float(peaks[0, 2])
    along = (lip - end) / np.linalg.norm(lip - end)
    aside = np.array([-along[1], along[0]]) * ASIDE_D * d
    start, stop = end - along * BEHIND_D * d, lip + along * BEYOND_D * d
    return np.array([start - aside, stop - aside, stop + aside, start + aside])


def holds(polygon, x, y):
    """Which points lie in a convex polygon: on one side of all its edges."""
    sides = []
    for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        sides.append((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]))
    return (np.array(sides) >= 0).all(0)


@pytest.mark.parametrize("turn_deg", [0, 17, 45, 90, 133, 180, 250, 305])
def test_the_cells_are_those_whose_middle_lies_in_the_area(turn_deg):
    peaks = lying((253.3, 258.7), turn_deg, d_px=D_PX, long_d=LONG_D)
    got = capsules.cells(torch.from_numpy(peaks)[None, None], CELLS, CELLS)[0, 0].numpy()
    at = np.arange(CELLS) * CELL_PX + (CELL_PX - 1) / 2  # pixel centres at integers
    polygon = corners(peaks)
    x, y = np.meshgrid(at, at)
    assert (got != holds(polygon, x, y)).sum() <= 2  # a middle on the very edge
    long_px = (LONG_D + BEHIND_D + BEYOND_D) * D_PX
    area, around = long_px * 2 * ASIDE_D * D_PX, 2 * (long_px + 2 * ASIDE_D * D_PX)
    # cells that an edge cuts fall to either side evenly, but where rows of them lie along it: then
    # half a row's height may be too much or too little
    row_px = {0: CELL_PX, 45: CELL_PX / math.sqrt(2)}.get(turn_deg % 90, 0.1 * CELL_PX)
    most = around * row_px / 2
    assert abs(got.sum() * CELL_PX**2 - area) < most
    ys, xs = np.nonzero(got)
    middle = polygon.mean(0)
    assert math.hypot(at[xs].mean() - middle[0], at[ys].mean() - middle[1]) < CELL_PX / 2


def test_what_lies_behind_the_lip_is_looked_at_farther_than_the_wire():
    peaks = torch.from_numpy(lying((256, 256), 0, d_px=D_PX, long_d=LONG_D))[None, None]
    columns = torch.nonzero(capsules.cells(peaks, CELLS, CELLS)[0, 0].any(0))[:, 0]
    at = columns * CELL_PX + (CELL_PX - 1) / 2
    end, lip = float(peaks[0, 0, 0, 0]), float(peaks[0, 0, 1, 0])
    assert float(at.min()) == pytest.approx(end - BEHIND_D * D_PX, abs=CELL_PX)
    assert float(at.max()) == pytest.approx(lip + BEYOND_D * D_PX, abs=CELL_PX)


def test_share_is_the_part_of_a_joints_cells_that_is_covered():
    shown, other = lying((256, 256), 30), lying((256, 256), 30)
    other[1, 3] = 0  # its lip is not seen, so it has no cells
    peaks = torch.from_numpy(np.stack([shown, other]))[None]
    mine = capsules.cells(peaks, CELLS, CELLS)[0, 0]
    over = torch.zeros(1, 1, CELLS, CELLS)
    assert capsules.share(peaks, over).tolist() == [[0, 0]]
    assert capsules.share(peaks, over + 1).tolist() == [[1, 0]]
    over[0, 0, : CELLS // 2] = 0.5
    expected = 0.5 * float(mine[: CELLS // 2].sum() / mine.sum())
    assert 0.1 < expected < 0.4
    assert capsules.share(peaks, over)[0, 0].item() == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("part", "unknown"), [(0.0, False), (0.03, False), (0.05, True)])
def test_a_cover_makes_faults_unknown_from_its_share_on(monkeypatch, part, unknown):
    """The near joint lies under the cover in part, the far one does not."""
    near, far = lying((150, 256), 0, d_px=64.0), lying((380, 400), 0, d_px=64.0)
    truth = truth_with([near, far], SIZE)
    mine = capsules.cells(truth.peaks, CELLS, CELLS)[0, 0]
    over = torch.zeros(1, SIZE, SIZE, dtype=torch.bool)
    for row, column in torch.nonzero(mine)[: round(part * int(mine.sum()))].tolist():
        rows, columns = (slice(k * CELL_PX, (k + 1) * CELL_PX) for k in (row, column))
        over[0, rows, columns] = True
    assert bool(over.any()) == (part > 0)
    monkeypatch.setattr(augment, "_over", lambda _rgb: over)
    monkeypatch.setattr(augment, "chosen", lambda _rgb, _chance: torch.tensor([0]))
    bank = torch.zeros(0, 3, SIZE, SIZE, dtype=torch.uint8)
    _, after = augment.cover(torch.zeros(1, 3, SIZE, SIZE), truth, bank)
    assert bool((after.faults[0, 0] == -1).all()) == unknown
    assert bool((after.faults[0, 0] == 0).all()) != unknown
    assert (after.faults[0, 1] == 0).all()
    assert (truth.faults[0, :2] == 0).all()  # what was given stays as it is


def opinions_on(says, has, **how):
    """Opinions after windows with one joint each: a log-odds for every fault, and its truth."""
    opinions = Opinions()
    for said, truth in zip(says, has, strict=True):
        crop = crop_with([lying((256, 256), 20)], [[truth] * OPINIONS], SIZE, **how)
        opinions.add(crop, torch.full((1, OPINIONS, CELLS, CELLS), float(said)))
    return opinions.figures()


def test_opinions_that_tell_all_joints_apart_have_an_area_of_one():
    figures = opinions_on([3, -1, 2, -4, 0.5, 8], [1, 0, 1, 0, 0, -1])
    assert set(figures) == {f.name.lower() for f in (*Fault, *Hindrance)}
    assert all(entry == [2, 3, 1.0] for entry in figures.values())
    worse = opinions_on([3, -1, -5, -4], [1, 0, 1, 0])  # a joint with it is below both without
    assert worse["hole"] == [2, 2, 0.5]


def test_opinions_that_are_always_the_same_have_an_area_of_a_half():
    assert opinions_on([-2] * 5, [1, 0, 1, 0, 0])["bridge"] == [2, 3, 0.5]
    assert opinions_on([2, -2], [0, 1])["bridge"] == [1, 1, 0.0]


def test_opinions_without_both_kinds_of_joints_have_no_figure():
    assert Opinions().figures() == {}
    assert opinions_on([1, 2], [1, 1]) == {}
    assert opinions_on([1, 2], [1, -1]) == {}
    assert opinions_on([2, -2], [1, 0], outside=SIZE // 2) == {}  # half lies beyond the scene


def test_opinions_listen_to_the_joints_own_cells_only():
    opinions = Opinions()
    for truth in (1, 0):
        crop = crop_with([lying((256, 256), 20)], [[truth] * OPINIONS], SIZE)
        local = torch.full((1, OPINIONS, CELLS, CELLS), 9.0 if truth == 0 else -9.0)
        mine = capsules.cells(torch.from_numpy(crop.peaks)[None], CELLS, CELLS)[0, 0]
        local[:, :, mine] = 1.0 if truth else -1.0
        opinions.add(crop, local)
    assert opinions.figures()["spike"] == [1, 1, 1.0]
