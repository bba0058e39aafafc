"""A picture is drawn again or refused: nothing of what was sent is kept but what it shows."""

from __future__ import annotations

import contextlib
import io
import struct
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from casebook.photos import LARGEST_PHOTO, LARGEST_UPLOAD, LONGEST_SIDE, is_clean, take_photo
from casebook.problems import PhotoRefused


def picture(kind: str = "JPEG", size: tuple[int, int] = (60, 40), **how: object) -> bytes:
    made = Image.new("RGB", size, (200, 120, 40))
    made.putpixel((0, 0), (0, 0, 255))
    out = io.BytesIO()
    made.save(out, kind, **how)
    return out.getvalue()


def opened(jpeg: bytes) -> Image.Image:
    found = Image.open(io.BytesIO(jpeg))
    found.load()
    return found


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_three_kinds_become_a_jpeg(kind: str) -> None:
    made = opened(take_photo(picture(kind)))
    assert (made.format, made.mode, made.size) == ("JPEG", "RGB", (60, 40))


@pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF", "PPM", "ICO"])
def test_other_kinds_are_refused(kind: str) -> None:
    with pytest.raises(PhotoRefused, match="JPEG, PNG and WebP are taken"):
        take_photo(picture(kind))


def test_a_large_picture_is_made_small_without_changing_its_shape() -> None:
    assert opened(take_photo(picture(size=(4000, 2000)))).size == (1280, 640)
    assert opened(take_photo(picture("PNG", size=(90, 2600)))).size == (44, 1280)


def test_a_picture_that_packs_badly_still_fits() -> None:
    noise = Image.effect_noise((1280, 1280), 200).convert("RGB")
    out = io.BytesIO()
    noise.save(out, "PNG")
    made = take_photo(out.getvalue())
    assert len(made) <= LARGEST_PHOTO
    assert max(opened(made).size) <= LONGEST_SIDE


def secretive() -> bytes:
    """A picture that says where and by whom it was taken, in every place a JPEG has for it."""
    exif = Image.Exif()
    exif[0x010F] = "SECRET maker"
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[1] = "SECRET place"
    return picture(exif=exif, comment=b"SECRET comment", icc_profile=b"SECRET profile" * 20)


def test_metadata_is_gone_and_the_picture_stands_upright() -> None:
    """Exif 2.3, tag 0x0112: 6 is to be turned a quarter to the right."""
    data = secretive()
    assert data.count(b"SECRET") > 3
    made = take_photo(data)
    assert b"SECRET" not in made
    assert b"Exif" not in made
    found = opened(made)
    assert found.size == (40, 60)
    assert not found.getexif()
    assert is_clean(made)
    assert not is_clean(data)


def test_what_is_hidden_behind_a_picture_is_gone() -> None:
    data = picture() + b"<script>SECRET</script>"
    assert b"SECRET" not in take_photo(data)
    assert not is_clean(data)


def test_text_in_a_png_is_gone() -> None:
    from PIL.PngImagePlugin import PngInfo

    words = PngInfo()
    words.add_text("Author", "SECRET")
    assert b"SECRET" not in take_photo(picture("PNG", pnginfo=words))


def test_what_can_be_seen_through_is_white() -> None:
    out = io.BytesIO()
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(out, "PNG")
    assert opened(take_photo(out.getvalue())).getpixel((4, 4)) == (255, 255, 255)


def test_a_picture_of_100_mb_is_refused_unread() -> None:
    with pytest.raises(PhotoRefused, match=r"takes 100\.0 MB; up to 8 MB are taken"):
        take_photo(picture() + b"\0" * (100_000_000 - len(picture())))


def test_the_limit_is_the_last_size_taken() -> None:
    data = picture()
    assert take_photo(data + b"\0" * (LARGEST_UPLOAD - len(data)))
    with pytest.raises(PhotoRefused):
        take_photo(data + b"\0" * (LARGEST_UPLOAD - len(data) + 1))


def bomb(width: int, height: int) -> bytes:
    """A small PNG that claims to be large; PNG specification, sections 5 and 11.2.2."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        whole = kind + data
        return struct.pack(">I", len(data)) + whole + struct.pack(">I", zlib.crc32(whole))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = zlib.compress(b"\0" * 10_000_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(7_100, 7_100), (10_000, 10_000), (60_000, 60_000)])
def test_a_picture_that_unpacks_without_end_is_refused(size: tuple[int, int]) -> None:
    data = bomb(*size)
    assert len(data) < 20_000
    with pytest.raises(PhotoRefused, match="50 million are taken"):
        take_photo(data)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_cut_short_is_refused(kind: str) -> None:
    out = io.BytesIO()
    Image.effect_noise((200, 200), 80).convert("RGB").save(out, kind)
    data = out.getvalue()
    for share in (0.02, 0.3, 0.7):
        with pytest.raises(PhotoRefused):
            take_photo(data[: int(len(data) * share)])


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xd8",
        b"\xff\xd8\xff\xd9",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
        b"GIF89a<script>",
        b"PK\x03\x04",
        b"RIFF\xff\xff\xff\xffWEBPVP8 ",
    ],
)
def test_what_is_no_picture_is_refused(data: bytes) -> None:
    with pytest.raises(PhotoRefused):
        take_photo(data)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(["JPEG", "PNG", "WEBP"]), st.data())
def test_a_damaged_picture_is_drawn_or_refused_and_nothing_else(
    kind: str, drawn: st.DataObject
) -> None:
    data = bytearray(picture(kind))
    for _ in range(drawn.draw(st.integers(1, 6))):
        data[drawn.draw(st.integers(0, len(data) - 1))] = drawn.draw(st.integers(0, 255))
    made = None
    with contextlib.suppress(PhotoRefused):
        made = take_photo(bytes(data))
    assert made is None or is_clean(made)


def test_what_was_drawn_once_is_left_as_it_is() -> None:
    assert is_clean(take_photo(picture(size=(3000, 2000))))


@pytest.mark.parametrize("data", [b"", b"\xff\xd8\xff", b"\xff\xd8" + b"\0" * 50, picture("PNG")])
def test_what_is_no_jpeg_of_ours_is_not_clean(data: bytes) -> None:
    assert not is_clean(data)
