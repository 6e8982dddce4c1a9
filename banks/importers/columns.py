"""What a table's columns hold: by headers, by content, or as the candidate says.

Our own exports use the names of `FIELDS` as they stand. `a`…`z` are the options, one a column;
`options` is all of them in one cell or list; `distractors` are all but the right ones, which
stand as the key. `fixed` names the letters of options that keep
their place; `credit` is `a=1 c=0.5`; `note_a`…`note_z` explain single options. `history` is known
by its name, so that it can be told that it is not taken: it may be another candidate's.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct

from banks.importers.cells import hold_options
from banks.importers.common import Finding, unused
from domain.questions import LETTERS

OPTION_NOTES = tuple(f"note_{letter}" for letter in LETTERS)
FIELDS = (
    *("subject", "chapter", "number", "code", "kind", "stem", *LETTERS, "options", "key"),
    "tolerance",
    *("explanation", "reference", "tags", "shuffle", "fixed", "credit", *OPTION_NOTES),
    "to_check",
)

_SPELLINGS = {
    "subject": "subject subjectname subjecttitle subj discipline course",
    "chapter": "chapter chaptername chaptertitle topic topicname unit section category lesson"
    " module",
    "number": "number no nr num qno qnumber qnum questionnumber questionno questionnr sno slno srno"
    " serial serialno itemno",
    "code": "code itemcode questioncode",
    "to_check": "tocheck",
    "kind": "kind type questiontype itemtype",
    "stem": "stem question questiontext questionstem text prompt problem item itemstem q que ques"
    " statement query",
    "options": "options opts choices alternatives answers answeroptions answerchoices optionlist",
    "distractors": "distractors incorrectanswers incorrect wronganswers wrong falseanswers"
    " incorrectoptions wrongoptions incorrectanswer wronganswer",
    "key": "key answer answerkey correct correctanswer correctoption correctkey correctchoice cop"
    " ans anskey ansoption correctans rightans rightanswer rightoption answerindex correctindex"
    " answerletter label answerid gold target correctanswers rightanswers correctoptions"
    " correctchoices keys",
    "tolerance": "tolerance margin plusminus",
    "explanation": "explanation explanations exp rationale solution reason feedback comment"
    " comments justification discussion why",
    "reference": "reference ref page pages pageno pagenumber source bookpage",
    "tags": "tags tag keywords",
    "shuffle": "shuffle",
    "fixed": "fixed",
    "credit": "credit",
    "history": "history",
}
_OPTION = re.compile(
    r"(?:(?:option|opt|op|choice|answer|ans|alternative|distractor)([a-z]|\d{1,2})|([a-h1-8]))"
)
_MEANING = {word: name for name, words in _SPELLINGS.items() for word in words.split()}


def meaning(header: str) -> str | None:
    """The field that a column header or an object's member name stands for, None if unclear."""
    plain = header.strip().casefold()
    if plain in OPTION_NOTES:
        return plain
    if plain == "#":
        return "number"
    word = _without_signs(plain)
    if word in _MEANING:
        return _MEANING[word]
    option = _OPTION.fullmatch(word)
    if not option or word.isdigit():
        return None
    letter = option[1] or option[2]
    if not letter.isdigit():
        return letter
    return LETTERS[int(letter) - 1] if 1 <= int(letter) <= len(LETTERS) else None


def fold_header(header: str) -> str:
    """A header without case and punctuation; of a member's path (`where.subject`) the last part."""
    is_path = re.fullmatch(r"\w+(?:\.\w+)+", header)
    return _without_signs(header.rpartition(".")[2] if is_path else header)


def _without_signs(text: str) -> str:
    return re.sub(r"[\W_]+", "", text.casefold())


def fields_by_header(headers: Iterable[str], fields: Mapping[str, str]) -> dict[str, int]:
    """Field → column, by a table of folded headers; the first taker of a field wins."""
    places: dict[str, int] = {}
    for at, name in enumerate(map(fold_header, headers)):
        if field := fields.get(name):
            places.setdefault(field, at)
    return places


def meanings(headers: list[str]) -> dict[str, int]:
    """Field → position, the first taker of a field wins.

    "Question" beside a better-named stem column is the question's number.
    """
    places: dict[str, int] = {}
    for at, header in enumerate(headers):
        name = meaning(header)
        if name is None:
            continue
        if name == "stem" and name in places and "number" not in places:
            first = headers[places["stem"]].strip().casefold()
            if first in ("question", "q", "item"):
                places["number"] = places["stem"]
                places["stem"] = at
                continue
        places.setdefault(name, at)
    for before, letter in pairwise(LETTERS[7:]):  # a lone i is an option only after an h
        if before in places and letter not in places and letter in headers:
            places[letter] = headers.index(letter)
    return places


_KEY = re.compile(r"\(?[a-hA-H0-8]\)?\.?")
_WORDS = re.compile(r".*[^\W\d_]{2}.*", re.DOTALL)
_WHOLE = re.compile(r"\d{1,6}\.?")


class Columns(Struct, frozen=True, kw_only=True):
    """A guess at what the columns hold, for a preview or a mapping screen.

    `names` are the headers, or "column 1"… where there are none; `mapping` is field → position;
    `sample` the first rows under the header. `sure` False: the candidate should look. `width` is
    how many cells a row usually has (the header's, where there is one). `above`: how many rows,
    as titles, stand above the table.
    """

    names: tuple[str, ...]
    mapping: dict[str, int]
    header: bool
    sample: tuple[tuple[str, ...], ...]
    sure: bool
    width: int = 0
    above: int = 0

    def unused(self, mapping: dict[str, int]) -> list[Finding]:
        """What to tell of the named columns that a mapping leaves out."""
        left = [name for at, name in enumerate(self.names) if at not in mapping.values()]
        return unused("columns", [name for name in left if not name.startswith("column ")])


def guess(rows: Sequence[Sequence[str]]) -> Columns:
    """What the columns of a table hold, from its first rows (a few dozen are enough)."""
    rows = [row for row in rows if any(cell.strip() for cell in row)]
    if not rows:
        return Columns(names=(), mapping={}, header=False, sample=(), sure=False)
    first = [cell.strip() for cell in rows[0]]
    first += [""] * (_usual_width(rows) - len(first))
    mapping = meanings(first)
    if is_header(first, mapping):
        if "stem" not in mapping:
            mapping |= _with_options(rows[1:], mapping)
        return _columns(rows, mapping, True, is_enough(mapping))
    mapping = by_content(rows)
    if mapping:
        named = len(rows) > 1 and not _KEY.fullmatch(first[mapping["key"]])
        return _columns(rows, mapping, named, True)
    header = len(rows) > 1 and all(0 < len(cell) <= 40 for cell in first)
    return _columns(rows, meanings(first) if header else {}, header, False)


def _with_options(rows: Sequence[Sequence[str]], mapping: dict[str, int]) -> dict[str, int]:
    """The column whose cells hold stems with their options, whatever it is called."""
    for at in sorted(set(range(_usual_width(rows) if rows else 0)) - set(mapping.values())):
        if hold_options([row[at] for row in rows if at < len(row)]):
            return {"stem": at}
    return {}


def is_header(first: Sequence[str], mapping: dict[str, int]) -> bool:
    """Whether a first row names columns: two known names, neither of them a mere letter."""
    named = [cell for cell in first if len(cell.strip()) > 1 and meaning(cell)]
    return len(named) >= 2 and ("stem" in mapping or "number" in mapping)


def is_enough(mapping: dict[str, int]) -> bool:
    """Whether questions can be read: a stem, or numbers (with or without a key)."""
    return "stem" in mapping or "number" in mapping


def by_content(rows: Sequence[Sequence[str]]) -> dict[str, int]:
    """The columns of a table without headers: [number,] stem, two or more options, key.

    Published keyed sets come like this. Empty when the content is not clearly so; a few ragged
    rows don't matter, they are told of one by one.
    """
    width = _usual_width(rows)
    full = [row for row in rows if len(row) == width]
    if width < 2 or len(full) * 10 < len(rows) * 6:
        return {}
    held = [[row[at].strip() for row in full] for at in range(width)]
    if not _mostly(_KEY, held[-1]):
        return {}
    numbered = _mostly(_WHOLE, held[0]) and _rising(held[0])
    if width == 2:
        return {"number": 0, "key": 1} if numbered else {}
    stem = 1 if numbered else 0
    if not _mostly(_WORDS, held[stem]):
        return {}
    options = range(stem + 1, width - 1)
    if not 2 <= len(options) <= len(LETTERS):
        return {}
    mapping = {"number": 0} if numbered else {}
    mapping |= {"stem": stem} | dict(zip(LETTERS, options, strict=False))
    return mapping | {"key": width - 1}


def _columns(
    rows: Sequence[Sequence[str]], mapping: dict[str, int], header: bool, sure: bool
) -> Columns:
    width = max(map(len, rows))
    names = [f"column {at + 1}" for at in range(width)]
    if header:
        names[: len(rows[0])] = [
            cell.strip() or name for cell, name in zip(rows[0], names, strict=False)
        ]
    return Columns(
        names=tuple(names),
        mapping=mapping,
        header=header,
        sample=tuple(tuple(row) for row in rows[header : header + 5]),
        sure=sure,
        width=len(rows[0]) if header else _usual_width(rows),
    )


def _usual_width(rows: Sequence[Sequence[str]]) -> int:
    return Counter(map(len, rows)).most_common(1)[0][0]


def _mostly(pattern: re.Pattern[str], cells: Sequence[str]) -> bool:
    fitting = sum(1 for cell in cells if pattern.fullmatch(cell))
    return fitting * 10 >= len(cells) * 9


def _rising(cells: Sequence[str]) -> bool:
    numbers = [int(cell.rstrip(".")) for cell in cells if _WHOLE.fullmatch(cell)]
    return all(a < b for a, b in pairwise(numbers))
