"""Figures are handed to the desktop, or it is said where they lie."""

import pytest

from domain.errors import InputError
from tui.screens import annotations

PNG = b"\x89PNG\r\n\x1a\n" + bytes(20)


@pytest.fixture
def picture(tmp_path):
    path = tmp_path / "cloud.png"
    path.write_bytes(PNG)
    return path


@pytest.fixture
def started(monkeypatch) -> list[list[str]]:
    commands: list[list[str]] = []
    monkeypatch.setattr(annotations.subprocess, "Popen", lambda words, **_: commands.append(words))
    monkeypatch.setattr(annotations.sys, "platform", "linux")
    return commands


def test_a_picture_is_opened_on_the_desktop(picture, started, monkeypatch):
    monkeypatch.setenv("DISPLAY", ":0")
    annotations.open_figure(picture)

    assert started == [["xdg-open", str(picture)]]


def test_without_a_desktop_it_is_said_where_the_picture_lies(picture, started, monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)

    with pytest.raises(InputError, match=str(picture)):
        annotations.open_figure(picture)
    assert started == []


def test_a_picture_that_was_not_kept_is_named(tmp_path, started):
    with pytest.raises(InputError, match=r"gone\.png: this figure was not kept"):
        annotations.open_figure(tmp_path / "gone.png")


def test_a_desktop_without_an_opener_is_told(picture, monkeypatch):
    def missing(words, **_):
        raise FileNotFoundError(words[0])

    monkeypatch.setattr(annotations.subprocess, "Popen", missing)
    monkeypatch.setattr(annotations.sys, "platform", "darwin")

    with pytest.raises(InputError, match="could not be shown"):
        annotations.open_figure(picture)


@pytest.mark.parametrize(("name", "content"), [
    ("evil.desktop", b"[Desktop Entry]\nExec=sh"), ("evil.desktop", PNG), ("run.bat", PNG),
    ("run.png", b"MZ"), ("page.svg", b"<svg onload='x()'></svg>"), ("cloud.jpg", PNG),
    ("none", PNG), ("empty.png", b""),
])  # fmt: skip
def test_what_is_no_picture_by_content_and_ending_is_not_opened(
    tmp_path, started, monkeypatch, name, content
):
    monkeypatch.setenv("DISPLAY", ":0")
    (tmp_path / name).write_bytes(content)

    with pytest.raises(InputError, match="not an image of the type its name says"):
        annotations.open_figure(tmp_path / name)
    assert started == []


@pytest.mark.parametrize("name", ["..", ".", "folder"])
def test_a_folder_is_no_figure(tmp_path, started, monkeypatch, name):
    monkeypatch.setenv("DISPLAY", ":0")
    (tmp_path / "folder").mkdir()

    with pytest.raises(InputError, match="was not kept"):
        annotations.open_figure(tmp_path / name)
    assert started == []


@pytest.mark.parametrize(("name", "content"), [
    ("a.JPEG", b"\xff\xd8\xff"), ("b.tiff", b"II*\x00"), ("c.svg", b"<svg></svg>"),
])  # fmt: skip
def test_other_spellings_of_an_ending_are_opened(tmp_path, started, monkeypatch, name, content):
    monkeypatch.setenv("DISPLAY", ":0")
    (tmp_path / name).write_bytes(content)
    annotations.open_figure(tmp_path / name)

    assert len(started) == 1
