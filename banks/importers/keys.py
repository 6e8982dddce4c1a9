"""Answer keys as printed, pasted or typed → {number: letters}, and what is wrong, by number.

A key is read as groups: numbers, then letters. One number and one letter is a pair (`1 b`,
`2. (c)`, `3-A`); one number and a run of letters is a row that counts on (`11 BCADB CADBA`), or
several letters of one question where the next number follows at once (`4 a,c`); several numbers
and as many letters are a heading line with its line of letters.
"""

import re
import unicodedata
from collections.abc import Iterable
from itertools import zip_longest

from msgspec import Struct

from domain.questions import LETTERS

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
    option_count: int = len(LETTERS),
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
    found = [int(number[:9]) for number in re.findall(r"\d+", plain)]
    numbers, options = found[::2], found[1::2]
    if len(numbers) != len(options) or not all(1 <= option <= len(LETTERS) for option in options):
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
        found = self._keys.keys() | self._told
        if not found and expected is None:
            return KeySheet({}, (KeyProblem(0, "no key was recognised"),))
        wanted = expected if expected is not None else range(min(found), max(found) + 1)
        gaps = [number for number in wanted if number not in found] if len(wanted) < 20_000 else []
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
            told = f"{len(self._keys)} letters for {len(expected)} questions"
            self._problems.append(KeyProblem(0, told))

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
        told = f"{len(letters)} letters under {len(group.numbers)} numbers"
        for number in group.numbers:
            self._tell(number, f"{number}: {told}")

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
            told = f"the row at {number} holds {len(letters)} letters, {nxt - number} expected"
            for each in range(number, min(nxt, number + max(len(letters), 20))):
                self._told.add(each)
            self._problems.append(KeyProblem(number, told))
            return
        for at, letter in enumerate(letters):
            self._add(number + at, [letter])

    def _is_word(self, word: str) -> bool:
        return (
            len(word) > 1
            and word.isalpha()
            and not all(letter in LETTERS for letter in word.lower())
            and (word.islower() or word.istitle() or len(word) < 4)
        )

    def _add(self, number: int, letters: list[str]) -> None:
        bad = [letter for letter in letters if letter.lower() not in tuple(self._letters)]
        key = tuple(sorted({letter.lower() for letter in letters}))
        if bad:
            told = f"{number}: '{bad[0][:12]}' is not one of {self._letters[0]}–{self._letters[-1]}"
            self._tell(number, told)
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
