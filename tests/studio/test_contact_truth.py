"""Contact lines that count, the wetted share and the dry mark, against lines drawn by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from made_results import VALUES
from sample_images.studio import connector, contact_truth as ct, part as pt
from sample_images.studio.buffers import Buffers
from sample_images.studio.limits import clearness
from sample_images.studio.solder_mouth import mouth_fillet
from sample_images.studio.solder_surfaces import ContactLine
from sample_images.studio.view import looking

WIDTH, HEIGHT, FOCAL, FAR = 400, 720, 8000.0, 100.0
SHADOW_PX = 5


def _model():
    made = connector.make(np.random.default_rng(4), "train", 1, ((),), housed=False, on_bench=True)
    return made.joints[0]


def _scene(wet, *, solder=True, other=pt.CONDUCTOR, sight=None, seam=True):
    """A straight contact line along y at x = 0: solder to its right, other metal to its left.

    Everything lies in the plane z = 0 and is seen from straight above. A seam is a dark line there.
    """
    model = _model()
    y = np.linspace(-4, 4, len(wet))
    line = ContactLine(np.column_stack([0 * y, y, 0 * y]), np.asarray(wet), "conductor")
    sheet = np.array([(u, v, 0.0) for u in (0.0, 1.0) for v in np.linspace(-4, 4, 60)], np.float32)
    body = replace(
        model.parts[0], name="pool" if solder else "cup", vertices=sheet, label=pt.SOLDER, joint=1
    )
    model = replace(
        model, parts=(body,), lines=(line,), lip=np.zeros(3), end=np.array([-3.0, 0, 0])
    )
    camera = looking(np.array([0.0, 0, FAR]), np.zeros(3), 0.0, FOCAL, WIDTH, HEIGHT)
    middle = camera.project(np.zeros(3))[0][0]
    right = camera.project(np.array([1.0, 0, 0]))[0][0] > middle
    on_solder = (np.arange(WIDTH) > middle) == right
    label = np.where(on_solder if solder else False, pt.SOLDER, other).astype(np.uint8)
    label = np.broadcast_to(label, (HEIGHT, WIDTH)).copy()
    flat = np.ones(label.shape)
    light = np.full((*label.shape, 3), 0.4, np.float32)
    light[:, np.abs(np.arange(WIDTH) - middle) <= SHADOW_PX] = 0.05 if seam else 0.4
    buffers = Buffers(
        light, label, np.zeros(label.shape, np.uint16),
        flat.astype(np.uint8), (FAR * flat).astype(np.float32),
        *([] if sight is None else [sight]),
    )  # fmt: skip
    return model, camera, buffers


def _dry(share, count=100):
    return np.arange(count) >= share * count


@pytest.mark.parametrize("share", [0.0, 0.3, 1.0])
def test_wetted_share_of_a_straight_line(share):
    model, camera, buffers = _scene(_dry(share))
    values, where = ct.wetting(model, camera, buffers)
    assert values["wetted"] == pytest.approx(1 - share, abs=0.02)
    diameters = 8 * share / (2 * model.spec.core_mm)
    assert values["dry_stretch_conductor_diameters"] == pytest.approx(diameters, rel=0.04, abs=0.02)
    assert (where is None) == (share == 0)


def test_the_mark_is_a_band_along_the_dry_stretch():
    model, camera, buffers = _scene(_dry(0.5))
    d_px = model.spec.d_mm * FOCAL / FAR
    marked = ct.mark_dry(buffers, [model], camera).marks & pt.DRY > 0
    long_px = 4 * FOCAL / FAR
    wide_px = 2 * ct.BAND_D * d_px
    round_end = 0.5 * np.pi * (ct.BAND_D * d_px) ** 2
    assert marked.sum() == pytest.approx(long_px * wide_px + 2 * round_end, rel=0.12)
    both = [(marked & (buffers.label == k)).sum() for k in (pt.SOLDER, pt.CONDUCTOR)]
    assert min(both) > 0.4 * marked.sum()  # on either side


def test_a_wet_line_has_no_mark():
    model, camera, buffers = _scene(_dry(0.0))
    assert not ct.mark_dry(buffers, [model], camera).marks.any()


def test_a_line_without_solder_is_no_contact_line():
    model, camera, buffers = _scene(_dry(1.0), solder=False)
    assert ct.wetting(model, camera, buffers)[0]["wetted"] is None
    assert not ct.mark_dry(buffers, [model], camera).marks.any()


def test_wetted_solder_on_tinned_strands_has_no_line_to_judge():
    model, camera, buffers = _scene(_dry(0.0), other=pt.SOLDER)
    assert ct.wetting(model, camera, buffers)[0]["wetted"] is None


def test_what_is_hidden_counts_neither_way_and_is_not_marked():
    model, camera, buffers = _scene(_dry(0.5), sight=lambda p, _: p[:, 1] > 2)  # wet there
    assert ct.wetting(model, camera, buffers)[0]["wetted"] == pytest.approx(1.0)
    assert not ct.mark_dry(buffers, [model], camera).marks.any()


def test_solder_that_stops_short_inside_has_no_line_at_the_lip():
    spec = _model().spec
    half = replace(spec.cup, cut="half", width_deg=90.0)
    assert mouth_fillet(replace(spec, cup=half, level=0.3), 1) is None
    assert mouth_fillet(replace(spec, cup=half, fill_from=0.4), 1) is None
    closed = replace(spec.cup, cut="closed", width_deg=0.0)
    assert mouth_fillet(replace(spec, cup=closed, recess_mm=0.8), 1) is None
    full = mouth_fillet(replace(spec, cup=closed, recess_mm=0.0), 1)
    assert full is not None
    assert {line.on for line in full[1]} == {"conductor", "cup"}


def test_a_dry_line_without_a_seam_is_neither_wet_nor_dry():
    model, camera, buffers = _scene(_dry(0.5), seam=False)
    values, where = ct.wetting(model, camera, buffers)
    assert values["wetted"] == 1.0
    assert where is None
    assert not (ct.mark_dry(buffers, [model], camera).marks & pt.DRY).any()
    diameters = 4 / (2 * model.spec.core_mm)
    assert values["dry_hidden"] == pytest.approx(diameters, rel=0.05)
    truth = {"values": {**VALUES, **values}, "d_mm": model.spec.d_mm, "strands": []}
    assert clearness(truth)["wetting"] == "not-seen"
    truth["values"]["dry_hidden"] = 0.0
    assert clearness(truth)["wetting"] == "sound"


@pytest.mark.parametrize(("gap_px", "told"), [(0, True), (20, True), (150, False)])
def test_a_loose_bead_is_dry_along_the_wall_that_shows_beside_it(gap_px, told):
    model, camera, buffers = _scene([True] * 100, other=pt.TERMINAL)
    model = replace(model, lines=(), spec=replace(model.spec, bead=0.5))
    solder = buffers.label == pt.SOLDER
    columns = np.flatnonzero(~solder[0])
    side = 1 if columns[0] == 0 else -1  # of the wall: left or right of the bead
    nearest = columns[-gap_px:] if side > 0 else columns[:gap_px]
    label = buffers.label.copy()
    if gap_px:
        label[:, nearest] = 0
    buffers = replace(buffers, label=label, marks=np.where(solder, pt.MOUTH, 0).astype(np.uint16))
    edge = ct.bead_edge(model, buffers, d_px=ct.frame(model, camera)[2])
    assert edge.any() == told
    values, _ = ct.wetting(model, camera, buffers)
    assert values["wetted"] == (0.0 if told else None)
    marked = ct.mark_dry(buffers, [model], camera).marks & pt.DRY > 0
    assert marked.any() == told
    if told:
        assert edge.sum() == pytest.approx(HEIGHT, rel=0.02)
        # the mark lies along the bead's own edge
        assert np.ptp(np.nonzero(marked & solder)[1]) < 2 * ct.BAND_D * ct.frame(model, camera)[2]
