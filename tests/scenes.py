"""Small made-up inspections for tests of what comes after the checks."""

from __future__ import annotations

import io
from dataclasses import replace

import cv2
import numpy as np
from rich.console import Console

from inspector.model import (
    Evidence,
    Finding,
    Inspection,
    Job,
    Joint,
    JointResult,
    Limit,
    Mark,
    Measurement,
    NotMeasured,
    Outcome,
    Patch,
    Quantity,
    Region,
    Scale,
    Verdict,
)
from inspector.photo import make_photo
from inspector.table import print_inspection

GAP = Limit(
    "gap", "max", 2.0, "D", "NASA-STD-8739.3 9.1", "seen", "The gap is {value}.", "Strip shorter."
)
LENGTH = Limit("length", "max", 0.5, "mm", "house", "house", "A strand is out.", "Trim it.")


def picture(size, centres, d_px):
    """A desk with drawn joints: wire from the left, cup to the right of each centre."""
    wide, high = size
    rng = np.random.default_rng(3)
    rgb = np.full((high, wide, 3), (150, 140, 120), np.uint8)
    labels = np.zeros((high, wide), np.uint8)
    for x, y in centres:
        h = d_px // 2
        for region, x0, x1, half, colour in (
            (Region.INSULATION, x - 4 * d_px, x - d_px, h, (180, 30, 30)),
            (Region.CONDUCTOR, x - d_px, x, h * 0.6, (190, 120, 80)),
            (Region.SOLDER, x, x + d_px, h * 0.6, (200, 200, 205)),
            (Region.TERMINAL, x + d_px, x + 3 * d_px, h, (210, 170, 60)),
        ):
            cv2.rectangle(rgb, (int(x0), int(y - half)), (int(x1), int(y + half)), colour, -1)
            low, top = (int(x0), int(y - half)), (int(x1), int(y + half))
            cv2.rectangle(labels, low, top, int(region), -1)
    noise = rng.integers(-12, 12, rgb.shape)
    return np.clip(rgb.astype(int) + noise, 0, 255).astype(np.uint8), labels


def inspection(size=(1600, 1200), centres=((760, 600),), d_px=90, verdict=Verdict.REWORK):
    """An inspection with one fine, one rework, one doubtful and one unseen finding a joint."""
    rgb, labels = picture(size, centres, d_px)
    marks = np.zeros((len(Mark), *labels.shape), np.float32)
    patch = Patch(rgb, labels, np.ones(labels.shape, np.float32), marks, (0.0, 0.0), 1.0)
    results = tuple(
        _result(n, patch, x, y, d_px, verdict) for n, (x, y) in enumerate(centres, start=1)
    )
    scale = Scale(4.5 / d_px, 0.0006, "wire")
    photo = make_photo(rgb, "a.jpg")
    quality = {"blur_px": 1.2}
    return Inspection(photo, Job(), scale, (patch,), results, (), quality, verdict, 0.4)


def _result(number, patch, x, y, d_px, verdict):
    own = np.zeros(patch.labels.shape, bool)
    own[y - d_px // 2 : y + d_px // 2 + 1, x - 2 * d_px : x + 3 * d_px] = True
    joint = Joint(number, "cup", patch, (x - d_px, y), (x, y), (1.0, 0.0), d_px, 1.0, own, sure=0.9)
    gap = Evidence("dimension", np.array([[x - d_px, y], [x, y]], float))
    strand = Evidence(
        "line",
        np.array([[x, y], [x + d_px // 3, y - d_px], [x + d_px, y - 1.4 * d_px]], float),
    )
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    rough = Evidence(
        "outline",
        np.stack([x + d_px / 2 + 25 * np.cos(turn), y + 18 * np.sin(turn)], -1),
    )
    findings = (
        Finding(
            "insulation-gap",
            Outcome.FINE,
            "The gap is right.",
            "",
            number,
            0.99,
            (Measurement("gap", Quantity(1.0, 0.04, "D"), (gap,)),),
            (GAP,),
        ),
        Finding(
            "stray-strand",
            Outcome.REWORK,
            "A strand of 7.4 mm is outside the bundle.",
            "Trim or tuck it.",
            number,
            0.01,
            (Measurement("length", Quantity(7.4, 0.15, "mm"), (strand,)),),
            (LENGTH,),
        ),
        Finding(
            "surface",
            Outcome.DOUBT,
            "The solder may be lumpy.",
            "Retake closer.",
            number,
            0.6,
            (Measurement("rough", Quantity(4.0, 2.0, "%"), (rough,)),),
            (),
        ),
        Finding(
            "fillet",
            Outcome.NOT_SEEN,
            "The fillet is hidden.",
            "Turn the joint.",
            number,
            None,
            (NotMeasured("angle", "a strand lies over it"),),
            (),
        ),
    )
    if verdict is Verdict.PASS:
        findings = findings[:1]
    return JointResult(joint, findings, verdict)


def changed(inspection, **change):
    """The same inspection with its first joint's result changed."""
    first = inspection.results[0]
    return replace(inspection, results=(replace(first, **change),))


def printed(inspection, **how):
    """What the command line prints of an inspection."""
    stream = io.StringIO()
    print_inspection(inspection, Console(file=stream, width=100), ("out/a.overlay.jpg",), **how)
    return stream.getvalue()
