"""Words and layout of docs/accuracy.md."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

HEAD = """# Accuracy

What the inspector gets right and wrong on the test set: rendered photos whose truth comes from
their geometry, with grounds, lights, housings, camera and some shapes that training never showed.
Counts are given with every share; intervals are exact 95 % ones (Clopper-Pearson). Joints of one
photo are not independent, so the intervals by joint are somewhat narrow; those by photo are not.
Photos of real joints with known truth were not to be had: these figures say nothing about what
the renderer does not show."""

CALIBRATED = """Calibration (inspector/calibration.json) came before, from scenes of its own,
with the training look:

```
python -m sample_images.studio set --purpose calibration --count 500 --out calibration-set
python -m tools.accuracy look --for-fit --scenes calibration-set --out calibration.jsonl --jobs 2
python -m tools.accuracy fit calibration.jsonl
```"""
NOT_CALIBRATED = """No calibration was in place: stated uncertainties are the checks' own
estimates, and what has not been shown to be found (strands, spikes, pin holes, bridges) lets no
joint pass."""

METHOD = """## How this was made

```
python -m sample_images.studio set --purpose test --count {count} --out test-set
python -m tools.accuracy look --for-fit --scenes test-set --out looked.jsonl --jobs 2
python -m tools.accuracy rejudge looked.jsonl --out results.jsonl
python -m tools.accuracy table results.jsonl > docs/accuracy.md
```

{calibration}

Whether a photo is usable is fixed by how its scene was made. A joint counts if it is in view by the
scene's truth: end and lip visible, the cup whole in the picture, D at least {least:g} px, tilt at
most {tilt:g} degrees. A found joint is the true one whose lip is nearest, within 0.6 D. A joint
that was not found counts as passed, unless the photo's verdict is retake. A bad
joint is caught if its verdict is rework and one of the findings names a check that is clearly bad
in truth, with evidence within {place:g} D of the defect. Clearly bad is 1.3 times a maximum, 0.7 of
a minimum, twice the smallest size where none is allowed; clearly sound is the other side by the
same factors; a joint is sound if all its checks are. Metal too near to the next pole, a melted
housing, and the other joints beside a bridge count as neither. The wire's size was told to the
program for half of the photos, chosen by seed, the number of poles never."""


def markdown(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in line) + " |" for line in lines)


def number(value: float | None) -> str:
    """Three significant digits, or a dash."""
    return "-" if value is None else f"{value:.3g}"


def percent(value: float | None) -> str:
    """A share in %, or "none"."""
    return "none" if value is None else f"{100 * value:.1f} %"
