"""Pictures are known by their bytes; what could act when opened is none."""

import pytest

from banks.importers import archive
from banks.importers.archive import picture_ending

DRAWING = '<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><g id="a">{}</g></svg>'


@pytest.mark.parametrize(
    ("data", "ending"),
    [
        (b"\x89PNG\r\n\x1a\n", "png"),
        (b"\xff\xd8\xff\xe0", "jpg"),
        (b"GIF89a", "gif"),
        (b"RIFF\x00\x00\x00\x00WEBP", "webp"),
        (b"BM", "bmp"),
        (b"RIFF\x00\x00\x00\x00WAVE", ""),
        (b"<html><svg></svg></html>", ""),
        (b"<!-- x --><svg>", "svg"),
        (b"", ""),
    ],
)
def test_the_first_bytes_say_what_it_is(data: bytes, ending: str) -> None:
    assert picture_ending(data) == ending


def test_a_plain_drawing_is_a_picture() -> None:
    held = '<path d="M0 0" fill="url(#a)"/><use href="#a"/><image href="data:image/png;base64,x"/>'

    assert picture_ending(DRAWING.format(held).encode()) == "svg"


@pytest.mark.parametrize(
    "held",
    [
        "<script>1</script>",
        "<svg:SCRIPT/>",
        '<a href="javascript:x"/>',
        '<path onload="x"/>',
        '<path d="x"/onclick=x />',
        "<foreignObject/>",
        '<image href="http://example.org/a.png"/>',
        '<image xlink:href="file:///etc/passwd"/>',
        '<path fill="url(http://example.org/)"/>',
        "<style>@import x</style>",
        '<animate attributeName="href"/>',
    ],
)
def test_a_drawing_that_could_act_is_none(held: str) -> None:
    assert picture_ending(DRAWING.format(held).encode()) == ""


def test_a_picture_beyond_all_bounds_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "MOST_PICTURE_BYTES", 10)

    assert picture_ending(b"GIF89a" + b"x" * 10) == ""
