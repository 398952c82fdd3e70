"""What is true of a rendered joint in this view, from its geometry and the region buffers.

Lengths and angles are as projected into the picture; what the view hides is listed apart.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial.distance import pdist

from . import part as pt
from .buffers import Buffers
from .joint import JointModel
from .joint_frame import line_slack_mm, seen
from .limits import clearness, faults
from .truth_shape import fillets, frame, in_frame, spikes, strands, wetting
from .view import Camera

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Place = list[float] | None
# What it takes to see the wire's end and the filling: ours, no source.
TIP_RIM = 0.75  # of the bundle's radius: the rim of its rounded end
RIM, RIM_SHARE = 72, 0.25  # points round it, and the share of them that shows an end
SLIT_D = 0.05  # half the width of the narrowest part of an opening that shows its filling
FILM_MM = 0.12  # solder through which the strands' shape still shows
EXCESS_D = 0.03  # outside the outline from here on: whether it shows is asked
OUTSIDE = ("fillet", "pool", "blob", "collar")  # solder that may stand out


def _share_near(buffers: Buffers, xy: Array, radius: float, joint: int) -> float:
    """Share of pixels within `radius` of xy that belong to the joint; 0 outside the frame."""
    h, w = buffers.label.shape
    x, y = xy
    if not (0 <= x < w and 0 <= y < h):
        return 0.0
    r = max(1, round(radius))
    rows = slice(max(0, int(y) - r), int(y) + r + 1)
    columns = slice(max(0, int(x) - r), int(x) + r + 1)
    mine = (buffers.joint[rows, columns] == joint) & (buffers.label[rows, columns] != pt.SLEEVE)
    return float(mine.mean())


class _Areas:
    """Measures of one joint's pixels in the region buffers."""

    def __init__(self, buffers: Buffers, joint: int, d_px: float) -> None:
        self.buffers, self.d_px = buffers, d_px
        self.own = buffers.joint == joint
        self.solder = self.own & (buffers.label == pt.SOLDER)
        self.mouth = self.marked(pt.MOUTH)

    def marked(self, bit: int, label: int | None = None) -> Mask:
        """The joint's pixels with a mark, of one label if given."""
        m = self.own & (self.buffers.marks & bit > 0)
        return m if label is None else m & (self.buffers.label == label)

    def fill(self) -> float | None:
        """Filled share of the opening where no bare wire hides it; None if it hardly shows."""
        opening = self.mouth & (self.buffers.label != pt.CONDUCTOR)
        slit = max(1, round(SLIT_D * self.d_px))  # into a slit nobody can see how deep it is
        disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * slit + 1, 2 * slit + 1))
        wide = cv2.morphologyEx(opening.astype(np.uint8), cv2.MORPH_OPEN, disc)
        if wide.sum() <= 0.02 * self.d_px**2:
            return None
        return float(1 - (opening & self.marked(pt.SHORT)).sum() / opening.sum())

    def share(self, bit: int) -> float:
        """Share of the visible solder with a mark."""
        return float((self.solder & self.marked(bit)).sum() / max(self.solder.sum(), 1))

    def side_d(self, bit: int) -> float:
        """Side (D) of a square of a mark's visible area."""
        return float(np.sqrt(self.marked(bit).sum()) / self.d_px)

    def extent(self, bit: int, label: int | None = None) -> tuple[float, Place]:
        """Greatest distance (D) across a mark's largest visible area, and its middle."""
        areas, count = ndimage.label(self.marked(bit, label), np.ones((3, 3)))
        best, where = 0.0, None
        for k, box in enumerate(ndimage.find_objects(areas, count), 1):
            y, x = np.nonzero(areas[box] == k)
            if len(x) < 3:
                continue
            corners = cv2.convexHull(np.stack([x, y], axis=1).astype(np.float32)).reshape(-1, 2)
            size = float(pdist(corners).max() / self.d_px)
            if size > best:
                best = size
                where = [float(x.mean() + box[1].start), float(y.mean() + box[0].start)]
        return best, where


def _tip_shows(model: JointModel, camera: Camera, buffers: Buffers) -> bool:
    """Whether the rim of the conductor's end is seen, not only the solder above it."""
    axis = model.axis / np.linalg.norm(model.axis)
    aside = np.cross(axis, [0.3, 0.5, 0.8])
    aside /= np.linalg.norm(aside)
    turn = np.linspace(0, 2 * np.pi, RIM, endpoint=False)[:, None]
    radius = TIP_RIM * model.spec.core_mm
    rim = model.toe + radius * (np.cos(turn) * aside + np.sin(turn) * np.cross(axis, aside))
    return bool(seen(camera, buffers, rim, FILM_MM).mean() >= RIM_SHARE)


def _excess_d(
    model: JointModel, camera: Camera, buffers: Buffers, d_px: float
) -> tuple[float, bool]:
    """How far solder that the camera sees stands outside the terminal's outline, D; if more hides.

    Beside the terminal's axis, not the wire's: a wire that comes in at an angle is no excess.
    """
    solid = [p.vertices for p in model.parts if p.label == pt.SOLDER and p.name in OUTSIDE]
    if not solid:
        return 0.0, False
    points = np.concatenate(solid).astype(float)
    beside = model.lip + ((points - model.lip) @ model.deep)[:, None] * model.deep
    (start, ahead), _ = camera.project(np.stack([model.lip, model.lip + model.deep]))
    way = (ahead - start) / (np.linalg.norm(ahead - start) + 1e-9)
    across = np.abs((camera.project(points)[0] - start) @ np.array([-way[1], way[0]]))
    own = model.spec.cup.outer * camera.focal_px / camera.project(beside)[1]
    out = (across - own) / d_px
    stands = out > EXCESS_D
    if stands.any():
        stands[stands] = seen(camera, buffers, points[stands], line_slack_mm(model.spec.d_mm))
    hidden = (out > EXCESS_D) & ~stands
    farther = out[stands].max(initial=0.0) + EXCESS_D  # the back of a bead that shows is no news
    return float(out[~hidden].max(initial=0.0)), bool((out[hidden] > farther).any())


def joint_truth(model: JointModel, number: int, camera: Camera, buffers: Buffers) -> dict[str, Any]:
    """The entry of one joint in a scene's JSON; positions in pixels of this picture."""
    spec = model.spec
    end, axis, d_px = frame(model, camera)
    lip, lip_depth = camera.project(model.lip)
    toe, _ = camera.project(model.toe)
    areas = _Areas(buffers, number, d_px)
    ys, xs = np.nonzero(areas.own)
    axis3 = model.axis / np.linalg.norm(model.axis)
    to_lip = (model.lip - camera.position) / np.linalg.norm(model.lip - camera.position)
    tilt = float(np.degrees(np.arcsin(np.clip(abs(axis3 @ to_lip), 0, 1))))

    def near(xy: Array, radius_d: float, least: float) -> bool:
        return _share_near(buffers, xy, radius_d * d_px, number) > least

    where: dict[str, Place] = {}
    values: dict[str, Any] = {
        "gap_D": float((lip - end) @ axis / d_px), "gap_true_mm": spec.gap_mm, "awg": spec.awg,
        "fill": areas.fill() if spec.supply else 0.0,  # that nobody soldered shows from every side
    }  # fmt: skip
    wet, where["wetting"] = wetting(model, camera, buffers)
    values |= wet
    values["fillet"] = fillets(model, camera)
    values["excess_D"], values["excess_hidden"] = _excess_d(model, camera, buffers, d_px)
    values["surplus_share"] = areas.share(pt.SURPLUS)
    values["hidden_contour"] = bool(spec.dome_mm > 0)
    values["spike_mm"], values["spike_hidden"], where["spike"] = spikes(model, camera, buffers)
    cage = [p for p in model.parts if p.name == "birdcage"]
    values["birdcage_D"] = 2 * spec.core_mm / spec.d_mm
    if cage:
        values["birdcage_D"] = float(np.ptp(in_frame(model, camera, cage[0].vertices)[:, 1]))
    # a share of the opening, which ends before the cup does: what a picture can show
    values["seating"] = min(1.0, spec.seat / spec.cup.reach)
    covered = spec.cover and spec.supply and spec.dome_mm > 0
    values["seating_visible"] = bool(
        near(toe, 0.1, 0.5)
        and _tip_shows(model, camera, buffers)
        and areas.mouth.any()
        and not covered
        and spec.cup.cut != "closed"
    )
    values["rough_share"], values["rough_size"] = areas.share(pt.ROUGH), spec.rough
    values["rough_D"] = areas.side_d(pt.ROUGH)
    values["hole_D"], hole_at = areas.extent(pt.HOLE)
    values["hole_hidden"] = bool(spec.holes) and values["hole_D"] == 0.0
    values["char_D"], where["insulation-damage"] = areas.extent(pt.CHAR, pt.INSULATION)
    values["char_kind"] = spec.char_kind if spec.char_d > 0 else None
    values["ragged_D"] = spec.ragged_mm / spec.d_mm
    values["embed_D"], where["insulation-gap"] = areas.extent(pt.EMBED)
    values["embed_area_D2"] = areas.side_d(pt.EMBED) ** 2
    values["surplus_area_D2"] = areas.side_d(pt.SURPLUS) ** 2
    values["bridge_D"], where["bridge"] = areas.extent(pt.BRIDGE)
    where["surface"] = hole_at or areas.extent(pt.ROUGH)[1]
    where["excess-solder"] = areas.extent(pt.SURPLUS)[1]
    where["solder-fill"] = areas.extent(pt.SHORT)[1]
    stray, where["stray-strand"] = strands(model, camera, buffers)
    truth = {
        "joint": number, "kind": "cup", "wire": f"{spec.awg} AWG", "d_mm": spec.d_mm,
        "end": end.tolist(), "end_visible": near(end, 0.25, 0.3),
        "lip": lip.tolist(), "lip_visible": near(lip, 0.25, 0.3),
        "more_ends": [
            p.tolist() for p, _ in map(camera.project, model.more_ends) if near(p, 0.25, 0.3)
        ],
        "toe": toe.tolist() if values["seating_visible"] else None,
        "axis": axis.tolist(), "d_px": d_px,
        "mm_per_px": float(lip_depth / camera.focal_px), "tilt_deg": tilt,
        "box": [int(xs.min()), int(ys.min()), int(xs.max()), int(ys.max())] if len(xs) else None,
        "values": values, "strands": stray,
    }  # fmt: skip
    holds = clearness(truth)
    truth["holds"] = holds
    truth["faults"] = faults(truth)
    truth["planted"] = [
        {
            "check": p.check, "name": p.name, "size": p.size,
            "where": where.get(p.check) or lip.tolist(),
            "visible": holds[p.check] in ("near", "bad"),
        }
        for p in spec.planted
    ]  # fmt: skip
    return truth
