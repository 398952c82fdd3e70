"""Region maps, depths and truth against the geometry, found another way than by tracing rays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sample_images.studio import connector, mesh, part, render, sample, scene, truth, truth_shape
from sample_images.studio.plain_sight import only_seen
from sample_images.studio.view import looking
from sample_images.studio.wire_parts import StrandTruth

pytest.importorskip("mitsuba", reason="the extra 'studio' is not installed")

WIDTH, HEIGHT, FOCAL = 160, 120, 1500.0
DARK = 0.05  # radiance of a made field


def _stage(seed, defects=((),), *, look="train", far=150.0, high=0.8):
    rng = np.random.default_rng(seed)
    made = connector.make(rng, look, len(defects), defects, housed=True, on_bench=True)
    middle = (made.joints[0].end + made.joints[0].lip) / 2
    direction = np.array([0.15, np.sqrt(1 - high**2), high])
    camera = looking(
        middle + far * direction / np.linalg.norm(direction), middle, 0.4, FOCAL, WIDTH, HEIGHT
    )
    parts = [p for j in made.joints for p in j.parts] + list(made.parts)
    return made, parts, camera


def _traced(parts, camera):
    return render.render(parts, [{"type": "constant"}], camera, samples=1, seed=1)


def _splat(parts, camera, fine=4):
    """Labels and depths of a picture `fine` times as large, by points strewn over all triangles."""
    h, w = camera.height * fine, camera.width * fine
    depth, label = np.full(h * w, np.inf), np.zeros(h * w, np.uint8)
    for p in parts:
        xy, z = camera.project(p.vertices.astype(float))
        tri, tz = xy[p.faces], z[p.faces]
        longest = np.linalg.norm(tri - np.roll(tri, 1, axis=1), axis=2).max(axis=1) * fine
        steps = np.clip(np.ceil(longest / 0.7).astype(int), 1, 400)
        for n in np.unique(steps):
            i, j = np.mgrid[: n + 1, : n + 1]
            keep = i + j <= n
            a, b = i[keep] / n, j[keep] / n
            weight = np.stack([1 - a - b, a, b])
            t = tri[steps == n]
            at = np.einsum("fkc,kp->fpc", t, weight).reshape(-1, 2)
            deep = (tz[steps == n] @ weight).ravel()
            column, row = np.rint((at + 0.5) * fine - 0.5).astype(int).T
            ok = (column >= 0) & (row >= 0) & (column < w) & (row < h)
            pixel, deep = row[ok] * w + column[ok], deep[ok]
            order = np.argsort(-deep, kind="stable")  # the nearest is written last
            pixel, deep = pixel[order], deep[order]
            nearest = np.full(h * w, np.inf)
            nearest[pixel] = deep
            won = nearest < depth
            depth[won], label[won] = nearest[won], p.label
    return label.reshape(h, w), depth.reshape(h, w)


@pytest.mark.parametrize("seed", [11, 12])
def test_region_map_is_the_projection_of_the_meshes(seed):
    _, parts, camera = _stage(seed, (("lumpy",),))
    got = _traced(parts, camera)
    label, depth = _splat(parts, camera)
    blocks = label.reshape(HEIGHT, 4, WIDTH, 4).transpose(0, 2, 1, 3).reshape(HEIGHT, WIDTH, 16)
    deep = depth.reshape(HEIGHT, 4, WIDTH, 4).transpose(0, 2, 1, 3).reshape(HEIGHT, WIDTH, 16)
    padded = np.pad(blocks[..., 0], 1, mode="edge")
    around = np.stack([padded[y : y + HEIGHT, x : x + WIDTH] for y in range(3) for x in range(3)])
    clear = (blocks == blocks[..., :1]).all(axis=2) & (around == around[0]).all(axis=0)
    assert clear.mean() > 0.8  # the rest are edges, which a jittered ray may see either way
    wrong = (got.label != blocks[..., 0]) & clear
    assert wrong.sum() <= 0.002 * clear.sum()
    assert len(np.unique(got.label[clear])) >= 4
    solid = clear & (got.label > 0) & ~wrong
    steep = np.ptp(np.where(np.isfinite(deep), deep, 1e9), axis=2) < 0.1
    off = np.abs(got.depth - np.median(deep, axis=2))[solid & steep]
    assert np.quantile(off, 0.99) < 0.12  # mm; a wrong zero of the depth would be whole ones


def test_joint_numbers_and_marks_follow_the_faces():
    made, parts, camera = _stage(13, (("lumpy",), ()))
    got = _traced(parts, camera)
    assert set(np.unique(got.joint)) == {0, 1, 2}
    assert not (got.marks[got.label == part.HOUSING] & part.ROUGH).any()
    rough = got.marks & part.ROUGH > 0
    assert rough.sum() > 20
    assert set(np.unique(got.label[rough])) == {part.SOLDER}
    assert set(np.unique(got.joint[rough])) == {1}  # the other joint is sound
    assert (got.joint[got.label == part.INSULATION] > 0).all()
    assert made.joints[1].spec.rough == 0


def test_both_variants_of_the_renderer_see_the_same(monkeypatch):
    drjit = pytest.importorskip("drjit")
    if not drjit.has_backend(drjit.JitBackend.LLVM):
        pytest.skip("no LLVM library on this machine")
    _, parts, camera = _stage(14, (("stray",),))
    got = {}
    try:
        for variant in ("scalar_rgb", "llvm_ad_rgb"):
            monkeypatch.setenv("STUDIO_VARIANT", variant)
            render.mitsuba.cache_clear()
            got[variant] = _traced(parts, camera)
    finally:
        render.mitsuba.cache_clear()
    scalar, llvm = got["scalar_rgb"], got["llvm_ad_rgb"]
    # scalar rays are jittered within the pixel: edges differ, nothing else may
    padded = np.pad(llvm.label, 1, mode="edge")
    around = np.stack([padded[y : y + HEIGHT, x : x + WIDTH] for y in range(3) for x in range(3)])
    inner = (around == llvm.label).all(axis=0)
    assert (scalar.label != llvm.label)[inner].mean() < 0.004
    same = inner & (scalar.label == llvm.label)
    assert (scalar.joint == llvm.joint)[same].mean() > 0.999
    assert np.quantile(np.abs(scalar.depth - llvm.depth)[same & (llvm.label > 0)], 0.97) < 0.12


def _true(model, camera, parts, number=1):
    return truth.joint_truth(model, number, camera, _traced(parts, camera))


def test_truths_positions_and_lengths_are_projections():
    made, parts, camera = _stage(15, (("stray", "spike"),))
    model = made.joints[0]
    entry = _true(model, camera, parts)
    end, _ = camera.project(model.end)
    lip, depth = camera.project(model.lip)
    assert entry["end"] == pytest.approx(end)
    assert entry["lip"] == pytest.approx(lip)
    # by hand: a pinhole
    for point, got in ((model.end, entry["end"]), (model.lip, entry["lip"])):
        rel = point - camera.position
        z = rel @ camera.forward
        x = (WIDTH - 1) / 2 + FOCAL * (rel @ camera.right) / z
        y = (HEIGHT - 1) / 2 - FOCAL * (rel @ camera.up) / z
        assert got == pytest.approx([x, y])
    # along the axis, which perspective bends by a hair
    gap_px = entry["values"]["gap_D"] * entry["d_px"]
    assert gap_px == pytest.approx(np.linalg.norm(lip - end), rel=1e-3)
    assert entry["mm_per_px"] == pytest.approx(depth / FOCAL)
    for strand, shown in zip(model.strands, entry["strands"], strict=True):
        mm = np.diff(strand.path, axis=0)
        mm -= np.outer(mm @ camera.forward, camera.forward)  # what the picture plane shows
        flat = np.linalg.norm(mm, axis=1).sum()
        assert shown["length_mm"] == pytest.approx(flat, rel=0.03)
        assert 0 <= shown["visible_mm"] <= shown["length_mm"]


def _with_strand(path, *, bright=0.5, wall=None):
    """What joint_truth takes: a sound joint and a strand along `path`, seen from +z."""
    model = _stage(16)[0].joints[0]
    v, f = mesh.tube(path, 0.04, 6)
    strand = part.Part("strand 0", v.astype(np.float32), f, part.STRAND, model.spec.copper, joint=1)
    parts = [*model.parts, strand]
    camera = looking(np.array([0.0, 0, 160]), np.zeros(3), 0.0, FOCAL, WIDTH, HEIGHT)
    # a pixel's mean; no wall in it, so that lines of sight alone say what that hides
    fine = replace(camera, focal_px=3 * FOCAL, width=3 * WIDTH, height=3 * HEIGHT)
    lit = _traced(parts, fine).label.reshape(HEIGHT, 3, WIDTH, 3) == part.STRAND
    light = DARK + (bright - DARK) * lit.mean(axis=(1, 3), dtype=np.float32)
    if wall is not None:
        v, f = mesh.extrude(wall[:, 1:], float(wall[0, 0]), float(wall[-1, 0]), 0.05)
        parts.append(part.Part("wall", v.astype(np.float32), f, part.HOUSING, model.spec.metal))
    got = replace(_traced(parts, camera), radiance=np.repeat(light[..., None], 3, axis=2))
    return replace(model, strands=(StrandTruth(path, tinned=False),)), 1, camera, got


def _strand(length, z=4.0, start=3.0):
    t = np.linspace(0, length, 40)
    return np.column_stack([-1 + 0.2 * t, start + t, np.full(40, z)])


@pytest.mark.parametrize(("length", "state"), [(1.2, "bad"), (3.0, "bad"), (0.7, "near")])
def test_a_strand_in_the_open_shows_at_its_full_length(length, state):
    entry = truth.joint_truth(*_with_strand(_strand(length)))
    got = entry["strands"][0]
    assert got["visible_mm"] == pytest.approx(got["length_mm"], abs=0.06)
    assert got["length_mm"] == pytest.approx(length * np.hypot(1, 0.2), abs=0.02)
    assert entry["holds"]["stray-strand"] == state


def test_a_strand_behind_a_wall_is_not_seen():
    wall = np.array([[-2.5, 2, 6.0], [-2.5, 7, 6], [2.0, 7, 6.5], [2.0, 2, 6.5]])
    entry = truth.joint_truth(*_with_strand(_strand(2.0), wall=wall))
    assert entry["strands"][0]["visible_mm"] == 0
    assert entry["holds"]["stray-strand"] == "not-seen"


def test_a_strand_half_behind_a_wall_shows_half():
    wall = np.array([[-2.5, 4, 6.0], [-2.5, 8, 6], [2.0, 8, 6.5], [2.0, 4, 6.5]])
    entry = truth.joint_truth(*_with_strand(_strand(2.6), wall=wall))
    # the wall begins at y = 4 and stands 2 mm nearer, which perspective hardly shifts
    assert entry["strands"][0]["visible_mm"] == pytest.approx(1.0 * np.hypot(1, 0.2), abs=0.12)
    assert entry["holds"]["stray-strand"] in ("near", "bad")


def test_a_strand_in_the_light_of_what_lies_behind_it_is_not_seen():
    path = _strand(3.0, start=0.5)  # before the insulation, and beyond its edge
    model, number, camera, flat = _with_strand(path, bright=DARK)
    assert truth.joint_truth(model, number, camera, flat)["holds"]["stray-strand"] == "not-seen"
    was = flat.label == part.STRAND
    after, bare = only_seen(flat, (model,), camera), _traced(model.parts, camera)
    for field in ("label", "joint"):
        now, before, behind = (getattr(k, field) for k in (after, flat, bare))
        assert len(np.unique(behind[was])) > 1
        assert np.array_equal(now[~was], before[~was])
        assert (now == behind)[was].mean() > 0.8  # they are given to what is nearest
    assert not (after.label == part.STRAND).any()
    lit = _with_strand(path)[-1]
    lit.radiance[40:] = DARK
    kept = only_seen(lit, (model,), camera).label == part.STRAND
    assert np.array_equal(kept[:40], was[:40])
    assert was[50:].any()
    assert not kept[50:].any()  # up to half of a stretch more may count


def test_about_half_of_a_ring_shows_from_beside():
    made, parts, camera = _stage(17, high=0.3)
    ring = next(c for c in made.joints[0].lines if c.on == "conductor")
    buffers = _traced(parts, camera)
    slack = truth_shape.line_slack_mm(made.joints[0].spec.d_mm)
    share = truth_shape.seen(camera, buffers, ring.points, slack).mean()
    assert 0.2 < share < 0.8


@pytest.mark.parametrize("seed", [21, 22, 23])
def test_a_sound_joint_is_bad_in_nothing(seed):
    made, parts, camera = _stage(seed)
    holds = _true(made.joints[0], camera, parts)["holds"]
    assert "bad" not in holds.values(), holds
    assert holds["wetting"] == "sound"


def test_composed_scene_is_complete():
    ask = scene.Request(3, "train", "usable", 96, 72, 20.0, 1, (("stray",), ()), 2, plain=True)
    made = scene.compose(ask)
    assert made.label.shape == made.marks.shape == (72, 96)
    assert made.truth["size"] == [96, 72]
    assert [j["joint"] for j in made.truth["joints"]][:2] == [1, 2]
    assert made.truth["usable"]
    assert made.truth["unusable_because"] is None
    assert made.jpeg[:2] == b"\xff\xd8"
    for joint in made.truth["joints"]:
        assert set(joint["holds"].values()) <= {"sound", "near", "bad", "not-seen"}
        assert {p["check"] for p in joint["planted"]} <= set(joint["holds"])
    assert sample.WIRES[made.truth["joints"][0]["values"]["awg"]]
