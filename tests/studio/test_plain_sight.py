"""Marks that nobody could see are taken off, and truth calls what they stood for not seen."""

from __future__ import annotations

import numpy as np
import pytest

from made_results import VALUES
from sample_images.studio import part as pt
from sample_images.studio.buffers import Buffers
from sample_images.studio.limits import clearness
from sample_images.studio.plain_sight import only_seen

AREA = np.s_[20:26, 30:36]


def buffers(label, bit, inside, outside):
    """A field of one region with a marked square in it; radiances as given."""
    shape = (60, 80)
    light = np.broadcast_to(np.float32(outside), (*shape, 3)).copy()
    light[AREA] = inside
    marks = np.full(shape, pt.ROUGH, np.uint16)
    marks[AREA] |= bit
    return Buffers(
        light, np.full(shape, label, np.uint8), marks, np.ones(shape, np.uint8),
        np.full(shape, 100, np.float32),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("label", "bit", "inside", "outside", "stays"),
    [
        (pt.SOLDER, pt.HOLE, 0.02, 0.4, True),
        (pt.SOLDER, pt.HOLE, 0.40, 0.4, False),
        (pt.SOLDER, pt.HOLE, 0.34, 0.4, False),
        (pt.INSULATION, pt.CHAR, (0.01, 0.01, 0.01), (0.5, 0.02, 0.02), True),
        (pt.INSULATION, pt.CHAR, (0.012, 0.01, 0.01), (0.014, 0.012, 0.012), False),
        (pt.SOLDER, pt.CHAR, 0.40, 0.4, True),  # not what the mark is about: left alone
    ],
)
def test_a_mark_stays_where_its_light_differs(label, bit, inside, outside, stays):
    before = buffers(label, bit, inside, outside)
    after = only_seen(before, (), None)
    assert bool((after.marks & bit > 0).any()) is stays
    assert np.array_equal(after.marks & pt.ROUGH, before.marks & pt.ROUGH)


def test_a_mark_of_a_few_pixels_is_no_mark():
    made = buffers(pt.SOLDER, pt.HOLE, 0.02, 0.4)
    tiny = made.marks & ~np.uint16(pt.HOLE)
    tiny[20, 30:33] |= pt.HOLE
    made = Buffers(made.radiance, made.label, tiny, made.joint, made.depth)
    assert not (only_seen(made, (), None).marks & pt.HOLE).any()


@pytest.mark.parametrize(
    ("check", "hidden", "worse"),
    [
        ("surface", {"hole_hidden": True}, {"rough_share": 0.9, "rough_size": 1.0, "rough_D": 0.4}),
        ("insulation-damage", {"char_kind": "burnt"}, {"ragged_D": 0.5}),
        ("excess-solder", {"excess_hidden": True}, {"excess_D": 0.2}),
    ],
)
def test_what_is_hidden_is_not_seen_unless_something_else_is_wrong(check, hidden, worse):
    def of(**values):
        truth = {"values": {**VALUES, **values}, "d_mm": 4.0, "strands": []}
        return clearness(truth)[check]

    assert of() == "sound"
    assert of(**hidden) == "not-seen"
    assert of(**hidden, **worse) == "bad"
