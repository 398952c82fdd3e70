"""Callouts lie inside the frame and off the joints; all evidence and nothing else is drawn."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

import scenes
from inspector import framing, overlay, panel, strokes
from inspector.model import Evidence, Finding, Measurement, Outcome, Quantity, Verdict
from inspector.placing import GRID_PX, Box, Obstacles, Wish, place
from inspector.problems import problem_finding
from inspector.report import reasons

PAIR = {"size": (2000, 1500), "centres": ((900, 700), (900, 1000)), "d_px": 100}


def close_view(inspection, scale=1.0):
    high, wide = inspection.photo.rgb.shape[:2]
    window = framing.Window(Box(0, 0, wide, high), scale)
    numbers = {(f.joint, f.check): n for n, f in enumerate(reasons(inspection), start=1)}
    results = list(inspection.results)
    return window, *panel.draw_close(inspection.photo.rgb, window, results, numbers)


@pytest.mark.parametrize("scene", [{}, PAIR], ids=["one", "pair"])
def test_callouts_are_in_the_frame_and_off_the_joints_and_each_other(scene):
    inspection = scenes.inspection(**scene)
    window, canvas, places = close_view(inspection, 0.6)
    assert len(places) >= 3 * len(inspection.results)
    high, wide = canvas.shape[:2]
    for k, here in enumerate(places):
        box = here.box
        assert box.x0 >= 0
        assert box.y0 >= 0
        assert box.x1 <= wide
        assert box.y1 <= high
        for result in inspection.results:
            corners = np.array(result.joint.box).reshape(2, 2)
            assert box.overlap(Box(*window.to_panel(corners).ravel())) == 0
        for other in places[k + 1 :]:
            assert box.overlap(other.box) == 0


def test_a_place_is_found_even_where_the_joint_fills_the_frame():
    full = Obstacles.of(np.ones((40, 60), bool), np.zeros((40, 60), bool))
    frame = (60 * GRID_PX, 40 * GRID_PX)
    wishes = [Wish((120, 50), np.array([[180.0, 120.0]])), Wish((9000, 50), np.zeros((1, 2)))]
    first, second = place(wishes, full, frame)
    assert first.box.x1 <= frame[0]
    assert second.box.x0 == 0


def test_leaders_end_on_the_evidence_that_they_name():
    points = np.array([[50.0, 50.0], [300.0, 200.0]])
    clear = np.zeros((50, 80), bool)
    found = place([Wish((80, 40), points)], Obstacles.of(clear, clear), (480, 300))
    assert found[0].tip in [tuple(p) for p in points]


def test_the_evidence_is_drawn_where_it_is():
    inspection = scenes.inspection()
    _, canvas, _ = close_view(inspection)
    plain = inspection.photo.rgb
    strand = inspection.results[0].findings[1].measured[0].evidence[0].points
    x, y = np.round(strand[:2].mean(axis=0)).astype(int)  # between the ends: a leader has a dot
    colour = strokes.STYLES[Outcome.REWORK].colour
    assert tuple(canvas[y, x]) == colour
    assert tuple(plain[y, x]) != colour
    corner = canvas[-200:, -200:]
    assert (corner == plain[-200:, -200:]).all()  # nothing is drawn where there is no evidence


def lost(inspection):
    """The same with its last joint seen in the whole photo only."""
    *others, last = inspection.results
    missing = problem_finding("lost", last.joint.number)
    gone = replace(last, findings=(missing,), verdict=Verdict.RETAKE)
    return replace(inspection, results=(*others, gone))


def test_a_joint_that_was_not_judged_is_boxed_and_named():
    inspection = lost(scenes.inspection(**PAIR))
    high, wide = inspection.photo.rgb.shape[:2]
    window = framing.Window(Box(0, 0, wide, high), 0.6)
    only = list(inspection.results[1:])
    canvas, places = panel.draw_close(inspection.photo.rgb, window, only, {(2, "unsure"): 7})[:2]
    assert len(places) == 1
    x0, y0, x1, y1 = np.array(only[0].joint.box) * 0.6
    yellow = (canvas == strokes.YELLOW).all(axis=2)
    around = yellow[round(y0) - 20 : round(y1) + 20, round(x0) - 20 : round(x1) + 20]
    assert around[:20].any()
    assert around[-20:].any()
    assert around[:, :20].any()
    assert around[:, -20:].any()
    middle = yellow[round((y0 + y1) / 2) - 20 : round((y0 + y1) / 2) + 20]
    assert middle[:, round((x0 + x1) / 2) - 15 : round((x0 + x1) / 2) + 15].any()  # the mark
    along = yellow[round(y0) - 20 : round(y0) + 5, round(x0) : round(x1)].any(axis=0)
    assert 0.2 < along.mean() < 0.9  # dashed


def test_judged_joints_get_no_question_mark():
    assert not any(panel.unjudged(result) for result in scenes.inspection(**PAIR).results)
    assert [panel.unjudged(r) for r in lost(scenes.inspection(**PAIR)).results] == [False, True]


def test_a_lost_joint_is_framed_in_the_overview_too():
    inspection = lost(scenes.inspection(**PAIR))
    rgb, results = inspection.photo.rgb, inspection.results
    window = framing.Window(Box(0, 0, rgb.shape[1], rgb.shape[0]), 0.5)
    with_both = panel.draw_overview(rgb, window, results)
    without = panel.draw_overview(rgb, window, results[:1])
    x0, y0, x1, y1 = (int(v / 2) for v in results[1].joint.box)
    here = np.s_[y0 - 15 : y1 + 15, x0 - 15 : x1 + 15]
    yellow = [(c[here] == strokes.YELLOW).all(axis=2).sum() for c in (with_both, without)]
    assert yellow[0] > 200 > yellow[1]


def test_window_maps_pixel_centres():
    window = framing.Window(Box(100, 50, 300, 250), 2.0)
    assert window.size == (400, 400)
    assert window.to_panel(np.array([[100.0, 50.0]])).tolist() == [[0.5, 0.5]]
    assert window.to_panel(np.array([[99.5, 49.5]])).tolist() == [[-0.5, -0.5]]


def test_outcomes_differ_without_colour():
    seen = {(s.thick_px, s.dash_px, s.badge) for s in strokes.STYLES.values()}
    assert len(seen) == len(strokes.STYLES)


def test_verdicts_differ_in_greyscale():
    banners = []
    for verdict in Verdict:
        picture = overlay.draw(scenes.inspection(verdict=verdict))
        assert picture.shape[1] == overlay.WIDE_PX
        banners.append(cv2.cvtColor(picture[:128, :136], cv2.COLOR_RGB2GRAY).astype(float))
    for one, other in ((0, 1), (1, 2), (0, 2)):
        signs = [b > b[4, 4] + 60 for b in (banners[one], banners[other])]
        assert (signs[0] != signs[1]).mean() > 0.02


def test_lettering_is_legible_at_phone_size():
    assert min(panel.LABEL_PX, panel.VALUE_PX) * 360 / overlay.WIDE_PX >= 10


@pytest.mark.parametrize(
    "scene",
    [
        {"centres": ()},
        {"size": (3000, 4000), "centres": ((1500, 700), (900, 3000)), "d_px": 70},
        {"size": (300, 64), "centres": ((150, 30),), "d_px": 20},
        {"size": (64, 900), "centres": ((30, 300),), "d_px": 10},
        {"size": (1200, 900), "centres": ((2 * 90, 40), (1100, 880))},
    ],
    ids=["no joint", "far apart", "wide strip", "tall strip", "at the edges"],
)
def test_any_shape_of_photo_gets_a_picture(scene):
    picture = overlay.draw(scenes.inspection(**scene))
    assert picture.shape[1] == overlay.WIDE_PX
    back = cv2.imdecode(np.frombuffer(overlay.encode_jpeg(picture), np.uint8), cv2.IMREAD_COLOR)
    assert back.shape == picture.shape
    assert np.abs(back[..., ::-1].astype(int) - picture).mean() < 6


def test_region_maps_are_saved_without_loss():
    labels = np.random.default_rng(0).integers(0, 8, (70, 90), np.uint8)
    data = np.frombuffer(overlay.encode_png(labels), np.uint8)
    assert (cv2.imdecode(data, cv2.IMREAD_UNCHANGED) == labels).all()


def test_degenerate_evidence_draws_nothing_and_breaks_nothing():
    canvas = np.zeros((50, 50, 3), np.uint8)
    style = strokes.STYLES[Outcome.DOUBT]
    strokes.stroke(canvas, np.array([[5.0, 5.0]]), style)
    assert canvas.max() == 0
    strokes.dimension(canvas, np.array([[20.0, 20.0], [20.0, 20.0]]), style)
    strokes.stroke(canvas, np.array([[5.0, 5.0], [5.0, 5.0]]), style, closed=True)


def test_long_words_are_wrapped_to_the_width():
    lines = strokes.wrap("The gap is ≤ 2 D and " * 9, 32, 400)
    assert len(lines) > 3
    assert all(strokes.text_width(line, 32) <= 400 for line in lines)
    assert "<=" in " ".join(lines)


def test_evidence_of_lists_every_shape():
    found = framing.evidence_of(list(scenes.inspection().results))
    assert [e.shape for e in found] == ["dimension", "line", "outline"]
    assert all(isinstance(e, Evidence) for e in found)


def test_metal_between_two_joints_is_named_on_each_ones_own_side():
    clear = np.zeros((100, 200), bool)
    between = np.array([[560.0, 300.0], [640.0, 300.0]])
    homes = ((450.0, 300.0), (750.0, 300.0))
    wishes = [Wish((120.0, 50.0), between, home) for home in homes]
    left, right = place(wishes, Obstacles.of(clear, clear), (1200, 600))
    assert left.box.x1 < 600 < right.box.x0
    right, left = place(wishes[::-1], Obstacles.of(clear, clear), (1200, 600))
    assert left.box.x1 < 600 < right.box.x0


def spaced(joint, ends):
    """The distance to the next pole as this joint has it, from one end to the other."""
    item = Measurement(
        "spacing", Quantity(150.0, 5.0, "%"), (Evidence("dimension", np.array(ends)),)
    )
    return Finding("bridge", Outcome.FINE, "text", "", measured=(item,), joint=joint)


@pytest.mark.parametrize(
    ("other", "labels"),
    [
        ([[312.0, 300.0], [300.0, 198.0]], 1),  # the same space, from the other pole
        ([[290.0, 205.0], [310.0, 310.0]], 1),
        ([[300.0, 320.0], [300.0, 420.0]], 2),  # the next space
        ([[340.0, 200.0], [340.0, 300.0]], 2),
    ],
)
def test_the_space_between_two_poles_is_labelled_once(other, labels):
    window = framing.Window(Box(0, 0, 600, 600), 1.0)
    canvas = np.zeros((600, 600, 3), np.uint8)
    named, found = [], []
    for joint, ends in ((1, [[300.0, 200.0], [300.0, 300.0]]), (2, other)):
        found += panel._draw_finding(canvas, window, spaced(joint, ends), None, named)
    assert len(found) == labels


def test_leaders_part_where_a_later_label_would_cross_an_earlier_one():
    clear = np.zeros((100, 200), bool)
    points = [np.array([[600.0 + 40 * k, 300.0]]) for k in range(6)]
    found = place([Wish((120.0, 50.0), p) for p in points], Obstacles.of(clear, clear), (1200, 600))
    ends = [(np.array(p.box.nearest(*p.tip)), np.array(p.tip)) for p in found]
    for k, (a, b) in enumerate(ends):
        for c, d in ends[k + 1 :]:
            turn = np.linalg.solve(np.column_stack([b - a, c - d]) + 1e-9 * np.eye(2), c - a)
            assert not ((turn > 1e-6) & (turn < 1 - 1e-6)).all()


@pytest.mark.parametrize(
    ("check", "name", "unit", "outcome", "said"),
    [
        ("insulation-gap", "gap", "D", Outcome.FINE, "insulation gap 0.50 ± 0.10 D"),
        ("insulation-gap", "gap", "D", Outcome.DOUBT, "insulation gap 0.50 ± 0.10 D"),
        ("birdcage", "width", "D", Outcome.FINE, "no birdcage: width 0.50 ± 0.10 D"),
        ("birdcage", "width", "D", Outcome.DOUBT, "birdcage width 0.50 ± 0.10 D"),
        ("bridge", "spacing", "%", Outcome.FINE, "no bridge: spacing 0.50 ± 0.10 %"),
    ],
)
def test_a_value_in_the_picture_says_what_it_is_of_and_alarms_nobody(
    check, name, unit, outcome, said
):
    line = Evidence("dimension", np.array([[20.0, 20.0], [60.0, 20.0]]))
    item = Measurement(name, Quantity(0.5, 0.05, unit), (line,))
    finding = Finding(check, outcome, "It is so.", "", 1, measured=(item,))
    window = framing.Window(Box(0, 0, 200, 100), 1.0)
    canvas = np.zeros((100, 200, 3), np.uint8)
    (label,) = panel._draw_finding(canvas, window, finding, None, [])
    assert label.words == said
