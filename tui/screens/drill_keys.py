"""What can be pressed in a drill, and in which phases it makes sense."""

from enum import StrEnum

from banks.sittings.drill_sitting import DrillSitting
from tui.actions import Action


class Phase(StrEnum):
    """Where the candidate is with a sitting: judging where there is no key to grade by."""

    ASKING = "asking"
    JUDGING = "judging"
    TOLD = "told"
    OVER = "over"


ACTIONS = (
    Action(
        "answer", "a,b,c,d,e,f,g,h", "Answer", "Answer with this option, sure.",
        footer=False, palette=False,
    ),
    Action(
        "answer_unsure", "A,B,C,D,E,F,G,H", "Unsure", "Answer with this option, unsure.",
        footer=False, palette=False,
    ),
    Action("right", "r,j", "Right", "You had it right (book open)."),
    Action("right_unsure", "R,l", "Unsure", "You had it right but were not sure (book open)."),
    Action("wrong", "w,x", "Wrong", "You had it wrong (book open)."),
    Action("proceed", "enter,space", "Next", "Give the ticked options; go to the next question."),
    Action("undo", "u,backspace", "Undo", "Take the last thing back."),
    Action("blank", "full_stop", "Don't know", "Leave it blank: you don't know."),
    Action("guess", "comma", "Guess", "Say that the response to come is a guess."),
    Action("note", "n", "Note", "Write a note on this question."),
    Action("dispute", "k", "Dispute", "Say that another key is right; the history regrades."),
    Action("reason", "1,2,3,4", "Why", "Say why you missed it.", footer=False, palette=False),
    Action("figure", "v", "Figure", "Show the question's figure."),
    Action("again", "m", "Missed again", "Take what you missed in this sitting once more."),
    Action("previous", "left", "Previous", "Look at the question before.", footer=False),
    Action("later", "right", "Later", "Leave this question for later.", footer=False),
    Action("finish", "z", "End", "End this sitting here for good.", footer=False),
    Action("page(-1)", "pageup", "Page up", "Scroll up.", footer=False, palette=False),
    Action("page(1)", "pagedown", "Page down", "Scroll down.", footer=False, palette=False),
)  # fmt: skip

_ASKED = frozenset({Phase.ASKING, Phase.JUDGING})
_UP = _ASKED | {Phase.TOLD}
WHEN = {
    "answer": _ASKED, "answer_unsure": _ASKED, "guess": _ASKED, "blank": _ASKED,
    "right": {Phase.JUDGING}, "right_unsure": {Phase.JUDGING}, "wrong": {Phase.JUDGING},
    "reason": {Phase.TOLD}, "dispute": {Phase.TOLD}, "note": _UP, "figure": _UP, "previous": _UP,
    "later": _UP, "finish": _UP, "again": {Phase.OVER},
}  # fmt: skip
"""In which phases an action makes sense; those not named always do."""
SINGLE_KEYS = frozenset({"blank", "guess", "note", "figure", "previous", "later", "finish"})
"""Actions whose keys are typed characters where a text is typed."""


def phase_of(run: DrillSitting, picked: frozenset[str]) -> Phase:
    """Where the candidate is; without a key an option is chosen first, then judged."""
    if run.is_over:
        return Phase.OVER
    if run.feedback:
        return Phase.TOLD
    has_to_choose = run.shown.seating.options and not picked
    return Phase.ASKING if run.shown.is_graded or has_to_choose else Phase.JUDGING
