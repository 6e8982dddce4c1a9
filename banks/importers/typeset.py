"""How printed banks set out a question: the marks by which a line's role is known."""

import re
from itertools import islice

from msgspec import Struct

from domain.questions import LETTERS

QUESTION = re.compile(
    r"\s*(?:\*\*)?(?:(?:Q|Question)\s*[.:]?\s*(?:No\.?\s*)?(\d{1,5})\s*[.):\-–]?(?!\d)"
    r"|(\d{1,5})\s*(?:[.](?!\d)|\)|:(?!\d)|[-–](?=\s)))(?:\*\*)?\s*(.*)",
    re.IGNORECASE | re.DOTALL,
)
SUBJECT = re.compile(r"\s*(?:#\s+(?!#)|Subject\s*[:\-–]\s*)(\S.*)", re.IGNORECASE)
CHAPTER = re.compile(
    r"\s*(?:#{2,4}\s+(\S.*)|((?:Chapter|Unit|Section|Topic|Lesson)\s*(?:\d+|[IVXLC]+\b|[:\-–]).*))",
    re.IGNORECASE,
)
KEY_HEADING = re.compile(
    r"[\s#*=_-]*(?:answers?[\s-]*(?:keys?|sheet)?|keys?|correct answers?)"
    r"(?:\s+(?:to|for|of)\b.*)?[\s:*=_-]*",
    re.IGNORECASE,
)
NOTES_HEADING = re.compile(
    r"[\s#*=_-]*(?:explanations?|explanatory answers|solutions?|rationales?"
    r"|answers? (?:and|with|&) explanations?|hints (?:and|&) solutions)[\s:*=_-]*",
    re.IGNORECASE,
)
KEY = re.compile(
    r"\s*[\[(*]*(?:Ans(?:wer)?s?|Key|Correct(?:\s+(?:answer|option|choice))?)(?:\s+is)?\s*[.:\-–=)]+\s*(.*)"
    r"|\s*[\[(*]*(?:Ans(?:wer)?)\s+(\(?[A-Ha-h1-8]\)?\W?.*)",
    re.IGNORECASE | re.DOTALL,
)
KEY_AT_END = re.compile(
    r"\s+[\[(]?(?:Ans(?:wer)?|Key|Correct(?:\s+answer)?)\s*[.:\-–=]+\s*[(\[]?([A-Ha-h1-8])[)\]]*\.?\s*$",
    re.IGNORECASE,
)
KEY_AND_NOTE = re.compile(
    r"[(\[]?([A-Ha-h1-8](?:\s*(?:,|&|and)\s*[A-Ha-h])*)(?:[)\]*]+[\s.:,;\-–]*|[.:,;\-–]+\s+|\s*$)(.*)",
    re.DOTALL,
)
NOTE = re.compile(
    r"\s*[\[(*]*(?:Explanation|Expl?|Rationale|Solution|Sol|Reason)\s*[.:\-–*]+\s*(.*)",
    re.IGNORECASE | re.DOTALL,
)
REFERENCE = re.compile(
    r"\s*[\[(*]*((?:Ref(?:erence)?s?|Source)\s*[.:\-–]+\s*(.*?)|(?:p\.|pp\.|page)\s*\d[\d\s,–-]*)[\])*]*\s*",
    re.IGNORECASE,
)
_PAIR = re.compile(
    r"Q?\s*\d{1,5}\s*[.):\-–=|→]*\s*[(\[]?\s*(?:[A-Ha-h](?![a-zA-Z])|[1-8](?![\w-])|[*?])\s*[)\]]?"
)
_ROW_NUMBER = re.compile(r"[\s|]*\d{1,5}(?:\s*[-–]\s*\d{1,5})?\s*[.):]?(?![\d-])")
_NUMBERS = re.compile(r"[\s|]*(?:\d+[\s|]+){2,}\d*[\s|]*")
LIST_ITEM = re.compile(r"\s*(?:\(?\d{1,2}[.)]|\(?[ivx]{1,4}[.)]|[-•*–]\s|\|)")
RIGHT_MARK = re.compile(r"\s*(?:[✓✔☑]|\(\s*correct\s*\)|\[\s*correct\s*\])\s*$", re.IGNORECASE)


def number_of(question: re.Match[str]) -> int:
    """The number in a match of QUESTION."""
    return int(question[1] or question[2])


def without_label(text: str) -> str:
    """An explanation without the word "Explanation" before it."""
    note = NOTE.fullmatch(text)
    return note[1] if note else text


def is_pairs(line: str) -> bool:
    """Whether a line is nothing but numbers with their letters: `1-b, 2-c`."""
    rest, count = _PAIR.subn("", line)
    return count > 0 and not rest.strip(" \t|,;.")


def is_key_data(line: str) -> bool:
    """Whether a line can only be part of a key: pairs, a row of letters, a row of numbers."""
    if is_pairs(line) or _NUMBERS.fullmatch(line):
        return True
    letters = _ROW_NUMBER.sub("", line, count=1).replace("|", " ").split()
    return bool(letters) and all(set(word.lower()) <= set(LETTERS) for word in letters)


class Style(Struct, frozen=True):
    """How options are labelled: the sign before, the sign after, and the row of labels."""

    before: str
    after: str
    labels: str

    def label(self, at: int) -> str:
        """A pattern for the label of the option at a position."""
        return re.escape(self.before) + re.escape(self.labels[at]) + re.escape(self.after)


_DIGITS = "12345678"
_FIRST = re.compile(r"\s*\*?([(\[]?)([Aa1])([)\].:])(?!\d)\s*(?=\S|$)")
_FIRST_INSIDE = re.compile(r"(?:(?<=\s)|(?<=[?:.]))([(\[]?)([Aa1])([)\].])\s*(?=\S)")
_TRIES = 20
_LABELS = {"A": LETTERS.upper(), "a": LETTERS, "1": _DIGITS}


def first_label(text: str, *, digits: bool) -> tuple[Style, int] | None:
    """The style of a first option's label at the start of a line, and where its text begins."""
    match = _FIRST.match(text)
    if not match or (match[2] == "1" and not (digits and match[3] in ")]")):
        return None
    return Style(match[1], match[3], _LABELS[match[2]]), match.end()


def inner_labels(text: str) -> tuple[Style, int, int] | None:
    """The style of the first option's label within a line, where it starts and where it ends.

    Only where the second option follows on the same line, so that "vitamin A." is no label.
    """
    for match in islice(_FIRST_INSIDE.finditer(text), _TRIES):
        style = Style(match[1], match[3], _LABELS[match[2]])
        if style.after == "." and match[2] == "1":
            continue
        if next_label(text, match.end(), style, 1):
            return style, match.start(), match.end()
    return None


def next_label(text: str, start: int, style: Style, at: int) -> re.Match[str] | None:
    """The label of the option at position `at` within a line, from `start` on."""
    if at >= len(style.labels):
        return None
    tight = "" if style.after in ")]" else r"(?=\s)"
    return re.compile(r"(?:(?<=\s)|(?<=[;,]))" + style.label(at) + tight + r"\s*").search(
        text, start
    )


def option_label(text: str, style: Style, at: int) -> re.Match[str] | None:
    """The label of the option at position `at` at the start of a line."""
    if at >= len(style.labels):
        return None
    return re.compile(r"\s*\*?" + style.label(at) + r"(?!\d)\s*").match(text)
