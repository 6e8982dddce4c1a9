"""What can be pressed while paper work is marked.

Two kinds of key: bound ones (here, settable), and what is typed as text and belongs to no binding:
digits, hyphen, comma, the letters a to h, and `?` behind a number. So the bound keys are none of
those. The three that judge lie under three fingers of one hand, the space under its thumb.
"""

from domain.questions import LETTERS
from domain.verdicts import Confidence, Verdict
from tui.actions import Action

LETTERS_TYPED = LETTERS + LETTERS.upper()
TYPED = frozenset((*LETTERS_TYPED, *"0123456789", "minus", "comma"))
"""Keys that are typed as text and so can belong to no action."""
JUDGED = {
    "right": (Verdict.RIGHT, Confidence.SURE),
    "unsure": (Verdict.RIGHT, Confidence.UNSURE),
    "wrong": (Verdict.WRONG, Confidence.SURE),
    "blank": (Verdict.BLANK, Confidence.SURE),
}
"""What the candidate can judge themselves."""
ACTIONS = (
    Action("judge('right')", "j,r", "Right", "Right: the number typed, or under the cursor.",
           footer=False, palette=False),
    Action("judge('wrong')", "k,x,w", "Wrong", "Wrong: the number typed, or under the cursor.",
           footer=False, palette=False),
    Action("judge('unsure')", "l,R", "Unsure",
           "Right but not sure: the number typed (40? too), or under the cursor.",
           footer=False, palette=False),
    Action("space", "space", "Blank", "Left blank; after a number: ends it, and it is wrong.",
           footer=False, palette=False),
    Action("judge('blank')", "full_stop", "Blank", "Left blank, as in 9. for question 9.",
           footer=False, palette=False),
    Action("rest", "enter", "Rest right", "Mark all that has no mark in this chapter right."),
    Action("undo", "u,backspace", "Undo", "Take back what the last key marked, any number."),
    Action("timer", "t", "Timer", "Start or pause the time; marks share it."),
    Action("text", "i", "Text", "Key in the text of this question."),
    Action("key", "y", "Key", "Type or paste this chapter's answer key, or correct it."),
    Action("open", "end,n", "Next open", "Go to the first question without a mark."),
    Action("move(-1)", "left", "Before", "One question back.", footer=False, palette=False),
    Action("move(1)", "right", "Next", "One question on; 47 and → goes to 47.",
           footer=False, palette=False),
    Action("move(-10)", "up", "Up", "A row up.", footer=False, palette=False),
    Action("move(10)", "down", "Down", "A row down.", footer=False, palette=False),
    Action("first", "home", "First", "To the first question.", footer=False, palette=False),
    Action("part(-1)", "pageup", "Chapter before", "To the chapter before, in a list of several.",
           footer=False, palette=False),
    Action("part(1)", "pagedown", "Chapter after", "To the chapter after, in a list of several.",
           footer=False, palette=False),
)  # fmt: skip
