"""The names of what a question is made of, and the obvious spellings of them in files.

Our own exports use the names of `FIELDS` as they stand. `a`…`z` are the options, one a column;
`options` is all of them in one cell or list; `distractors` are all but the right ones, which
stand as the key. `fixed` names the letters of options that keep
their place; `credit` is `a=1 c=0.5`; `note_a`…`note_z` explain single options. `history` is known
by its name, so that it can be told that it is not taken: it may be another candidate's.
"""

import re
from itertools import pairwise

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
    folded = re.sub(r"[\W_]+", "", plain)
    if folded in _MEANING:
        return _MEANING[folded]
    option = _OPTION.fullmatch(folded)
    if not option or folded.isdigit():
        return None
    letter = option[1] or option[2]
    if not letter.isdigit():
        return letter
    return LETTERS[int(letter) - 1] if 1 <= int(letter) <= len(LETTERS) else None


def meanings(headers: list[str]) -> dict[str, int]:
    """Field → position, the first taker of a field wins.

    "Question" beside a better-named stem column is the question's number.
    """
    found: dict[str, int] = {}
    for at, header in enumerate(headers):
        name = meaning(header)
        if name is None:
            continue
        if name == "stem" and name in found and "number" not in found:
            first = headers[found["stem"]].strip().casefold()
            if first in ("question", "q", "item"):
                found["number"] = found["stem"]
                found["stem"] = at
                continue
        found.setdefault(name, at)
    for before, letter in pairwise(LETTERS[7:]):  # a lone i is an option only after an h
        if before in found and letter not in found and letter in headers:
            found[letter] = headers.index(letter)
    return found
