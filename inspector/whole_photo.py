"""Whether a JPEG holds all of its picture, or stops early behind a proper end marker.

A decoder fills what is missing with grey, or leaves it coarse, and says nothing. Whether it missed
anything is told by what it does with more data: behind a whole picture further bytes are never
looked at, behind one cut short they become picture. No grey level is looked for, so a flat, grey,
black or white part of an honest photo counts for nothing. The markers and their fields are those of
ITU-T T.81, Annex B (memory).
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

LEAST_LOST_PX = 256  # more than one block of 16 x 16, the largest that is coded at once
LEAST_ZEROS = 64  # a copy broken off leaves whole sectors of them
FULL_BAND = 64  # coefficients of a block

_START, _END, _SCAN, _RESTARTS = 0xD8, 0xD9, 0xDA, 0xDD
_SEQUENTIAL, _PROGRESSIVE, _ARITHMETIC = (0xC0, 0xC1), 0xC2, (0xC9, 0xCA)
_BARE = (0x01, *range(0xD0, 0xD9))  # markers without a length
_AFTER_SCAN = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")
_MORE = np.random.default_rng(81).integers(0, 255, 4096, np.uint8).tobytes()  # no 0xFF, no marker


@dataclass(frozen=True, slots=True)
class Stream:
    """A JPEG's first picture: how it is coded, what its scans bring, where its data end.

    precision: of each component and coefficient the bits still missing; lacking what no scan
    brings. end: place of the end marker, or of the end of the data if there is none.
    """

    coding: int
    components: tuple[int, ...]
    precision: dict[tuple[int, int], int]
    restarts: bool
    end: int
    closed: bool

    @property
    def brings_all(self) -> bool:
        """Whether the scans that were begun, once read to their ends, make up the picture."""
        return all(
            self.precision.get((component, place)) == 0
            for component in self.components
            for place in range(FULL_BAND)
        )


def stops_early(data: bytes) -> bool:
    """Whether these bytes are a JPEG of which more than one block is missing at the end.

    False for other formats, for arithmetic coding (its end may be left out by right) and for what
    is too damaged to tell, which the decoder refuses by itself.
    """
    try:
        stream = read_stream(data)
        if stream is None:
            return False
        if not stream.closed:  # zeros are read as picture, so that the decoder misses nothing
            return data.endswith(bytes(LEAST_ZEROS))
        return not stream.brings_all or _lost_px(data, stream) > LEAST_LOST_PX
    except Exception:  # noqa: BLE001 - damaged headers, and decoders raise what they like on them
        return False


def read_stream(data: bytes) -> Stream | None:
    """Walk the markers of a JPEG's first picture; None if it is none, or not Huffman coded.

    Raises IndexError where the headers are cut.
    """
    if data[:2] != bytes((0xFF, _START)):
        return None
    coding, restarts, at = 0, False, 2
    components: tuple[int, ...] = ()
    precision: dict[tuple[int, int], int] = {}
    while (found := _AFTER_SCAN.search(data, at)) is not None:
        marker, at = data[found.end() - 1], found.end()
        if marker == _END:
            return Stream(coding, components, precision, restarts, found.start(), closed=True)
        if marker in _BARE:
            continue
        length = int.from_bytes(data[at : at + 2])
        body = data[at + 2 : at + length]
        at += length
        if marker in _ARITHMETIC:
            return None
        if marker in _SEQUENTIAL or marker == _PROGRESSIVE:
            coding = marker
            components = tuple(body[6 + 3 * i] for i in range(body[5]))
        elif marker == _RESTARTS:
            restarts = any(body[:2])
        elif marker == _SCAN:
            _note_scan(body, precision, progressive=coding == _PROGRESSIVE)
    return Stream(coding, components, precision, restarts, len(data), closed=False)


def _note_scan(body: bytes, precision: dict[tuple[int, int], int], *, progressive: bool) -> None:
    """Enter what a scan brings: of its components, the band and the bits still missing."""
    count = body[0]
    first, last, bits = body[1 + 2 * count : 4 + 2 * count]
    if not progressive:
        first, last, bits = 0, FULL_BAND - 1, 0
    for component in body[1 : 1 + 2 * count : 2]:
        for place in range(first, last + 1):
            precision[component, place] = bits & 15


def _lost_px(data: bytes, stream: Stream) -> int:
    """Area, in pixels of the picture, that changes when more data stand before the end marker."""
    step = 2 if stream.coding == _PROGRESSIVE else 8  # by a block's mean alone, where it has one
    more = _MORE
    if stream.restarts:
        more += b"".join(bytes((0xFF, 0xD0 + turn)) + _MORE[:512] for turn in range(8))
    longer = data[: stream.end] + more + bytes((0xFF, _END))
    changed = _small(data, step) != _small(longer, step)
    return int(changed.any(axis=-1).sum()) * step**2


def _small(data: bytes, step: int) -> NDArray[np.uint8]:
    """The picture (H, W, channels) at 1/step, as the decoder itself makes it small."""
    picture = Image.open(io.BytesIO(data), formats=("JPEG",))
    picture.draft("YCbCr", (picture.width // step, picture.height // step))
    return np.atleast_3d(np.asarray(picture))
