"""Which scenes make up a set. A scene is named by its purpose and number alone."""

from __future__ import annotations

import numpy as np

from .request import SEEDS, UNUSABLE, Request

# Looks: "train" for training, tuning and calibration; "test" (grounds, lights, housings, camera and
# shapes that training never shows) for the reported figures alone.
LOOKS = {
    "train": "train",
    "tuning": "train",
    "calibration": "train",
    "test": "test",
    "demo": "train",
}
PURPOSES = ("train", "tuning", "calibration", "test")
TRAIN_FATES = {
    "usable": 0.78,
    "no-joint": 0.08,
    "sleeved": 0.03,
    "two-wires": 0.03,
    "covered": 0.03,
    "cropped": 0.02,
    "tilt": 0.03,
}
# Drawn seldom or shown seldom: given a share of their own where joints are counted.
RARE = (
    "unseated", "underfill", "bridge", "birdcage", "spike", "stray", "dry", "holes", "embed",
    "char",
)  # fmt: skip
SHARE_RARE = 0.4
SHARE_APART = 0.05  # of the poles where some are bad, for each of the defects drawn apart
SHARE_APART_TAUGHT = 0.08  # the same in training, which has to learn them
SHARE_TINNED, SHARE_TINNED_TAUGHT = 0.08, 0.2  # of the connectors, dipped in the joints' own solder
SHARE_CLOSE = 0.6  # of the training scenes
# Long sides of photos, as cameras have them. A new size costs the renderer a compilation.
LONGS = (
    800, 896, 960, 1024, 1152, 1280, 1440, 1600, 1680, 2048, 2272, 2592, 3072, 3264, 3648, 4032,
)  # fmt: skip
FRAMES = ((768, 576), (576, 768), (704, 704), (832, 512))
WIDE = 1.5  # times as many pixels a side for the wide views


def training(number: int) -> Request:
    """Scene `number` of the training set: views close and wide, all fates that do not blur.

    The wide ones are larger, so that their joints can be looked at closely too. Most poles are bad
    in more ways than one: of the holes and spikes planted a third shows.
    """
    seed = SEEDS["train"] + number
    rng = np.random.default_rng([seed, 1])
    fate = str(rng.choice(list(TRAIN_FATES), p=list(TRAIN_FATES.values())))
    width, height = FRAMES[rng.integers(len(FRAMES))]
    samples = int(rng.choice([8, 12, 20]))
    if rng.random() < SHARE_CLOSE:
        d_px = rng.uniform(60, 150)
    else:
        width, height = round(WIDE * width), round(WIDE * height)
        d_px = WIDE * np.exp(rng.uniform(np.log(14), np.log(60)))
        samples = round(samples * 0.6)
    if fate == "no-joint":
        d_px = np.exp(rng.uniform(np.log(12), np.log(90)))
    return Request(
        seed,
        "train",
        fate,
        width,
        height,
        float(d_px),
        samples,
        share_bad=0.6,
        share_stray=0.25,
        share_apart=SHARE_APART_TAUGHT,
        share_tinned=SHARE_TINNED_TAUGHT,
        several=True,
    )


def usual_long(pixels: float) -> int:
    """The long side, of LONGS, of a 4:3 photo with about so many pixels."""
    return min(LONGS, key=lambda long: abs(np.log(long * long * 0.75 / pixels)))


def rare(rng: np.random.Generator) -> tuple[tuple[str, ...], ...] | None:
    """Defects of the first connector's poles for a share of the scenes; None: as drawn."""
    if rng.random() >= SHARE_RARE:
        return None
    return tuple((str(rng.choice(RARE)),) if rng.random() < 0.6 else () for _ in range(3))


def photo_like(purpose: str, number: int, *, unusable: float = 0.2, large: float = 0.5) -> Request:
    """Scene of a tuning or test set: photos as people take them.

    A share `large` are 3 to 12 megapixels with the joint at 9 to 17 % of the long side, the rest
    smaller ones. The windows that measure see D at the same size in both.
    """
    seed = SEEDS[purpose] + number
    rng = np.random.default_rng([seed, 2])
    fate = "usable" if rng.random() >= unusable else str(rng.choice(UNUSABLE))
    portrait = rng.random() < 0.3
    if rng.random() < large:
        long = usual_long(np.exp(rng.uniform(np.log(3e6), np.log(12e6))))
        # a joint is about 3.6 D long: half a D of wire, the gap, the cup
        d_px = max(long * rng.uniform(0.09, 0.17) / 3.6, 52.0)
        samples = 6
    else:
        long = usual_long(np.exp(rng.uniform(np.log(0.45e6), np.log(2.2e6))))
        d_px = min(rng.uniform(52, 150), long / 7.5)
        samples = 20
    d_px = max(d_px, 48.0)
    if fate == "size":
        d_px = float(rng.uniform(8, 20))
    width, height = round(long), round(long * 0.75)
    if portrait:
        width, height = height, width
    bad = rng.random() < 0.5
    return Request(
        seed,
        LOOKS[purpose],
        fate,
        width,
        height,
        float(d_px),
        samples,
        defects=rare(rng) if bad else None,
        share_bad=0.7 if bad else 0.0,
        share_apart=SHARE_APART if bad else 0.0,
        share_tinned=SHARE_TINNED,
    )


def calibration(number: int) -> Request:
    """Scene `number` of the calibration set: small frames, many defects, nearly all usable.

    Each finder needs tens of bad joints; the even prior of the fit undoes their large share.
    """
    seed = SEEDS["calibration"] + number
    rng = np.random.default_rng([seed, 2])
    fate = "usable" if rng.random() >= 0.06 else str(rng.choice(UNUSABLE))
    long = usual_long(np.exp(rng.uniform(np.log(0.45e6), np.log(0.75e6))))
    d_px = rng.uniform(8, 20) if fate == "size" else rng.uniform(52, long / 7.5)
    width, height = round(long), round(long * 0.75)
    if rng.random() < 0.3:
        width, height = height, width
    bad = rng.random() < 0.75
    return Request(
        seed,
        LOOKS["calibration"],
        fate,
        width,
        height,
        float(d_px),
        16,
        defects=rare(rng) if bad else None,
        share_bad=0.7 if bad else 0.0,
        share_apart=SHARE_APART if bad else 0.0,
        share_tinned=SHARE_TINNED,
    )


def request(purpose: str, number: int) -> Request:
    """Scene `number` of a purpose: train, tuning, calibration or test."""
    if purpose == "train":
        return training(number)
    if purpose == "calibration":
        return calibration(number)
    return photo_like(purpose, number, large=0.5 if purpose == "test" else 0.1)
