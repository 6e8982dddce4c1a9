"""Pictures of the screens, drawn from the demo at a fixed moment.

`python -m tests.pictures` draws those of the README anew. `--compare FILE` puts what is kept in
`tests/tui/looks/` and what is drawn now side by side in one page, `--keep` keeps what is drawn now;
both take names. `--into FOLDER [--theme T] [--colours 16|none]` draws to look at.
"""

import argparse
import asyncio
import os
import re
import sys
from collections import Counter
from collections.abc import AsyncIterator, Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from functools import cache
from html import escape
from io import StringIO
from pathlib import Path
from shutil import copytree
from string import ascii_letters, digits
from tempfile import TemporaryDirectory
from typing import NamedTuple
from unittest.mock import patch

from rich.color import Color, ColorSystem
from rich.console import Console
from rich.style import Style
from rich.text import Text
from textual.app import App
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input
from textual.worker import WorkerCancelled

from banks.demo.making import make_demo
from banks.intake.file_import import ImportOptions
from banks.library import Library
from banks.views.evidence_log import evidence_log
from banks.views.papers import begin, draw, hand_in
from domain.responses import PaperKind, Purpose
from tests.tui.stage import Stage, settled
from tui.base_app import SCREENS
from tui.screens.drill import DrillScreen
from tui.screens.drill_form import DrillFormScreen
from tui.screens.import_preview import ImportPreview, Source
from tui.screens.key_entry import KeyEntryScreen
from tui.screens.paper_result import PaperResult
from tui.screens.paper_sitting import PaperSittingScreen
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.screens.start import StartScreen

ROOT = Path(__file__).parents[1]
KEPT = ROOT / "tests" / "tui" / "looks"
SHOWN = ROOT / ".pictures"
NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
SIZES = ((80, 24), (120, 40))
README_SIZE = (112, 32)
NOT_OURS = re.compile(r"@font-face \{.*?\}\s*|<circle [^>]*>\s*|Fira Code, ", re.DOTALL)
"""What the library adds: fonts to fetch, a font's name, the buttons of a window."""
SIGNS = ascii_letters + digits
"""A sign for each style of a look; so many there may be."""


class Look(NamedTuple):
    """What a terminal shows: its lines, and for each character the style it is painted in."""

    lines: tuple[str, ...]
    styles: tuple[tuple[str, ...], ...]

    @classmethod
    def of(cls, app: App) -> "Look":
        """What is on the screen of a running app."""
        lines, styles = [], []
        for strip in app.screen._compositor.render_strips():
            segments = [segment for segment in strip if not segment.control]
            lines.append("".join(segment.text for segment in segments))
            styles.append(tuple(
                plain_style(segment.style) for segment in segments for _ in segment.text
            ))  # fmt: skip
        return cls(tuple(lines), tuple(styles))

    def written(self) -> str:
        """The lines, under them a sign per character for its style, under them the styles."""
        counted = Counter(style for line in self.styles for style in line)
        # The most frequent one is a dot; the others are named in the order they appear.
        ground = counted.most_common(1)[0][0]
        others = dict.fromkeys(style for line in self.styles for style in line if style != ground)
        signs = {ground: "."} | dict(zip(others, SIGNS, strict=False))
        painted = ["".join(signs[style] for style in line) for line in self.styles]
        named = [f"{sign} {style}" for style, sign in signs.items()]
        return "\n".join([*self.lines, "=" * 8, *painted, "=" * 8, *named]) + "\n"

    @classmethod
    def read(cls, text: str) -> "Look":
        """A look as it was written."""
        lines, painted, named = (
            part.strip("\n").split("\n") for part in text.split("=" * 8 + "\n")
        )
        styles = dict(line.split(" ", 1) for line in named)
        return cls(tuple(lines), tuple(tuple(styles[sign] for sign in line) for line in painted))

    def svg(self, colours: str = "all") -> str:
        """A picture of it, with the colours a terminal has: all, 16 or none."""
        console = Console(
            record=True, width=max(map(len, self.lines)), file=StringIO(),
            force_terminal=True, color_system="truecolor", legacy_windows=False,
        )  # fmt: skip
        for line, styles in zip(self.lines, self.styles, strict=True):
            text = Text(end="\n", no_wrap=True)
            for character, style in zip(line, styles, strict=True):
                text.append(character, in_colours(Style.parse(style), colours))
            console.print(text, crop=False)
        return plain_svg(console.export_svg(title="", unique_id="look"))


@cache
def plain_style(style: Style | None) -> str:
    """Its colours and attributes, without links and hidden data."""
    if style is None:
        return "none"
    kept = Style(
        color=style.color, bgcolor=style.bgcolor, bold=style.bold, dim=style.dim,
        italic=style.italic, underline=style.underline, reverse=style.reverse,
    )  # fmt: skip
    return str(kept)


def in_colours(style: Style, colours: str) -> Style:
    """The style as a terminal with so many colours shows it."""

    def downgraded(color: Color | None) -> Color | None:
        if color is None or color.is_default or colours == "none":
            return None
        return Color.from_triplet(color.downgrade(ColorSystem.STANDARD).get_truecolor())

    if colours == "all":
        return style
    bare = Style(bold=style.bold, underline=style.underline, reverse=style.reverse)
    return bare + Style(color=downgraded(style.color), bgcolor=downgraded(style.bgcolor))


def plain_svg(picture: str) -> str:
    """Only the screen, in any font that is there; every renderer is to keep the spaces."""
    return NOT_OURS.sub("", picture).replace("<svg ", '<svg xml:space="preserve" ', 1)


class Picture(NamedTuple):
    """A screen in one of its states. `writes`: it records something, so it gets its own store."""

    make: Callable[[Library], Screen]
    keys: tuple[str, ...] = ()
    writes: bool = False
    is_in_readme: bool = False


def screen(name: str) -> Callable[[Library], Screen]:
    """One of the screens that can be gone to."""

    def make(_: Library) -> Screen:
        from importlib import import_module

        module, _, class_name = SCREENS[name].partition(":")
        made: Screen = getattr(import_module(module), class_name)()
        return made

    return make


def drill(library: Library) -> Screen:
    """Twenty full questions with explanations."""
    ids = [
        question.id
        for _, question in library.active_questions("observers-full-text")
        if question.tags and question.explanation and len(question.options) == 4
    ]
    sitting = library.open_sitting("Clouds", Purpose.FREE, ids[3:23], seed=4)
    return DrillScreen(sitting, tick=lambda: 0.0)


def marking(library: Library) -> Screen:
    """A sheet of the hardest of the printed bank, of several chapters."""
    names = [
        question.id
        for location, question in library.active_questions()
        if location.bank.id != "observers-full-text"
        and library.history.standing(question.id).signs > 3
    ]
    return PrintedMarkingScreen("Sheet · the hardest of the book", Purpose.SWEEP, names[:60])


def paper(library: Library) -> Screen:
    """A mock paper of the full questions, begun now."""
    drawn = draw(library, evidence_log(library), PaperKind.MOCK, 3)
    return PaperSittingScreen(library.sitting(begin(library, drawn, 3)))


def result(library: Library) -> Screen:
    """That paper, handed in blank."""
    drawn = draw(library, evidence_log(library), PaperKind.MOCK, 3)
    sitting = begin(library, drawn, 3)
    hand_in(library, library.sitting(sitting))
    return PaperResult(sitting)


def key_entry(library: Library) -> Screen:
    """The answer key of the printed bank's first chapter."""
    return KeyEntryScreen(
        next(
            location
            for location, _ in library.active_questions()
            if location.bank.id != "observers-full-text"
        )
    )


def preview(_: Library) -> Screen:
    """Pasted questions, one of them unreadable."""
    options = ImportOptions(bank="A friend's questions", subject="Clouds", chapter="Mixed")
    return ImportPreview(Source("pasted text", PASTED.encode), options)


PASTED = """1. Which genus is a thin, whitish veil that gives a halo?
A) Altostratus  B) Cirrostratus  C) Stratus  D) Nimbostratus
Ans: b
2. Which of these brings continuous rain?
A) Cirrus  B) Cumulus humilis  C) Nimbostratus  D) Cirrocumulus
Ans: f
"""
PICTURES = {
    "today": Picture(screen("today"), is_in_readme=True),
    "help": Picture(screen("settings"), ("question_mark",)),
    "plan": Picture(screen("plan"), ("down",), is_in_readme=True),
    "week": Picture(screen("week")),
    "drill": Picture(drill, ("b",), writes=True, is_in_readme=True),
    "drill-question": Picture(drill, writes=True),
    "drill-form": Picture(lambda _: DrillFormScreen()),
    "triage": Picture(screen("triage"), ("down", "down"), is_in_readme=True),
    "triage-subjects": Picture(screen("triage"), ("s",)),
    "progress-standing": Picture(screen("progress"), is_in_readme=True),
    "progress-weak": Picture(screen("progress"), ("2",)),
    "progress-score": Picture(screen("progress"), ("3",)),
    "marking": Picture(marking, ("k", "m", "j", "i", "K"), writes=True, is_in_readme=True),
    "start": Picture(lambda _: StartScreen()),
    "bank": Picture(screen("bank"), ("down", "down", "down")),
    "key-entry": Picture(key_entry, ("a", "b")),
    "import-preview": Picture(preview),
    "sweep": Picture(screen("sweep"), ("down",)),
    "sweep-hardest": Picture(screen("sweep"), ("3",)),
    "papers": Picture(screen("papers")),
    "paper": Picture(paper, ("a", "B"), writes=True),
    "paper-result": Picture(result, writes=True),
    "settings": Picture(screen("settings"), ("down",)),
}
"""What is drawn, by name."""


@contextmanager
def demo() -> Iterator[Callable[[Picture], Library]]:
    """The demo's library for a picture: shared by those that only look."""
    with TemporaryDirectory() as folder:
        made = make_demo(Path(folder, "demo"), lambda: NOW, 1)
        shared = Library.open(made, lambda: NOW)
        shared.keep_history()  # for the copies, too
        opened = [shared]

        def library_for(picture: Picture) -> Library:
            if not picture.writes:
                return shared
            copied = copytree(made, Path(folder, str(len(opened))), ignore=lambda *_: ["lock"])
            opened.append(Library.open(copied, lambda: NOW))
            return opened[-1]

        try:
            yield library_for
        finally:
            for library in opened:
                library.close()


async def shown(
    names: Sequence[str], sizes: Sequence[tuple[int, int]], theme: str = "lamp"
) -> AsyncIterator[tuple[str, tuple[int, int], App]]:
    """The app with one picture after another, its keys pressed and everything read and drawn, in
    each of the sizes. Those that only look share one store and one start of the app; what the app
    reads and makes ahead once it is quiet, no picture waits for.
    """
    looking = [name for name in names if not PICTURES[name].writes]
    writing = [[name] for name in names if PICTURES[name].writes]
    one_draw = patch("tui.screens.papers_overview.getrandbits", lambda bits: 7)
    no_later = patch.multiple("tui.app", _SETTLED=3600, WATCHED=3600)
    with one_draw, no_later, demo() as library_for:
        for group in (looking, *writing):
            if not group:
                continue
            library = library_for(PICTURES[group[0]])
            app = Stage(library, PICTURES[group[0]].make(library))
            async with app.run_test(size=sizes[0]) as pilot:
                app.theme = theme
                for name in group:
                    if name != group[0]:
                        await app.push_screen(PICTURES[name].make(library))
                    await _press(pilot, PICTURES[name].keys)
                    for size in sorted(sizes, key=lambda size: size != app.size):
                        if app.size != size:
                            await pilot.resize_terminal(*size)
                            await _rest(pilot)
                        yield name, size, app
                    while len(app.screen_stack) > 1:
                        await app.pop_screen()


async def _rest(pilot: Pilot) -> None:
    """Until everything is read and drawn; what a screen left behind began may have been stopped."""
    for _ in range(2):
        with suppress(WorkerCancelled):
            await pilot.app.workers.wait_for_complete()
    shown_last, text = "", await settled(pilot)
    while text != shown_last:
        shown_last, text = text, await settled(pilot)


async def _press(pilot: Pilot, keys: Sequence[str]) -> None:
    for key in ("", *keys):
        if key:
            await pilot.press(key)
        await _rest(pilot)
    for field in pilot.app.screen.query(Input):
        field.cursor_blink = False


def kept_path(name: str, size: tuple[int, int]) -> Path:
    """Where a look is kept."""
    return KEPT / f"{name}-{size[0]}x{size[1]}.txt"


async def draw_readme(names: Sequence[str]) -> None:
    """Draw the README's pictures anew."""
    SHOWN.mkdir(exist_ok=True)
    drawn = [
        name
        for name, picture in PICTURES.items()
        if picture.is_in_readme and (not names or name in names)
    ]
    async for name, _, app in shown(drawn, (README_SIZE,)):
        picture = plain_svg(app.export_screenshot(title=f"resieve · {name}"))
        (SHOWN / f"{name}.svg").write_text(picture, encoding="utf-8")


async def looks(names: Sequence[str], theme: str = "lamp") -> dict[Path, Look]:
    """What is drawn now, by the path where it would be kept."""
    return {
        kept_path(name, size): Look.of(app)
        async for name, size, app in shown(names or list(PICTURES), SIZES, theme)
    }


def side_by_side(drawn: dict[Path, Look]) -> str:
    """A page with the kept look and the new one of each picture that is another one now."""
    parts = []
    for path, look in drawn.items():
        old = path.read_text(encoding="utf-8") if path.exists() else ""
        if old != look.written():
            before = Look.read(old).svg() if old else "not kept so far"
            parts.append(
                f"<h2>{escape(path.stem)}</h2><div><section>{before}</section>"
                f"<section>{look.svg()}</section></div>"
            )
    style = "<style>div{display:flex;gap:1em}section{flex:1}svg{width:100%}</style>"
    return f"<!doctype html><meta charset=utf-8><title>Looks</title>{style}" + (
        "".join(parts) or "<p>Nothing looks different.</p>"
    )


def main() -> None:
    """Draw, compare or keep."""
    parser = argparse.ArgumentParser(prog="python -m tests.pictures", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(PICTURES))
    parser.add_argument("--compare", type=Path, metavar="FILE")
    parser.add_argument("--keep", action="store_true")
    parser.add_argument("--into", type=Path, metavar="FOLDER")
    parser.add_argument("--theme", default="lamp")
    parser.add_argument("--colours", choices=("all", "16", "none"), default="all")
    asked = parser.parse_args()
    if asked.colours == "none":
        os.environ["NO_COLOR"] = "1"
    if not (asked.compare or asked.keep or asked.into):
        asyncio.run(draw_readme(asked.names))
        return
    drawn = asyncio.run(looks(asked.names, asked.theme))
    if asked.compare:
        asked.compare.write_text(side_by_side(drawn), encoding="utf-8")
    for path, look in drawn.items():
        if asked.keep:
            path.write_text(look.written(), encoding="utf-8")
        if asked.into:
            asked.into.mkdir(parents=True, exist_ok=True)
            (asked.into / f"{path.stem}.svg").write_text(look.svg(asked.colours), "utf-8")


if __name__ == "__main__":
    sys.exit(main())
