"""Bytes to a Photo: upright, sRGB, 8 bit, size-limited; or one sentence that says why not.

Reads JPEG, PNG, WebP, HEIC and AVIF in all eight EXIF orientations; grey, palette, CMYK, 16-bit
and transparent pictures (laid on white); colour profiles are converted to sRGB. Of the metadata
only the time is kept: no place, no device.
"""

from __future__ import annotations

import io
import stat
import warnings
from contextlib import suppress
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import (
    AvifImagePlugin,
    Image,
    JpegImagePlugin,
    PngImagePlugin,
    UnidentifiedImageError,
    WebPImagePlugin,
)

from inspector.colours import to_srgb
from inspector.errors import PhotoError
from inspector.model import Photo
from inspector.whole_photo import stops_early

SMALLEST_SIDE_PX = 64
LARGEST_PX = 100_000_000
LARGEST_BYTES = 60_000_000

_FORMATS = ("JPEG", "PNG", "WEBP", "HEIF", "AVIF")
_READABLE = "Use a JPEG, PNG, WebP, HEIC or AVIF file as the phone made it."
_ORIENTATION, _TAKEN, _EXIF_IFD, _CHANGED = 0x0112, 0x9003, 0x8769, 0x0132
_TIME_LENGTH = 19  # "YYYY:MM:DD HH:MM:SS" (EXIF, memory); what is longer is no time

# named so that they are loaded: Image.init() would load forty more
_PLUGINS = (AvifImagePlugin, JpegImagePlugin, PngImagePlugin, WebPImagePlugin)
with suppress(ImportError):  # without this part of the installation all but HEIC can be read
    import pillow_heif

    pillow_heif.register_heif_opener()  # type: ignore[no-untyped-call, unused-ignore]


def read_photo(source: Photo | bytes | str | Path, name: str | None = None) -> Photo:
    """Read a photo from its bytes or its path; a Photo is returned as it is.

    Raises PhotoError, one sentence for the user, if there is no such file, it is no photo, is
    damaged, is smaller than 64 px on a side or larger than 100 megapixels.
    """
    if isinstance(source, Photo):
        return source
    if isinstance(source, bytes):
        return _decode(source, _printable(name or "photo"))
    if isinstance(source, str) and not source.strip():
        raise PhotoError("The photo's name is empty.", "Name a file.")
    path = Path(source)
    return _decode(_bytes_of(path), _printable(name or path.name))


def make_photo(rgb: NDArray[np.uint8], name: str = "photo", taken: str | None = None) -> Photo:
    """Photo of an upright sRGB array (H, W, 3) uint8, which becomes read-only.

    Raises PhotoError for any other array, and for one smaller than 64 px on a side.
    """
    if rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.dtype != np.uint8:  # noqa: PLR2004 - H, W, RGB
        raise PhotoError("These pixels are no photo.", "Use an array (H, W, 3) of 8-bit sRGB.")
    name = _printable(name)
    _check_size((rgb.shape[1], rgb.shape[0]), name)
    pixels = np.ascontiguousarray(rgb)
    pixels.flags.writeable = False
    return Photo(name, pixels, taken)


def _printable(name: str) -> str:
    """A name on one line: line breaks, control codes and bytes that are no text become "?"."""
    return "".join(sign if sign.isprintable() else "?" for sign in name)


def _bytes_of(path: Path) -> bytes:
    shown = _printable(str(path))
    try:
        kind = path.stat().st_mode
        if stat.S_ISDIR(kind):
            raise PhotoError(f"{shown} is a folder, not a photo.", "Name the photos inside it.")
        if not stat.S_ISREG(kind):  # a pipe or device may never end
            raise PhotoError(f"{shown} is no ordinary file.", "Save the photo as a file first.")
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise PhotoError(f"There is no file {shown}.", "Check the name and the folder.") from None
    except PermissionError:
        raise PhotoError(f"The file {shown} may not be read.", "Check its permissions.") from None
    except (OSError, ValueError) as error:
        because = getattr(error, "strerror", None) or str(error)
        raise PhotoError(f"The file {shown} cannot be read: {because}.", "Copy it anew.") from None
    if len(data) > LARGEST_BYTES:
        raise PhotoError(
            f"{shown} is larger than {LARGEST_BYTES // 1_000_000} MB.",
            "Use the photo as the phone made it, not a raw file or a video.",
        )
    return data


def _decode(data: bytes, name: str) -> Photo:
    """Decode, judge the size before the pixels are touched, turn upright, convert to sRGB."""
    if not data:
        raise PhotoError(f"{name} is an empty file.", "Copy it from the phone again.")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # damaged metadata; the pixels are judged below
        try:
            picture = Image.open(io.BytesIO(data), formats=_FORMATS)
        except UnidentifiedImageError:
            raise PhotoError(f"{name} is not a photo that can be read.", _READABLE) from None
        except Image.DecompressionBombError:
            raise _too_large(name) from None
        except Exception:  # noqa: BLE001 - decoders raise what they like on damaged headers
            raise _damaged(name) from None
        _check_size(picture.size, name)
        if stops_early(data):
            raise PhotoError(
                f"{name} was cut short: the file ends before the picture does.",
                "Copy or send it from the phone again, or take the photo anew.",
            )
        try:
            picture.load()
            turn, taken = _metadata(picture, data)
            rgb = _upright(to_srgb(picture), turn)
        except Image.DecompressionBombError:
            raise _too_large(name) from None
        except Exception:  # noqa: BLE001 - see above: OSError, SyntaxError, ValueError, struct.error
            raise _damaged(name) from None
    return make_photo(rgb, name, taken)


def _damaged(name: str) -> PhotoError:
    return PhotoError(
        f"{name} is damaged or cut short, so it cannot be read.", "Copy it from the phone again."
    )


def _too_large(name: str) -> PhotoError:
    return PhotoError(
        f"{name} has more than {LARGEST_PX // 1_000_000} megapixels.",
        "Take it at the phone's ordinary resolution; 12 megapixels are plenty.",
    )


def _check_size(size: tuple[int, int], name: str) -> None:
    if min(size) < SMALLEST_SIDE_PX:
        raise PhotoError(
            f"{name} is only {size[0]} x {size[1]} pixels.",
            f"At least {SMALLEST_SIDE_PX} a side are needed; use the original, not a thumbnail.",
        )
    if size[0] * size[1] > LARGEST_PX:
        raise _too_large(name)


def _metadata(picture: Image.Image, data: bytes) -> tuple[int, str | None]:
    """EXIF orientation 1 to 8 and the time as written; damaged metadata counts as absent."""
    try:
        exif = picture.getexif()
        turn = exif.get(_ORIENTATION, 1)
        if picture.format == "HEIF" and not _turns_itself(data):
            turn = picture.info.get("original_orientation") or 1
        taken = exif.get_ifd(_EXIF_IFD).get(_TAKEN) or exif.get(_CHANGED)
    except Exception:  # noqa: BLE001 - EXIF from the wild; the pixels are still good
        return 1, None
    turn = turn if isinstance(turn, int) and 1 <= turn <= 8 else 1  # noqa: PLR2004 - as EXIF says
    text = taken.partition("\x00")[0].strip() if isinstance(taken, str) else ""
    text = _printable(text[:_TIME_LENGTH])
    return turn, text or None


def _turns_itself(data: bytes) -> bool:
    """Whether a HEIC file holds its own turn or mirror, which the decoder has then applied.

    ISO/IEC 23008-12 gives those precedence over EXIF (memory); phones write both, other programs
    EXIF alone.
    """
    start = data.find(b"meta")
    end = start + int.from_bytes(data[start - 4 : start]) if start >= 4 else 0  # noqa: PLR2004
    return any(data.find(box, start, end) > 0 for box in (b"irot", b"imir"))


def _upright(rgb: NDArray[np.uint8], turn: int) -> NDArray[np.uint8]:
    """Undo the EXIF orientation; cv2 does it about five times as fast as a numpy copy."""
    if turn in (5, 7):
        rgb = np.asarray(cv2.transpose(rgb), np.uint8)
    if turn in (2, 3, 4, 7):
        flip = {2: 1, 3: -1, 4: 0, 7: -1}[turn]
        rgb = np.asarray(cv2.flip(rgb, flip), np.uint8)
    if turn in (6, 8):
        way = cv2.ROTATE_90_CLOCKWISE if turn == 6 else cv2.ROTATE_90_COUNTERCLOCKWISE  # noqa: PLR2004
        rgb = np.asarray(cv2.rotate(rgb, way), np.uint8)
    return rgb
