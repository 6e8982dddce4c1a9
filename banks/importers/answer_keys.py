"""Answer keys as printed, pasted or typed → {number: letters}, and what is wrong, by number.

A key is read as groups: numbers, then letters. One number and one letter is a pair (`1 b`,
`2. (c)`, `3-A`); one number and a run of letters is a row that counts on (`11 BCADB CADBA`), or
several letters of one question where the next number follows at once (`4 a,c`); several numbers
and as many letters are a heading line with its line of letters.
"""

import re
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import zip_longest

from msgspec import Struct

from banks.importers.cells import split_texts
from banks.importers.common import Draft, DraftOption, Finding
from domain.grading import number as as_number
from domain.questions import KEYED_LETTERS, LETTERS, Kind, normal_text

_WORDS = re.compile(
    r"\b(?:answers?|ans|keys?|questions?|ques|q|nos?|number|options?|correct|is|the|of|to|for"
    r"|chapter)\b\.?",
    re.IGNORECASE,
)
_HEADING = re.compile(r"\b(?:chapter|section|unit|page|part)\s*[:.]?\s*\d+", re.IGNORECASE)
_GAPS = re.compile(r"[^\S\n]{3,}")
_TOKEN = re.compile(r"\d+|[^\W\d_]+(?:[ \t]*[,/&+][ \t]*[^\W\d_]+\b)*|[*?]")
_RANGE = re.compile(
    r"(?<!\d)(\d{1,6})\s*(?:-|–|—|to)\s*(\d{1,6})\s*[:.)]?(?=\s*[a-z]{2}|\s+(?:[a-z]\s+){2})",
    re.IGNORECASE,
)
_DIGIT_PAIR = re.compile(
    r"(?<!\d)(\d{1,6})\s*[-–—.:)=→]+\s*\(?\s*([1-8])\b\)?|(?<!\d)(\d{1,6})\s*\(\s*([1-8])\s*\)"
)
_EXPLAINED = re.compile(
    r"(?<!\w)(\d{1,5})\s*[.):-]\s*\(([A-Ha-h](?:\s*[,&]\s*[A-Ha-h])*)\)(?=\s+[^\W\d_]{2})"
)
_TRUTH = {"t": "a", "true": "a", "f": "b", "false": "b"}


class KeyProblem(Struct, frozen=True):
    """What is wrong with the key of one question (number 0: with the key as a whole)."""

    number: int
    reason: str
    is_gap: bool = False


class KeySheet(Struct, frozen=True):
    """A chapter's key as found: letters by question number, and what is wrong with it."""

    keys: dict[int, tuple[str, ...]]
    problems: tuple[KeyProblem, ...]


class _Group(Struct):
    """Numbers that stand together and the letters that follow them."""

    numbers: list[int]
    words: list[str]


def parse_keys(
    text: str,
    *,
    expected: Iterable[int] | None = None,
    option_count: int = len(KEYED_LETTERS),
    first: int = 1,
) -> KeySheet:
    """The key that a text holds.

    `expected`: the chapter's question numbers, to check that none is missing or too many (None:
    from the smallest to the largest found). Letters beyond `option_count` are out of range.
    Letters without any number count from `first` on.
    """
    reader = _Reader(option_count)
    reader.read(_groups(_prepared(text), first))
    return reader.sheet(None if expected is None else sorted(set(expected)))


def _prepared(text: str) -> str:
    """The text with plain signs, without headings, and with digits for options as letters."""
    plain = _GAPS.sub("  ", unicodedata.normalize("NFKC", text))
    explained = _EXPLAINED.findall(plain)
    if explained and re.search(r"[^\W\d_]{4}", _WORDS.sub(" ", _HEADING.sub(" ", plain))):
        # Keys with their explanations: the letters of words are no keys.
        return "\n".join(f"{number} {letters}" for number, letters in explained)
    plain = _WORDS.sub(" ", _HEADING.sub(" ", re.sub(r"\b[Qq](?=\d)", " ", plain)))
    plain = re.sub(r"(?<=\b[A-Ha-h])\s+and\s+(?=[A-Ha-h]\b)", "&", plain)
    plain = _RANGE.sub(r" \1 ", plain)
    plain = _truths(plain)
    if re.search(r"[a-zA-Z]", plain):
        return plain
    lettered, count = _DIGIT_PAIR.subn(_lettered, plain)
    return lettered if count else _alternating(plain)


def _truths(plain: str) -> str:
    words = {word.lower() for word in re.findall(r"[^\W\d_]+", plain)}
    if not words or not words <= _TRUTH.keys() or not words & {"t", "true", "false"}:
        return plain
    return re.sub(r"[^\W\d_]+", lambda word: _TRUTH[word.group().lower()], plain)


def _lettered(pair: re.Match[str]) -> str:
    number, option = pair.group(1) or pair.group(3), pair.group(2) or pair.group(4)
    return f" {number} {LETTERS[int(option) - 1]} "


def _alternating(plain: str) -> str:
    """`1 2 2 4 3 1`: numbers in step with options, taken as pairs when they can be nothing else."""
    figures = [int(number[:9]) for number in re.findall(r"\d+", plain)]
    numbers, options = figures[::2], figures[1::2]
    most = len(KEYED_LETTERS)
    if len(numbers) != len(options) or not all(1 <= option <= most for option in options):
        return plain
    if numbers != list(range(numbers[0], numbers[0] + len(numbers))) if numbers else True:
        return plain
    pairs = zip(numbers, options, strict=True)
    return " ".join(f"{number} {LETTERS[option - 1]}" for number, option in pairs)


def _groups(text: str, first: int) -> list[_Group]:
    groups: list[_Group] = []
    for token in _TOKEN.findall(text):
        if token.isdigit():
            if not groups or groups[-1].words:
                groups.append(_Group([], []))
            groups[-1].numbers.append(int(token[:9]))
        elif groups:
            groups[-1].words.append(token)
        else:
            groups.append(_Group([first], [token]))
    return groups


class _Reader:
    """Gathers keys and problems group by group."""

    def __init__(self, option_count: int) -> None:
        self._letters = LETTERS[:option_count]
        self._keys: dict[int, tuple[str, ...]] = {}
        self._problems: list[KeyProblem] = []
        self._told: set[int] = set()

    def read(self, groups: list[_Group]) -> None:
        for group, following in zip_longest(groups, groups[1:]):
            nxt = following.numbers[0] if following else None
            if len(group.numbers) > 1:
                self._read_table(group, nxt)
            else:
                self._read_one(group.numbers[0], group.words, nxt)

    def sheet(self, expected: list[int] | None) -> KeySheet:
        """All of it, with gaps and surplus numbers reported."""
        numbers = self._keys.keys() | self._told
        if not numbers and expected is None:
            return KeySheet({}, (KeyProblem(0, "no key was recognised"),))
        span = expected if expected is not None else range(min(numbers), max(numbers) + 1)
        gaps = [number for number in span if number not in numbers] if len(span) < 20_000 else []
        self._problems += [
            KeyProblem(number, f"{number} has no letter", is_gap=True) for number in gaps
        ]
        if expected is not None:
            self._check_count(set(expected))
        ordered = sorted(self._problems, key=lambda problem: problem.number)
        return KeySheet(dict(sorted(self._keys.items())), tuple(ordered))

    def _check_count(self, expected: set[int]) -> None:
        span = f"{min(expected)}–{max(expected)}" if expected else "no questions"
        for number in sorted(self._keys.keys() - expected):
            self._tell(number, f"{number} is not in the chapter ({span})")
            del self._keys[number]
        if len(self._keys) != len(expected):
            problem = f"{len(self._keys)} letters for {len(expected)} questions"
            self._problems.append(KeyProblem(0, problem))

    def _read_table(self, group: _Group, nxt: int | None) -> None:
        """A line of numbers over a line of letters, or numbers whose letters are missing."""
        letters = _spread(group.words, len(group.numbers))
        if len(letters) == len(group.numbers):
            for number, letter in zip(group.numbers, letters, strict=True):
                self._add(number, [letter])
            return
        *alone, last = group.numbers
        if group.words and len(alone) < 3:
            for number in alone:
                self._tell(number, f"{number} has no letter")
            self._read_one(last, group.words, nxt)
            return
        problem = f"{len(letters)} letters under {len(group.numbers)} numbers"
        for number in group.numbers:
            self._tell(number, f"{number}: {problem}")

    def _read_one(self, number: int, words: list[str], nxt: int | None) -> None:
        letters = _spread(words, None)
        if not letters:
            self._tell(number, f"{number} has no letter")
        elif len(words) == 1 and (len(words[0]) == 1 or self._is_word(words[0])):
            self._add(number, words)
        elif nxt == number + 1 or (nxt is None and _is_list(words)):
            self._add(number, letters)
        else:
            self._read_row(number, letters, nxt)

    def _read_row(self, number: int, letters: list[str], nxt: int | None) -> None:
        """A row with a running number; where the next row does not fit, its count is wrong."""
        if nxt is not None and nxt > number and nxt - number != len(letters):
            problem = f"the row at {number} holds {len(letters)} letters, {nxt - number} expected"
            for each in range(number, min(nxt, number + max(len(letters), 20))):
                self._told.add(each)
            self._problems.append(KeyProblem(number, problem))
            return
        for at, letter in enumerate(letters):
            self._add(number + at, [letter])

    def _is_word(self, word: str) -> bool:
        return (
            len(word) > 1
            and word.isalpha()
            and not all(letter in KEYED_LETTERS for letter in word.lower())
            and (word.islower() or word.istitle() or len(word) < 4)
        )

    def _add(self, number: int, letters: list[str]) -> None:
        bad = [letter for letter in letters if letter.lower() not in tuple(self._letters)]
        key = tuple(sorted({letter.lower() for letter in letters}))
        if bad:
            problem = (
                f"{number}: '{bad[0][:12]}' is not one of {self._letters[0]}–{self._letters[-1]}"
            )
            self._tell(number, problem)
        elif number in self._keys:
            kept = ",".join(self._keys[number])
            self._tell(number, f"{number} occurs twice ({kept} kept, {','.join(key)} not)")
        else:
            self._keys[number] = key

    def _tell(self, number: int, reason: str) -> None:
        self._told.add(number)
        self._problems.append(KeyProblem(number, reason))


def _spread(words: list[str], count: int | None) -> list[str]:
    """Single letters of the words; whole words are kept where they are as many as wanted."""
    if count is not None and len(words) == count:
        return words
    return [letter for word in words for letter in word if letter.isalpha() or letter in "*?"]


def _is_list(words: list[str]) -> bool:
    """Whether letters are the several keys of one question: listed with signs, and ascending."""
    letters = _spread(words, None)
    return len(words) == 1 and not words[0].isalpha() and letters == sorted(set(letters))


# Keys of single questions: what a line says after "Answer:", what a row of a table holds.

_SIGN = r"[(\[{]?\s*(?:[A-Za-z]|\d{1,2}|[ivxIVX]{2,4})(?![^\W_])\s*[)\]}]?"
_SIGNS = re.compile(
    rf"[\s*_]*(?:options?\s+|choice\s+)?({_SIGN}(?:\s*(?:,|&|/|;|\+|\band\b|\bund\b|\bet\b|\by\b)"
    rf"\s*{_SIGN})*)(.*)",
    re.DOTALL | re.IGNORECASE,
)


def signs_of(text: str) -> tuple[str, str] | None:
    """The options' signs with which a key begins, as `b,c`, and the text after them.

    None where the text begins with a word: `a cloud` names no option.
    """
    match = _SIGNS.fullmatch(text)
    if not match:
        return None
    held, rest = match[1], match[2]
    is_bracketed = held.rstrip()[-1:] in ")]}"
    ends = re.match(r"[\s*_]*(?:$|[.:;,\-–—=)\]]+(?:\s|$)|[.:]\W*$)", rest)
    if not ends and not (is_bracketed and (rest[:1].isspace() or held[-1:].isspace())):
        return None
    signs = ",".join(re.findall(r"[A-Za-z]+|\d+", re.sub(r"\b(?:and|und|et|y)\b", ",", held)))
    return signs, rest[ends.end() if ends else 0 :].strip("*_ ")


_LETTER_LIST = re.compile(r"[a-h](?:(?:\s*[,;/&+|]\s*|\s+and\s+|\s+)[a-h])*|[a-h]{2,8}")
_ANY_LETTERS = re.compile(r"[a-z](?:\s*[,;/&+|]\s*[a-z])*")
_NUMBER_LIST = re.compile(r"\d(?:\s*[,;/&+|]\s*\d)*")
_KEY_LABEL = re.compile(
    r"(?:option|choice|answer|ans)\s*[:.]?\s*(?=\W?[a-h1-8]\W?$)", re.IGNORECASE
)
_TRUE_FALSE = ("true", "false")
_SHARED: dict[tuple[int | str, ...], tuple[int | str, ...]] = {}
"""Each of the few keys made of letters or positions once, however many questions have it."""
_TRUTHS = {"t": 0, "true": 0, "yes": 0, "f": 1, "false": 1, "no": 1}


def fit_keys(
    drafts: Sequence[Draft],
    raws: Sequence[str],
    kinds: dict[int, Kind],
    base: int | None,
) -> tuple[list[Draft], list[Finding], list[Finding]]:
    """Give each draft the key that its raw text stands for.

    `raws` runs beside `drafts`; `kinds` holds the kinds that the file states, by position.
    `base` 0 or 1 says how numbers count; None: what fits the whole file. Returns the good
    drafts, those skipped, and warnings.
    """
    warnings: list[Finding] = []
    if are_texts := _are_texts(drafts, raws):
        raws = [
            LETTERS[place] if raw.isdecimal() and (place := _text_at(draft, raw)) >= 0 else raw
            for draft, raw in zip(drafts, raws, strict=True)
        ]
        first = next(draft.line for draft in drafts if draft.options)
        warnings.append(Finding(first, "the answer keys are the options' texts, not their numbers"))
    if base is None and not are_texts:
        base, warning = numeric_base(drafts, raws)
        warnings += [warning] if warning else []
    good: list[Draft] = []
    skipped: list[Finding] = []
    for at, (draft, raw) in enumerate(zip(drafts, raws, strict=True)):
        problem = _fit(draft, raw, kinds.get(at), 1 if base is None else base)
        if problem:
            skipped.append(Finding(draft.line, problem))
        else:
            good.append(draft)
    return good, skipped, warnings


def _are_texts(drafts: Sequence[Draft], raws: Sequence[str]) -> bool:
    """Whether keys that are numbers are the options' texts: all fit, one fits as nothing else."""
    is_proved = False
    for draft, raw in zip(drafts, raws, strict=True):
        if not raw.isdecimal() or not draft.options:
            continue
        if _text_at(draft, raw) < 0:
            return False
        is_proved = is_proved or int(raw[:9]) > len(draft.options)
    return is_proved


def _text_at(draft: Draft, raw: str) -> int:
    """Which option's text a raw key is; -1 for none."""
    texts = [option.text for option in draft.options]
    return texts.index(raw) if raw in texts else -1


def numeric_base(drafts: Sequence[Draft], raws: Sequence[str]) -> tuple[int, Finding | None]:
    """Whether numeric keys count from 0 or from 1, decided over all rows, and what was unclear."""
    zeros = tops = numbers = texts = 0
    first = 0
    for draft, raw in zip(drafts, raws, strict=True):
        if len(raw) > 1 or not raw.isdecimal() or not draft.options:
            continue
        first = first or draft.line
        numbers += 1
        zeros += raw == "0"
        tops += int(raw) == len(draft.options)
        texts += any(option.text == raw for option in draft.options)
    if zeros and not tops:
        return 0, None
    if not numbers or (tops and not zeros) or texts == numbers:
        return 1, None
    if zeros and tops:
        base, seen = int(tops >= zeros), "both 0 and the number of the last option occur"
    else:
        base, seen = 1, "neither 0 nor the number of the last option occurs"
    reason = f"the keys are numbers and {seen}: read as counted from {base}; check a few"
    return base, Finding(first, reason)


def _fit(draft: Draft, raw: str, kind: Kind | None, base: int) -> str:
    """Set the draft's kind and key. Returns what is wrong, "" if nothing is."""
    options = draft.options
    if kind in (Kind.TEXT, Kind.NUMERIC) or (draft.stem and not options):
        return _fit_open(draft, raw, kind)
    if not raw:
        draft.kind = kind or draft.kind
        return ""
    key = _positions(raw, options, base) if options else _bare_letters(raw)
    if key is None:
        return f"the key '{_short(raw)}' is neither an option's letter or number nor its text"
    if options and any(at >= len(options) or not options[at].text for at in key):
        return f"the key '{_short(raw)}' names an option that isn't there ({len(options)} given)"
    made: tuple[int | str, ...] = tuple(key) if options else tuple(LETTERS[at] for at in key)
    draft.key = _SHARED.setdefault(made, made)
    draft.kind = kind or (Kind.MULTIPLE if len(key) > 1 else _choice_kind(options))
    return ""


def _fit_open(draft: Draft, raw: str, kind: Kind | None) -> str:
    """A question without options: true or false, a number, a short text, or a printed option."""
    folded = raw.casefold()
    if kind is None and folded in _TRUE_FALSE:
        kind, draft.options = Kind.TRUE_FALSE, (DraftOption("True"), DraftOption("False"))
    if kind is Kind.TRUE_FALSE:
        draft.kind, draft.key = kind, (_TRUTHS[folded],) if folded in _TRUTHS else ()
        return "" if draft.key or not raw else f"the key '{_short(raw)}' is not true or false"
    if kind is Kind.TEXT:
        draft.kind, draft.key = kind, split_texts(raw)
        return ""
    letters = _bare_letters(raw) if kind is not Kind.NUMERIC else None
    if letters is not None:
        draft.key = tuple(LETTERS[at] for at in letters)
        draft.kind = kind or (Kind.MULTIPLE if len(letters) > 1 else Kind.BEST)
    elif not raw or as_number(raw) is not None:
        draft.kind = Kind.NUMERIC if raw else kind or Kind.BEST
        draft.key = (raw,) if raw else ()
    elif kind is not None:
        return f"the key '{_short(raw)}' does not fit a question of the kind '{kind}'"
    else:
        draft.kind, draft.key = Kind.TEXT, (raw,)
    return ""


def _choice_kind(options: tuple[DraftOption, ...]) -> Kind:
    if len(options) == 2 and tuple(option.text.casefold() for option in options) == _TRUE_FALSE:
        return Kind.TRUE_FALSE
    return Kind.BEST


def _positions(raw: str, options: tuple[DraftOption, ...], base: int) -> list[int] | None:
    """Positions of the options that the raw key names; a letter before a number before a text."""
    if len(options) == 2 and (truth := _truth(raw, options)) is not None:
        return [truth]
    if len(raw) == 1:
        at = LETTERS.find(raw.lower())
        if 0 <= at < max(len(options), len(KEYED_LETTERS)):
            return [at]
    folded = _KEY_LABEL.sub("", raw).strip(" ().[]").lower()
    if _LETTER_LIST.fullmatch(folded) and (letters := _bare_letters(folded)) is not None:
        exact = _by_text(raw, options)
        return letters if exact is None else exact
    if _NUMBER_LIST.fullmatch(folded):
        numbers = [int(digit) - base for digit in re.findall(r"\d", folded)]
        if all(0 <= at < len(options) for at in numbers):
            return sorted(set(numbers))
    if (exact := _by_text(raw, options)) is not None:
        return exact
    if len(options) > len(KEYED_LETTERS) and _ANY_LETTERS.fullmatch(folded):
        return sorted({LETTERS.index(letter) for letter in folded if letter.isalpha()})
    labelled = re.match(r"\(?([a-h])\)?\s*[.):\-]\s*\S", folded)
    return [LETTERS.index(labelled.group(1))] if labelled else _several_texts(raw, options)


def _truth(raw: str, options: tuple[DraftOption, ...]) -> int | None:
    words = [option.text.casefold() for option in options]
    if sorted(words) != ["false", "true"] or raw.casefold() not in _TRUTHS:
        return None
    return words.index(_TRUE_FALSE[_TRUTHS[raw.casefold()]])


def _bare_letters(raw: str) -> list[int] | None:
    folded = raw.strip(" ().[]").lower()
    if not _LETTER_LIST.fullmatch(folded):
        return None
    letters = re.findall(r"[a-h]", re.sub(r"\band\b", " ", folded))
    # "bad" is a word, "abd" a key: letters run upwards in a key without separators.
    if len(folded) == len(letters) > 1 and letters != sorted(set(letters)):
        return None
    return sorted({LETTERS.index(letter) for letter in letters})


def _by_text(raw: str, options: tuple[DraftOption, ...]) -> list[int] | None:
    text = normal_text(raw)
    for fold in (str, str.casefold):
        for at, option in enumerate(options):
            if fold(normal_text(option.text)) == fold(text):
                return [at]
    return None


def _several_texts(raw: str, options: tuple[DraftOption, ...]) -> list[int] | None:
    parts = [part for part in re.split(r"\s*[|;]\s*|\n", raw) if part]
    places = [_by_text(part, options) for part in parts]
    if len(parts) < 2 or any(at is None for at in places):
        return None
    return sorted({at for each in places if each for at in each})


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"
