"""A picture from a phone made fit to keep: drawn again as JPEG, without a word about its maker.

Nothing of the bytes sent is kept, only what they show: what is not a picture, or is a picture and
something else besides, does not survive being drawn again. Colour profiles are dropped unread.
"""

import io
import struct
import zlib
from collections.abc import Iterator

from PIL import Image, ImageOps, UnidentifiedImageError

from .preparing import LARGEST_PHOTO
from .problems import PhotoRefused

__all__ = ["LARGEST_PHOTO", "LARGEST_UPLOAD", "LONGEST_SIDE", "PhotoRefused", "take_photo"]

LARGEST_UPLOAD = 8_000_000
"""Bytes."""
LONGEST_SIDE = 1_280
"""Pixels."""
MOST_PIXELS = 50_000_000
"""What the largest telephone cameras make; from memory. Drawn, 3 bytes each."""

_FORMATS = ("JPEG", "PNG", "WEBP")
_QUALITIES = (85, 75, 65, 50, 35)


def take_photo(data: bytes) -> bytes:
    """The picture as a JPEG of at most 1,280 pixels a side and 400,000 bytes, the right way up.

    Raises `PhotoRefused` with a sentence for more than 8,000,000 bytes or 50 million pixels, for
    anything but a JPEG, PNG or WebP picture, and for one that is cut short or damaged.
    """
    if len(data) > LARGEST_UPLOAD:
        raise PhotoRefused(
            f"The picture takes {len(data) / 1e6:.1f} MB; up to {LARGEST_UPLOAD / 1e6:.0f} MB are "
            "taken. Send a smaller one."
        )
    picture = _drawn(data)
    while True:
        for quality in _QUALITIES:
            made = _as_jpeg(picture, quality)
            if len(made) <= LARGEST_PHOTO:
                return made
        picture = picture.resize((picture.width * 2 // 3 or 1, picture.height * 2 // 3 or 1))


def is_clean(data: bytes) -> bool:
    """Whether a JPEG is as `take_photo` leaves it: small enough, whole, no metadata, no more."""
    if not 4 <= len(data) <= LARGEST_PHOTO or not data.startswith(b"\xff\xd8"):
        return False
    try:
        if any(kind in _METADATA for kind in _segments(data)) or not data.endswith(b"\xff\xd9"):
            return False
        with Image.open(io.BytesIO(data), formats=("JPEG",)) as picture:
            if max(picture.size) > LONGEST_SIDE or picture.mode != "RGB":
                return False
            picture.load()
    except (OSError, ValueError, SyntaxError, struct.error, Image.DecompressionBombError):
        return False
    return True


def _drawn(data: bytes) -> Image.Image:
    try:
        with Image.open(io.BytesIO(data), formats=_FORMATS) as opened:
            # Only the head of the file has been read so far: nothing is unpacked yet.
            pixels = opened.width * opened.height
            if pixels > MOST_PIXELS:
                raise PhotoRefused(
                    f"The picture has {pixels / 1e6:.0f} million pixels; up to "
                    f"{MOST_PIXELS / 1e6:.0f} million are taken. Send a smaller one."
                )
            # A JPEG can be unpacked at a half, a quarter or an eighth of its size.
            opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            opened.load()
            # Small first: turning and flattening then cost little.
            opened.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
            return _flat(ImageOps.exif_transpose(opened))
    except PhotoRefused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise PhotoRefused(
            f"The picture has too many pixels; up to {MOST_PIXELS / 1e6:.0f} million are taken. "
            "Send a smaller one."
        ) from bomb
    except UnidentifiedImageError as unknown:
        raise PhotoRefused(
            "This is not a picture that can be read; JPEG, PNG and WebP are taken."
        ) from unknown
    except (OSError, ValueError, SyntaxError, EOFError, zlib.error, struct.error) as broken:
        raise PhotoRefused(
            "The picture is cut short or damaged; send it again, or take another."
        ) from broken


def _flat(picture: Image.Image) -> Image.Image:
    """On white where it can be seen through, in plain red, green and blue."""
    if picture.has_transparency_data:
        picture = picture.convert("RGBA")
        white = Image.new("RGBA", picture.size, "white")
        picture = Image.alpha_composite(white, picture)
    return picture.convert("RGB")


def _as_jpeg(picture: Image.Image, quality: int) -> bytes:
    made = io.BytesIO()
    # A copy of the pixels alone: what came with the picture is not written by accident.
    bare = Image.new("RGB", picture.size)
    bare.paste(picture)
    bare.save(made, "JPEG", quality=quality, optimize=True)
    return made.getvalue()


_METADATA = frozenset((*range(0xE1, 0xF0), 0xFE))
"""Markers of what programs write about themselves and cameras about people; ITU-T T.81, B.2.4."""
_SCAN = 0xDA


def _segments(data: bytes) -> Iterator[int]:
    """The markers of a JPEG up to its first scan; ITU-T T.81, B.1.1."""
    at = 2
    while True:
        mark, kind, size = struct.unpack_from(">BBH", data, at)
        if mark != 0xFF or size < 2:
            raise ValueError("not a marker")
        yield kind
        if kind == _SCAN:
            return
        at += 2 + size
