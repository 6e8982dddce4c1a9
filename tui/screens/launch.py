"""Beginning a sitting, and resuming one that was left: on screen, in the grid, as a paper."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from domain.errors import ResieveError
from domain.responses import Purpose

if TYPE_CHECKING:
    from banks.views.open_sittings import OpenSitting
    from banks.views.today import TodayLine
    from tui.base_app import BaseApp
    from tui.base_screen import AppScreen
    from tui.screens.drill import DayRun


def begin(
    app: "BaseApp",
    title: str,
    purpose: Purpose | None,
    question_ids: Sequence[str],
    *,
    other_way: bool = False,
    minutes: int = 0,
    day_run: "DayRun | None" = None,
) -> None:
    """Begin a sitting over these questions: drilled where their text is there, else in the grid.

    `other_way` turns that round. Without a purpose it is that of the day's line that holds them.
    `minutes` sets a time for a drill, 0 for none; `day_run` leads on to the day's next line.
    """
    from banks.views.drill import is_from_book

    if purpose is None or is_from_book(app.library, question_ids) is not other_way:
        mark(app, title, purpose, question_ids, day_run=day_run)
    else:
        from tui.screens.drill import start_drill

        start_drill(app, title, purpose, question_ids, minutes=minutes, day_run=day_run)


def mark(
    app: "BaseApp",
    title: str,
    purpose: Purpose | None,
    question_ids: Sequence[str],
    sitting: str = "",
    days_back: int = 0,
    day_run: "DayRun | None" = None,
) -> None:
    """Open the grid over these questions; `sitting` names one to go on with, `day_run` leads to the
    day's next line.
    """
    from tui.screens.printed_marking import PrintedMarkingScreen

    app.push_screen(PrintedMarkingScreen(title, purpose, question_ids, sitting, days_back, day_run))


def choose_chapter(app: "BaseApp") -> None:
    """Ask which chapter to mark, and open the grid over it."""
    from textual.content import Content

    from banks.views.headings import MarkableChapter, markable_chapters
    from tui.dialogs import PickDialog

    when = {1: "yesterday", 0: "today"}

    def line(item: MarkableChapter, width: int) -> Content:
        day = when.get(-1 if item.days_back is None else item.days_back, "")
        count = f"{item.span:>9} {day:>10}"
        space = width - len(count) - 1
        title = Content(f"{item.subject} · {item.chapter}").truncate(space, ellipsis=True)
        return title.pad_right(space - title.cell_length).append(f" {count}")

    def chosen(item: MarkableChapter | None) -> None:
        if item is not None:
            mark(app, item.title, None, item.questions, days_back=item.days_back or 0)

    chapters = markable_chapters(app.library)
    app.push_screen(PickDialog("Mark which chapter?", chapters, line), chosen)


def print_sheet(screen: "AppScreen", name: str, write: Callable[[Path], object]) -> None:
    """Ask for a file and write a sheet to it; what is printed is entered later from Today."""
    from tui.dialogs import TextDialog, given

    def named(text: str) -> None:
        if not text.strip():
            return
        path = Path(text.strip()).expanduser().absolute()
        try:
            write(path)
        except ResieveError as problem:
            screen.tell(problem)
        else:
            screen.notify(f"Written: {path}. Enter it later from Today.")

    screen.app.push_screen(
        TextDialog("Write the sheet to (.txt .md .html .pdf)", name), given(named)
    )


def take_paper(screen: "AppScreen", line: "TodayLine") -> None:
    """The paper of a line of Today: the one begun today, else a new one once that is meant."""
    from banks.views.papers import paper_of
    from domain.responses import PaperKind
    from tui.screens.paper_sitting import paper_screen
    from tui.screens.papers_overview import ask_to_begin, offer_of

    library, kind = screen.library, PaperKind(line.paper)
    if sitting := paper_of(library, kind, library.today()):
        screen.app.push_screen(paper_screen(library, sitting))
        return

    def offer() -> None:
        screen.hand_over(ask_to_begin, screen, offer_of(library, kind, line.planned))

    screen.in_background(offer, group="paper", loads=True)


def go_on(app: "BaseApp", left: "OpenSitting", day_run: "DayRun | None" = None) -> None:
    """Go on with a sitting that was left open; `day_run` leads on to the day's next line."""
    from domain.responses import Medium

    sitting = app.library.sitting(left.id).opened
    if left.purpose is Purpose.PAPER:
        from tui.screens.paper_sitting import paper_screen

        app.push_screen(paper_screen(app.library, app.library.sitting(left.id)))
    elif sitting.medium is Medium.PRINTED:
        mark(app, sitting.title, left.purpose, sitting.questions, left.id, day_run=day_run)
    else:
        from tui.screens.drill import DrillScreen

        app.push_screen(DrillScreen(left.id, day_run=day_run))
