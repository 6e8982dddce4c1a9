"""Beginning a sitting, and resuming one that was left: on screen, in the grid, as a mock paper."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from domain.responses import Purpose

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.open_sittings import OpenSitting
    from tui.base_app import BaseApp


def drillable(library: "Library", question_ids: Sequence[str]) -> bool:
    """Whether most of these questions have their text, so that the book can stay closed."""
    from domain.questions import Form

    forms = [question.form for name in question_ids if (question := library.question(name))]
    return sum(form is Form.FULL for form in forms) * 2 > len(forms)


def begin(
    app: "BaseApp",
    title: str,
    purpose: Purpose | None,
    question_ids: Sequence[str],
    *,
    other_way: bool = False,
) -> None:
    """Begin a sitting over these questions: drilled where their text is there, else in the grid.

    `other_way` turns that round. Without a purpose it is that of the day's line that holds them.
    """
    if purpose is None or drillable(app.library, question_ids) is other_way:
        mark(app, title, purpose, question_ids)
    else:
        from tui.screens.drill import start_drill

        start_drill(app, title, purpose, question_ids)


def mark(
    app: "BaseApp",
    title: str,
    purpose: Purpose | None,
    question_ids: Sequence[str],
    sitting: str = "",
) -> None:
    """Open the grid over these questions; `sitting` names one to go on with."""
    from tui.screens.printed_marking import PrintedMarkingScreen

    app.push_screen(PrintedMarkingScreen(title, purpose, question_ids, sitting))


def go_on(app: "BaseApp", left: "OpenSitting") -> None:
    """Go on with a sitting that was left open."""
    from domain.responses import Medium

    sitting = app.library.sitting(left.id).opened
    if left.purpose is Purpose.PAPER:
        app.action_visit("mock")
    elif sitting.medium is Medium.PRINTED:
        mark(app, sitting.title, left.purpose, sitting.questions, left.id)
    else:
        from tui.screens.drill import DrillScreen

        app.push_screen(DrillScreen(left.id))
