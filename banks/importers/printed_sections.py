"""The parts of a printed text that are no questions: headings, directions, answer keys.

They are found first, line by line, so that nothing in them is taken for a question or an option.
"""

import re
from collections.abc import Sequence

from msgspec import Struct

from banks.importers.printed_layout import Line, NumberLabel, number_label, plain

SUBJECT = re.compile(r"\s*(?:#\s+(?!#)|Subject\s*[:\-–]\s*)(\S.*)", re.IGNORECASE)
CHAPTER = re.compile(
    r"\s*(?:#{2,4}\s+(\S.*)|((?:Chapter|Unit|Section|Topic|Lesson|Kapitel|Chapitre|Capítulo)"
    r"\s*(?:\d+|[IVXLC]+\b|[:\-–]).*))",
    re.IGNORECASE,
)
_KEY_WORDS = (
    r"(?:answers?|ans|keys?|correct\s+(?:answers?|options?|choices?)|right\s+(?:answers?|options?)"
    r"|(?:bonne\s+)?réponses?(?:\s+(?:correcte|exacte|juste))?|r[ée]p|respuestas?(?:\s+correcta)?"
    r"|clave|rpta|(?:richtige\s+)?antwort(?:en)?|lösung(?:en)?|risposte?|risposta(?:\s+(?:corretta"
    r"|esatta))?|respostas?(?:\s+(?:certa|correta))?|gabarito|(?:juiste\s+|goede\s+)?antwoord(?:en)?"
    r"|svar|facit|odpowied[źz]i?|cevap(?:lar)?|jawaban|đáp\s+án|ответы?|відповідь|उत्तर|उत्तर\s*माला"
    r"|(?:参考|正确)?答案|正解|解答|答え?|정답|답|الإجابة|الجواب|விடை|উত্তর)"
)
KEY_HEADING = re.compile(
    rf"[\s#*=_-]*(?:{_KEY_WORDS}[\s-]*(?:keys?|sheet|table)?)(?:\s+(?:to|for|of)\b.*)?[\s:*=_-]*",
    re.IGNORECASE,
)
NOTES_HEADING = re.compile(
    r"[\s#*=_-]*(?:explanations?|explanatory answers|solutions?|rationales?"
    r"|answers?(?: keys?)? (?:and|with|&) (?:explanations?|solutions?)|hints (?:and|&) solutions"
    r"|answer keys? (?:and|with|&) explanations?)[\s:*=_-]*",
    re.IGNORECASE,
)
_KEY_LEAD = re.compile(rf"[\s#*=_-]*{_KEY_WORDS}(?:[\s-]*(?:keys?|sheet))?\s*[:.\-–—=]+\s*", re.I)
_DIRECTIONS = re.compile(
    r"\s*[\[(*]*(?:(?:Directions?|Instructions?|Passage|Common\s+data|Linked)\b[^\d\n]{0,60}?"
    r"|(?:Q(?:ue(?:s(?:tion)?)?)?s?|Nos?)\.?\s*)(\d{1,5})\s*(?:-|–|—|to|and|&)\s*(\d{1,5})\b[)\]]*"
    r"\s*[:.\-–—)\]]*\s*(.*)",
    re.IGNORECASE | re.DOTALL,
)
_SIGN = r"(?:[A-Ja-j](?![^\W\d_])|[1-9](?![\w.-])|(?:[ivx]{1,4}|[IVX]{1,4})(?![^\W\d_])|[*?])"
_SIGNS = rf"{_SIGN}(?:\s*[)\]]?\s*(?:[,&/+]|\band\b)\s*[(\[]?\s*{_SIGN})*"
PAIR = re.compile(
    rf"(?<![\w.])(?:Q(?:ue)?\s*\.?\s*)?(\d{{1,5}})\s*[.):\-–—=|→…\s]*(?:Ans\.?\s*[:.-]*\s*)?"
    rf"[(\[]?\s*({_SIGNS})\s*[)\]]?"
)
_ENTRY = re.compile(
    rf"\s*(?:Q(?:ue)?\s*\.?\s*)?(\d{{1,5}})\s*[.):\-–—=|→]*\s*(?:{_KEY_WORDS}\s*[.:\-–]*\s*)?"
    rf"(?:[(\[]\s*({_SIGNS})\s*[)\]]+|({_SIGNS})(?=\s*(?:[.):,;–—-]|$)))[\s.):,;–—-]*(.*)",
    re.DOTALL | re.IGNORECASE,
)
_INNER_ENTRY = re.compile(rf"(?<=\s)(\d{{1,5}})\s*[.)]\s*[(\[]\s*({_SIGNS})\s*[)\]]+\s*")
_NUMBERS = re.compile(r"[\s|]*(?:\d+[\s|]+){2,}\d*[\s|]*")
_ROW_NUMBER = re.compile(r"[\s|]*\d{1,5}(?:\s*[-–]\s*\d{1,5})?\s*[.):]?(?![\d-])")
_RULE = re.compile(
    r"[\s|+=_*-]{3,}|[\s|]*(?:q|no|nos?\.?|key|ans\.?|answers?)(?:[\s|]+(?:q|no\.?|key|ans\.?|answers?))*[\s|]*",
    re.I,
)
_OPTION_WORD = re.compile(
    r"(?<=\d)(\s?[.):\-–]*\s+)(?:Option|Choice)\s+(?=[(\[]?[A-Ja-j1-9][)\]]?\s*(?:$|[,;]|\s\d))",
    re.IGNORECASE,
)
_ROW_NAME = re.compile(
    r"^[\s|]*(?:Q\s*\.?\s*Nos?\.?|Questions?|Nos?\.?|Ans(?:wers?)?\.?|Keys?)[\s.:|]+(?=\w)",
    re.IGNORECASE,
)
_AHEAD = 40
_MOST_BELOW = 6
_DANGLING = re.compile(r"(?:^|(?<=[\s,;|]))(?:Q(?:ue)?\s*\.?\s*)?(\d{1,5})\s*([.):\-–—=]*)\s*$")
"""The number at the end of a line whose sign stands on the next one."""


class KeyEntry(Struct, gc=False):
    """What an answer key says of one question: its signs as printed, and the explanation."""

    number: int
    signs: str
    line: int
    notes: list[str]


class KeyGroup(Struct, gc=False):
    """An answer key, or the part of it that is one chapter's.

    `rows` holds lines in other shapes than pairs. `after` is the line before which its
    questions stand. `is_sure`: a heading says that it is a key.
    """

    after: int
    title: str = ""
    entries: list[KeyEntry] = []
    rows: list[tuple[int, str]] = []
    is_sure: bool = True


class Directions(Struct, frozen=True, gc=False):
    """A text that several questions share, with the numbers of the first and the last."""

    line: int
    first: int
    last: int
    text: list[str]


class Heading(Struct, frozen=True, gc=False):
    """A chapter's or a subject's title. `is_guessed`: it stands in capitals, and says no more."""

    line: int
    title: str
    is_subject: bool = False
    is_guessed: bool = False


class Sections:
    """What was found beside the questions. `closed`: its lines; `lost`: those not understood."""

    def __init__(self, lines: Sequence[Line]) -> None:
        self._lines = lines
        self._texts = _bare_keys([plain(line.text) for line in lines])
        self.numbers = [number_label(at, text) for at, text in enumerate(self._texts)]
        self.headings: list[Heading] = []
        self.groups: list[KeyGroup] = []
        self.directions: list[Directions] = []
        self.closed: set[int] = set()
        self.lost: list[int] = []
        self._group: KeyGroup | None = None
        self._entry: KeyEntry | None = None
        self._dangling = ""
        self._dangling_line = 0
        upper = sum(1 for text in self._texts if text.isupper())
        self._shouts = upper * 10 > 3 * len(lines)
        self._keyed_above = False
        at = 0
        while at < len(lines):
            at = self._take(at)

    def _take(self, at: int) -> int:
        """Look at a line; the next one to look at."""
        text, number = self._texts[at], self.numbers[at]
        if self._heading(at, text):
            return at + 1
        if not number and self._group is None and (heading := self._directions(at)):
            return heading
        if lead := self._key_lead(at, text):
            self._begin(at)
            self._take_key(at, text[lead:])
            return at + 1
        if self._group is not None:
            if self._ends(at, number):
                self._group = None
                return self._take(at)
            self._take_key(at, text)
        elif self._is_headless(at):
            self._begin(at, is_sure=False)
            self._take_key(at, text)
        elif number and (heading := self._directions(at)):
            return heading
        elif is_inline_key(text):
            self._keyed_above = True
        return at + 1

    def _heading(self, at: int, text: str) -> bool:
        subject, chapter = SUBJECT.fullmatch(text), CHAPTER.fullmatch(text)
        original = self._lines[at].text
        if KEY_HEADING.fullmatch(text) or NOTES_HEADING.fullmatch(text):
            if not self._data_follows(at):
                return False
            self._begin(at)
            return True
        if subject:
            title = (SUBJECT.fullmatch(original) or subject)[1]
            self._close(Heading(at, title.strip("# *"), is_subject=True))
        elif chapter and len(text) <= 120:
            match = CHAPTER.fullmatch(original) or chapter
            self._close(Heading(at, (match[1] or match[2]).strip("# *")))
        elif self._is_capital(at, text):
            self._close(Heading(at, original.strip("# *:"), is_guessed=True))
        else:
            return False
        return True

    def _close(self, heading: Heading) -> None:
        self.closed.add(heading.line)
        known = {_folded(each.title) for each in self.headings}
        if self._group is not None and _folded(heading.title) in known:
            self._group = KeyGroup(self._group.after, heading.title, [], [])
            self.groups.append(self._group)
            self._entry = None
            return
        self._group, self._keyed_above = None, False
        self.headings.append(heading)

    def _is_capital(self, at: int, text: str) -> bool:
        """Whether a line is a heading by its capitals: alone, before a numbered line."""
        if self._shouts or not text.isupper() or len(text) > 80 or self.numbers[at]:
            return False
        if inline_key(text):
            return False
        if not re.search(r"[^\W\d_]{3}", text) or re.match(r"\s*[(\[]?[A-J1-9][)\].]", text):
            return False
        if self._group is not None and _folded(text.strip("# *:")) in {
            _folded(each.title) for each in self.headings
        }:
            return True
        following = self._texts[at + 1 : at + 2]
        if following and _DIRECTIONS.fullmatch(following[0]):
            begins = True
        else:
            is_numbered = bool(following) and self.numbers[at + 1] is not None
            begins = is_numbered or bool(following and CHAPTER.fullmatch(following[0]))
            begins = begins and (self._group is None or self._options_follow(at + 1))
        before = self._texts[at - 1] if at else ""
        return begins and not (before.isupper() and at - 1 not in self.closed)

    def _directions(self, at: int) -> int:
        match = _DIRECTIONS.fullmatch(self._texts[at])
        if not match or not 0 < int(match[2]) - int(match[1]) < 60:
            return 0
        texts = [match[3]] if match[3] else []
        end = at + 1
        while end < len(self._lines) and end - at < _AHEAD:
            number = self.numbers[end]
            if number and (number.value == int(match[1]) or self._options_follow(end)):
                break
            texts.append(self._lines[end].text)
            end += 1
        self.closed |= set(range(at, end))
        self.directions.append(Directions(at, int(match[1]), int(match[2]), texts))
        return end

    # answer keys

    def _begin(self, at: int, *, is_sure: bool = True) -> None:
        self._group = KeyGroup(at, is_sure=is_sure, entries=[], rows=[])
        self._entry = None
        self._dangling = ""
        self.groups.append(self._group)
        if is_sure:
            self.closed.add(at)

    def _key_lead(self, at: int, text: str) -> int:
        """Where the pairs begin on a line as `Answers: 1. a 2. b`; 0 for no such line."""
        lead = _KEY_LEAD.match(text)
        if not lead or not is_pairs(text[lead.end() :]):
            return 0
        pairs = PAIR.findall(text[lead.end() :])
        return lead.end() if len(pairs) > 1 else 0

    def _data_follows(self, at: int) -> bool:
        """Whether a heading of an answer key has one under it."""
        for each in range(at + 1, min(at + 5, len(self._lines))):
            text = self._texts[each]
            if is_key_data(text) or _ENTRY.fullmatch(text) or self._key_lead(each, text):
                return True
            number = self.numbers[each]
            if number:
                return not self._options_follow(each)
            if self._is_known(text):
                continue
        return False

    def _is_known(self, text: str) -> bool:
        return bool(CHAPTER.fullmatch(text) or SUBJECT.fullmatch(text))

    def _is_headless(self, at: int) -> bool:
        """Whether an answer key begins here without a heading."""
        text = self._texts[at]
        if is_pairs(text) and not self._keyed_above:
            pairs = PAIR.findall(text)
            if len(pairs) >= 3:
                return True
            if self._are_options(at):
                return False
            following = self._texts[at + 1 : at + 3]
            rest = [
                int(pair[0]) for each in following if is_pairs(each) for pair in PAIR.findall(each)
            ]
            return int(pairs[-1][0]) + 1 in rest[:1] or (
                len(pairs) > 1 and at + 1 == len(self._lines)
            )
        if self._keyed_above:
            return False
        entries = [self._entry_at(each) for each in range(at, min(at + 12, len(self._lines)))]
        if not entries[0]:
            return False
        number = int(entries[0][1])
        return any(
            entry and int(entry[1]) == number + 1 and not self._options_follow(at)
            for entry in entries[1:]
        )

    def _are_options(self, at: int) -> bool:
        """Whether numbers one under the other are options: their answer key comes soon below."""
        return any(inline_key(text) is not None for text in self._texts[at : at + _MOST_BELOW])

    def _entry_at(self, at: int) -> re.Match[str] | None:
        match = _ENTRY.fullmatch(self._texts[at])
        return match if match and match[2] else None

    def _ends(self, at: int, number: NumberLabel | None) -> bool:
        """Whether a question begins here, so that the answer key is over."""
        text = self._texts[at]
        if number is None or is_pairs(text):
            return False
        entry = _ENTRY.fullmatch(text)
        if entry and (entry[2] or not entry[4] or self._follows(int(entry[1]))):
            return False
        return self._options_follow(at)

    def _follows(self, number: int) -> bool:
        """Whether an entry's number is the next one of the answer key."""
        entries = self._group.entries if self._group else []
        return bool(entries) and entries[-1].number + 1 == number

    def _options_follow(self, at: int) -> bool:
        """Whether options, labelled one after the other, come before the next question."""
        number = self.numbers[at]
        if not number:
            return _inner_row(self._texts[at])
        texts = [self._texts[at][number.end :]]
        listed = 0
        for each in range(at + 1, min(at + _AHEAD, len(self._lines))):
            label, text = self.numbers[each], self._texts[each]
            is_listed = label is not None and label.value in (1, listed + 1)
            is_next = label is not None and label.value == number.value + 1 != listed + 1
            if label and (not is_listed or (is_next and label.style == number.style)):
                break
            listed = label.value if label else listed
            if KEY_HEADING.fullmatch(text) or CHAPTER.fullmatch(text):
                break
            texts.append(text)
        return _inner_row("\n".join(texts))

    def _take_key(self, at: int, text: str) -> None:
        group = self._group
        assert group is not None
        self.closed.add(at)
        if not text.strip() or _RULE.fullmatch(text):
            return
        line = self._lines[at].number
        if self._dangling:
            joined = f"{self._dangling} {text.lstrip()}"
            if is_pairs(joined):
                text = joined
            else:
                self.lost.append(self._dangling_line)
            self._dangling = ""
        if _NUMBERS.fullmatch(text) or (is_key_data(text) and not is_pairs(text)):
            group.rows.append((line, text))
            self._entry = None
        elif is_pairs(text):
            pairs, self._dangling = _without_dangling(text)
            self._dangling_line = at
            for number, signs in PAIR.findall(pairs):
                self._add(KeyEntry(int(number), signs, line, []))
            self._entry = None
        elif entry := _ENTRY.fullmatch(text):
            self._take_entry(entry, at, line)
        elif (number := self.numbers[at]) and number.value:
            self._entry = KeyEntry(number.value, "", line, [self._lines[at].text[number.end :]])
            self._add(self._entry)
        elif self._entry is not None:
            self._entry.notes.append(self._lines[at].text)
        else:
            self.lost.append(at)

    def _take_entry(self, entry: re.Match[str], at: int, line: int) -> None:
        """`12. (b) Because …`; further entries may stand in the same line."""
        number, signs, rest = int(entry[1]), entry[2] or entry[3], entry[4]
        while True:
            inner = next(
                (each for each in _INNER_ENTRY.finditer(rest) if int(each[1]) == number + 1), None
            )
            note = rest[: inner.start()] if inner else rest
            self._entry = KeyEntry(number, signs, line, [note.strip()] if note.strip() else [])
            self._add(self._entry)
            if not inner:
                return
            number, signs, rest = int(inner[1]), inner[2], rest[inner.end() :]

    def _add(self, entry: KeyEntry) -> None:
        group = self._group
        assert group is not None
        last = group.entries[-1].number if group.entries else 0
        if entry.number == 1 and last > 1 and group.entries[0].number == 1:
            explains = bool(entry.notes) or not entry.signs
            if not (explains and not any(each.notes for each in group.entries)):
                group = KeyGroup(group.after, "", [], [], group.is_sure)
                self.groups.append(group)
                self._group = group
            # Else explanations follow the table of the same questions.
        group.entries.append(entry)


def _bare_keys(texts: list[str]) -> list[str]:
    """The lines with what names the rows and signs of a key taken out of it: `3. Option B` is
    `3. B`; under `Q.No. 1 2 3` the row `Ans. b c a` is `b c a`.
    """
    bare: list[str] = []
    is_below_numbers = False
    for text in texts:
        if "ption" in text or "hoice" in text:
            text = _OPTION_WORD.sub(r"\1", text)
        row = _ROW_NAME.sub("", text)
        is_row = row is not text and bool(_NUMBERS.fullmatch(row) or is_below_numbers)
        is_below_numbers = bool(_NUMBERS.fullmatch(row))
        bare.append(row if is_row and is_key_data(row) else text)
    return bare


def _inner_row(text: str) -> bool:
    """Whether two labels begin lines, or three stand one after the other."""
    for first, second, third in (("a", "b", "c"), ("1", "2", "3"), ("i", "ii", "iii")):
        if third not in text.lower() and second not in text.lower():
            continue
        # Numbers with a point are a list of statements or steps, those with a bracket options.
        alone = r"\s?\)" if first == "1" else r"\s?[).:]"
        for before, after in ((r"[(\[]", r"\s?[)\]]"), ("", alone)):
            sign = rf"(?<!\S)\*{{0,2}}{before}{{}}{after}"
            row = ".*?".join(sign.replace("{}", each) for each in (first, second, third))
            begin = rf"^\s*\*{{0,2}}{before}{{}}{after}"
            lines = ".*?".join(begin.replace("{}", each) for each in (first, second))
            if re.search(row, text, re.IGNORECASE | re.DOTALL):
                return True
            if re.search(lines, text, re.IGNORECASE | re.DOTALL | re.MULTILINE):
                return True
    return bool(
        re.search(r"^\s*A\s+\w.*?^\s*B\s+\w", text, re.DOTALL | re.MULTILINE)
        or re.search(r"(?<!\S)[aA] [-–] .*?(?<!\S)[bB] [-–] ", text, re.DOTALL)
    )


def has_option_label(text: str) -> bool:
    """Whether a line begins with an option's label, or holds a row of them."""
    return bool(re.match(r"\s*\*{0,2}[(\[]?[A-Da-d1]\s?[)\].:]\s*\S", text)) or _inner_row(text)


def is_pairs(text: str) -> bool:
    """Whether a line is nothing but numbers with their signs: `1-b, 2-c`.

    The last number's sign may be missing where a narrow column has broken the line there.
    """
    if not text[:1].isdigit() and not re.match(r"[\s|]*(?:Q(?:ue)?\.?\s*)?\d", text):
        return False
    rest, count = PAIR.subn("", _without_dangling(text)[0])
    return count > 0 and not rest.strip(" \t|,;.")


def _without_dangling(text: str) -> tuple[str, str]:
    """A line of pairs without a last number whose sign is on the next line, and that number."""
    match = _DANGLING.search(text)
    if not match:
        return text, ""
    before = text[: match.start()]
    pairs = PAIR.findall(before)
    is_row = len(pairs) > (0 if match[2] else 1) and not pairs[-1][1].isdigit()
    if not is_row or int(pairs[-1][0]) >= int(match[1]):
        return text, ""
    return before, match[0].strip()


def is_key_data(text: str) -> bool:
    """Whether a line can only be part of a key: pairs, a row of letters, a row of numbers."""
    if is_pairs(text) or _NUMBERS.fullmatch(text):
        return True
    letters = _ROW_NUMBER.sub("", text, count=1).replace("|", " ").split()
    return bool(letters) and all(set(word.lower()) <= set("abcdefgh") for word in letters)


_INLINE_KEY = re.compile(
    rf"\s*[\[(*_【]*(?:the\s+)?{_KEY_WORDS}(?:\s+(?:key|option|choice|answer))?(?:\s+is)?"
    rf"\s*(?:[.:\-–—=：)】]+|\bis\b|(?=[(\[]\s?[A-Ja-j1-9]\s?[)\]])|\s(?=[A-J]\b\W*$))\s*(.*)"
    r"|\s*[\[(*_]*(?:the\s+)?(?:correct|right)\s+(?:answer|option|choice)\s+is\s*[:\-]?\s*(.*)"
    r"|\s*[\[(*_]*Sol(?:ution|n)?\s*[.:\-–]*\s*([(\[]\s*(?:[A-Ja-j1-9]|[ivx]{1,4})\s*[)\]].*)"
    r"|\s*[\[(*_]*(?:Sol(?:ution|n)?|correct|right)\s*[:=\-–]+\s*([A-J])[\])*_.]*\s*"
    r"|\s*(?:the\s+)?(?:(?:option|choice|answer)\s+)?[(\[]?([A-J])[)\]]?\s+is\s+(?:the\s+)?"
    r"(?:correct|right)(?:\s+(?:answer|option|choice))?[.!]?\s*",
    re.IGNORECASE | re.DOTALL,
)
_KEY_INSIDE = re.compile(
    rf"(?:\s+|(?<=[.;]))[\[(*_]*(?:(?:Ans(?:wer)?|Key|Correct(?:\s+answer)?)\s*[.:\-–=]+"
    rf"|the\s+correct\s+(?:answer|option)\s+is|{_KEY_WORDS}\s*[:：])\s*"
    r"([(\[]?\s*(?:[A-Ja-j]|[1-9]|[ivx]{1,4})\s*[)\]]?(?:\s*(?:,|&|/|and)\s*[(\[]?\s*[A-Ja-j1-9]"
    r"\s*[)\]]?)*(?![^\W\d_])[)\]\s.*_]*)$",
    re.IGNORECASE,
)


_ENDS_IN_SIGN = re.compile(r"(?:[A-JVX]|[1-9]|(?<![^\W\d_])[ivx]{2,4})[)\]\s.*_]*$", re.IGNORECASE)
"""What every answer key at the end of a line ends with: looked at first, as it costs little."""


def inline_key(text: str) -> str | None:
    """What a line that names an answer key says it is; None for any other line."""
    match = _INLINE_KEY.fullmatch(text)
    if not match:
        return None
    return next((held for held in match.groups() if held is not None), "").strip()


def is_inline_key(text: str) -> bool:
    """Whether a line names its question's answer key."""
    return inline_key(text) is not None or key_inside(text) is not None


def key_inside(text: str) -> re.Match[str] | None:
    """An answer key at the end of a line that holds other text before it."""
    has_name = ":" in text or "." in text or " is " in text
    return _KEY_INSIDE.search(text) if has_name and _ENDS_IN_SIGN.search(text[-20:]) else None


def _folded(title: str) -> str:
    return " ".join(title.casefold().split())
