"""Random question banks in random layouts, as text and as pages, with their truth.

A layout is one choice in each of `DIMENSIONS`; `typeset` prints a bank in it, `noised` adds what
pasting and scanning do. Everything follows from one seed, so a page can be made again.
"""

import random
import re
from dataclasses import dataclass, field, replace
from itertools import pairwise

from fpdf import FPDF

DIMENSIONS: dict[str, tuple[str, ...]] = {
    "numbers": (
        "1.", "1)", "(1)", "Q1.", "Q-1", "Que. 1", "1 ", "I.", "A1B02", "A1B02 (C) [ref]",
        "restarting", "jumping",
    ),
    "options": (
        "(a)", "a)", "a.", "A.", "A)", "[A]", "1)", "(i)", "A ", "a - ", "（A）",
    ),
    "arrangement": ("one a line", "two a line", "inline", "inline and wrapped"),
    "keys": (
        "Ans. (b)", "Answer: B", "Ans: b. text", "The correct answer is B.", "Sol. (b)", "*B.",
        "**B.**", "Réponse : B", "उत्तर: (b)", "答案：B", "pairs at the end", "rows at the end",
        "column at the end", "explained at the end", "after each chapter", "one line at the end",
    ),
    "stems": (
        "plain", "long", "statements", "match", "assertion", "negative", "directions",
    ),
    "explanations": ("none", "short", "numbered steps", "wrapped"),
    "headings": ("none", "Chapter 1 …", "ALL CAPS"),
    "furniture": ("none", "page numbers", "running heads"),
    "hyphens": ("none", "broken words"),
}  # fmt: skip
"""What a layout is made of, and the ways of each."""

_WORDS = {
    "nouns": """cloud wind front trough ridge gale squall halo dew frost barometer anemometer gauge
        station reading signal chart isobar current tide harbour lantern beacon log buoy vane
        sleet drizzle""",
    "adjectives": """high low warm cold steady falling northern southern early late bright dull
        heavy light local distant regular broken veering backing moist dry""",
    "verbs": "marks precedes follows shows weakens carries raises lowers measures hides",
}
_NOUNS, _ADJECTIVES, _VERBS = (words.split() for words in _WORDS.values())
_COMPOUNDS = ("well-marked", "long-lived", "north-west", "sea-level", "low-lying")
_TOPICS = ("Clouds and fog", "Wind at sea", "Signals", "Instruments", "Tides and currents")


@dataclass(frozen=True)
class Layout:
    """One choice in each dimension; how many questions, options and chapters."""

    choices: dict[str, str]
    questions: int
    options: int
    chapters: int
    seed: int


@dataclass
class Truth:
    """What a question is: known before it is printed. `lines` are filled while printing."""

    chapter: str
    number: int | None
    code: str
    stem: str
    options: list[str]
    answer_key: list[int]
    shared: str = ""
    texts: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Page:
    """A printed text with the questions that are in it."""

    layout: Layout
    text: str
    truths: list[Truth]


def random_layout(seed: int, fixed: dict[str, str] | None = None) -> Layout:
    """A layout that a printer could have chosen: impossible pairs are not made."""
    chance = random.Random(seed)
    while True:
        choices = {name: chance.choice(ways) for name, ways in DIMENSIONS.items()} | (fixed or {})
        if _is_possible(choices):
            break
    return Layout(
        choices,
        chance.randint(9, 24),
        chance.choice((4, 4, 4, 4, 5, 3)),
        chance.randint(1, 3),
        seed,
    )


def is_latin(layout: Layout) -> bool:
    """Whether the built-in fonts of a PDF have all its signs."""
    return not {"उत्तर: (b)", "答案：B", "（A）"} & set(layout.choices.values())


def _is_possible(choices: dict[str, str]) -> bool:
    numbers, options, keys = choices["numbers"], choices["options"], choices["keys"]
    if (numbers, options) in {("1)", "1)"), ("1 ", "A ")}:
        return False
    if numbers == "I." and (options == "(i)" or keys.endswith("the end") or "chapter" in keys):
        return False
    is_table = keys.endswith("the end") or keys == "after each chapter"
    if numbers.startswith("A1B02") and (is_table or choices["stems"] == "directions"):
        return False
    if numbers == "A1B02 (C) [ref]" and keys != "Ans. (b)":
        return False  # its key stands beside the code
    if options in ("A ",) and choices["arrangement"] != "one a line":
        return False
    if options == "a - " and choices["arrangement"] not in ("one a line", "two a line"):
        return False
    if keys in ("*B.", "**B.**") and (
        options not in ("A.", "A)", "a)", "a.") or choices["arrangement"] != "one a line"
    ):
        return False
    if keys == "Ans: b. text" and options == "(i)":
        return False
    if choices["stems"] == "match" and options in ("A ", "A."):
        return False  # two hypotheses would explain it alike
    if numbers == "restarting" and keys in (
        "rows at the end",
        "column at the end",
        "explained at the end",
        "one line at the end",
    ):
        return choices["headings"] != "none"
    return True


# the bank


def _sentence(chance: random.Random, words: int) -> str:
    parts = []
    for at in range(words):
        parts.append(chance.choice((_ADJECTIVES, _NOUNS, _VERBS)[at % 3]))
    return " ".join(parts)


def _bank(layout: Layout, chance: random.Random) -> list[Truth]:
    choices = layout.choices
    truths: list[Truth] = []
    number = 0
    per_chapter = max(3, -(-layout.questions // layout.chapters))
    for at in range(layout.questions):
        chapter_at = at // per_chapter
        starts = at % per_chapter == 0
        if starts and at and choices["numbers"] == "restarting":
            number = 0
        number += chance.choice((1, 2, 7, 60, 140)) if choices["numbers"] == "jumping" else 1
        title = _title(chapter_at, choices["headings"])
        options: list[str] = []
        while len(options) < layout.options:
            text = _sentence(chance, chance.choice((1, 2, 2, 3, 4)))
            if choices["arrangement"] == "inline and wrapped":
                text = _sentence(chance, chance.randint(2, 6))
            if text not in options:
                options.append(text)
        stem = _stem(choices["stems"], chance, at)
        key = [chance.randrange(layout.options)]
        several = choices["keys"] in ("Ans. (b)", "pairs at the end")
        if several and "ref" not in choices["numbers"] and chance.random() < 0.08:
            key = sorted(chance.sample(range(layout.options), 2))
        is_code = choices["numbers"].startswith("A1B02")
        code = (
            f"{'ABCDE'[at // 40 % 5]}{at // 20 % 9 + 1}{'ABCD'[at // 10 % 4]}{at % 10 + 1:02}"
            if is_code
            else ""
        )
        truths.append(Truth(title, None if is_code else number, code, stem, options, key))
    if choices["stems"] == "directions":
        for at in range(1, len(truths) - 1, 6):
            if (
                truths[at + 1].number == (truths[at].number or 0) + 1
                and truths[at].chapter == truths[at + 1].chapter
            ):
                shared = "Read the report: " + _sentence(chance, 12) + "."
                truths[at].shared = truths[at + 1].shared = shared
    return truths


def _title(at: int, style: str) -> str:
    if style == "none":
        return ""
    topic = _TOPICS[at % len(_TOPICS)]
    return topic.upper() if style == "ALL CAPS" else f"Chapter {at + 1} {topic}"


def _stem(kind: str, chance: random.Random, at: int) -> str:
    if kind == "long":
        long, short = _sentence(chance, 24), _sentence(chance, 12)
        return f"At station {at + 11}, when the {long} and the {short}, what is meant?"
    if kind == "statements":
        rows = [f"{row}. The {_sentence(chance, 5)}." for row in (1, 2, 3)]
        return "\n".join(["Consider these statements:", *rows, "Which of them hold?"])
    if kind == "match":
        rows = [
            f"{'ABCD'[row]}. {chance.choice(_NOUNS)}   {row + 1}. {chance.choice(_ADJECTIVES)}"
            for row in range(4)
        ]
        return "\n".join(["Match the lists:", "List I   List II", *rows, "Codes:"])
    if kind == "assertion":
        return (
            f"Assertion (A): The {_sentence(chance, 5)}.\nReason (R): The {_sentence(chance, 6)}."
        )
    if kind == "negative":
        return f"Which of these does NOT hold for a {_sentence(chance, 4)}?"
    compound = chance.choice(_COMPOUNDS) if chance.random() < 0.3 else ""
    return " ".join(
        f"Which {compound} {_sentence(chance, chance.randint(5, 9))} in case {at + 3}?".split()
    )


# printing


def page(layout: Layout) -> Page:
    """A bank typeset in a layout."""
    chance = random.Random(layout.seed * 7 + 1)
    truths = _bank(layout, chance)
    lines = _Printer(layout, truths, chance).lines()
    return Page(layout, "\n".join(lines) + "\n", truths)


def typeset(layout: Layout, truths: list[Truth]) -> Page:
    """Questions that are given, numbered and printed in a layout."""
    lines = _Printer(layout, truths, random.Random(layout.seed * 7 + 1)).lines()
    return Page(layout, "\n".join(lines) + "\n", truths)


class _Printer:
    def __init__(self, layout: Layout, truths: list[Truth], chance: random.Random) -> None:
        self._layout, self._truths, self._chance = layout, truths, chance
        self._choices = layout.choices
        self._gap = chance.random() < 0.7
        self._width = chance.choice((64, 76, 96))
        self._lines: list[str] = []
        self._page = chance.randint(11, 60)

    def lines(self) -> list[str]:
        chapter = None
        kept: list[Truth] = []
        for at, truth in enumerate(self._truths):
            if truth.chapter != chapter:
                self._chapter_key(kept)
                kept = []
                chapter = truth.chapter
                if chapter:
                    self._out(chapter)
            elif truth.number == 1 and at:
                self._chapter_key(kept)
                kept = []
            if truth.shared and truth.shared != (self._truths[at - 1].shared if at else ""):
                number = truth.number or 0
                lead = self._chance.choice(
                    ("Directions (Q. {}–{}):", "Directions for questions {} to {}:")
                )
                self._wrap(f"{lead.format(number, number + 1)} {truth.shared}")
            self._question(truth)
            kept.append(truth)
            if at % 7 == 6:
                self._furniture()
        self._chapter_key(kept)
        self._end_key()
        return self._lines

    def _out(self, line: str) -> None:
        self._lines.append(line)

    def _wrap(self, text: str, hang: str = "") -> None:
        """Lines of the printer's width; long words may break at the end of a line."""
        line = ""
        for word in text.split(" "):
            candidate = f"{line} {word}" if line else word
            if len(candidate) <= self._width:
                line = candidate
                continue
            if self._choices["hyphens"] == "broken words" and len(word) > 8 and word.isalpha():
                half = len(word) // 2
                self._out(f"{line} {word[:half]}-")
                line = hang + word[half:]
                continue
            self._out(line)
            line = hang + word
        if line:
            self._out(line)

    def _question(self, truth: Truth) -> None:
        first, *more = truth.stem.split("\n")
        label = self._number(truth)
        if label.endswith("\n"):
            self._out(label.strip())
            self._wrap(first)
        else:
            self._wrap(label + first)
        for line in more:
            self._wrap(line)
        self._options(truth)
        self._inline_key(truth)
        if self._gap:
            self._out("")

    def _number(self, truth: Truth) -> str:
        style, number = self._choices["numbers"], truth.number
        if style == "A1B02":
            return f"{truth.code} "
        if style.startswith("A1B02"):
            key, page_number = "ABCDE"[truth.answer_key[0]], self._chance.randint(1, 9)
            return f"{truth.code} ({key}) [97.{page_number}]\n"
        if style == "I.":
            return f"{_roman(number or 0)}. "
        if style in ("restarting", "jumping"):
            style = "1."
        return style.rstrip().replace("1", str(number)) + " "

    def _label(self, at: int) -> str:
        style = self._choices["options"]
        if style == "(i)":
            return f"({('i', 'ii', 'iii', 'iv', 'v')[at]}) "
        if style == "1)":
            return f"{at + 1}) "
        letter = "abcde"[at]
        made = style.replace("a", letter).replace("A", letter.upper())
        return made if made.endswith(" ") else made + " "

    def _options(self, truth: Truth) -> None:
        marked = {"*B.": "*{}", "**B.**": "**{}**"}.get(self._choices["keys"])
        texts = []
        for at, option in enumerate(truth.options):
            label = self._label(at)
            if marked and at in truth.answer_key:
                label = marked.format(label.strip()) + " "
            texts.append(label + option)
        arrangement = self._choices["arrangement"]
        if arrangement == "one a line":
            for text in texts:
                self._wrap(text, "")
        elif arrangement == "two a line":
            for at in range(0, len(texts), 2):
                self._out("   ".join(texts[at : at + 2]))
        elif arrangement == "inline":
            self._out("  ".join(texts))
        else:
            self._wrap(" ".join(texts))

    def _signs(self, truth: Truth, *, upper: bool = False, style: str = "") -> list[str]:
        if self._choices["options"] == "(i)":
            return [("i", "ii", "iii", "iv", "v")[at] for at in truth.answer_key]
        if self._choices["options"] == "1)":
            return [str(at + 1) for at in truth.answer_key]
        return [("ABCDE" if upper else "abcde")[at] for at in truth.answer_key]

    def _inline_key(self, truth: Truth) -> None:
        style = self._choices["keys"]
        if self._choices["numbers"] == "A1B02 (C) [ref]":
            return
        lower, upper = self._signs(truth), self._signs(truth, upper=True)
        text = truth.options[truth.answer_key[0]]
        joined = {
            "Ans. (b)": "Ans. "
            + self._chance.choice((", ", " & ")).join(f"({sign})" for sign in lower),
            "Answer: B": f"Answer: {upper[0]}",
            "Ans: b. text": f"Ans: {lower[0]}. {text}",
            "The correct answer is B.": f"The correct answer is {upper[0]}.",
            "Sol. (b)": f"Sol. ({lower[0]})",
            "Réponse : B": f"Réponse : {upper[0]}",
            "उत्तर: (b)": f"उत्तर: ({lower[0]})",
            "答案：B": f"答案：{upper[0]}",
        }.get(style)
        if joined:
            self._out(joined)
        if joined or style in ("*B.", "**B.**"):
            self._explanation(bool(joined))

    def _explanation(self, has_key: bool) -> None:
        style = self._choices["explanations"]
        if style == "none":
            return
        if style == "short" or not has_key:
            self._wrap(f"Explanation: The {_sentence(self._chance, 5)}.")
        elif style == "wrapped":
            self._wrap(f"Explanation: The {_sentence(self._chance, 26)}.")
        else:
            self._out("Explanation: In three steps:")
            for step in (1, 2, 3):
                self._out(f"{step}. The {_sentence(self._chance, 5)}.")

    def _furniture(self) -> None:
        style = self._choices["furniture"]
        self._page += 1
        if style == "page numbers":
            self._out(f"- {self._page} -")
        elif style == "running heads":
            self._out(f"Page {self._page}")
            self._out("The Observer's Question Book")

    def _chapter_key(self, truths: list[Truth]) -> None:
        if self._choices["keys"] != "after each chapter" or not truths:
            return
        self._out(self._chance.choice(("ANSWERS", "Answer key", "Answers:")))
        self._pairs(truths)
        self._out("")

    def _pairs(self, truths: list[Truth]) -> None:
        shape = self._chance.choice(("{}. ({})", "{}-{}", "{} {}", "{}) {}", "{}. {}"))
        if self._choices["options"] == "1)" and shape == "{} {}":
            shape = "{}. ({})"
        if self._choices["options"] == "(i)":
            shape = "{}. ({})"
        pairs = [shape.format(t.number, ",".join(self._signs(t))) for t in truths]
        row = self._chance.choice((3, 5, 8))
        for at in range(0, len(pairs), row):
            self._out("  ".join(pairs[at : at + row]))

    def _end_key(self) -> None:
        style = self._choices["keys"]
        if not style.endswith("the end"):
            return
        self._out(self._chance.choice(("ANSWERS", "ANSWER KEY", "Answers", "Key")))
        groups: dict[str, list[Truth]] = {}
        restarts = 0
        for at, truth in enumerate(self._truths):
            restarts += at > 0 and truth.number == 1
            groups.setdefault(truth.chapter or str(restarts), []).append(truth)
        repeat = self._choices["numbers"] == "restarting"
        for title, truths in groups.items():
            if repeat and not title.isdigit():
                self._out(title)
            if repeat or title == next(iter(groups)):
                self._key_block(style, truths if repeat else self._truths)

    def _key_block(self, style: str, truths: list[Truth]) -> None:
        letters = self._choices["options"] not in ("(i)", "1)")
        consecutive = all(b.number == (a.number or 0) + 1 for a, b in pairwise(truths))
        if style == "rows at the end" and letters and consecutive:
            for at in range(0, len(truths), 10):
                row = "".join(self._signs(t, upper=True)[0] for t in truths[at : at + 10])
                spaced = " ".join(row) if at % 20 else " ".join((row[:5], row[5:])).strip()
                self._out(f"{truths[at].number}  {spaced}")
        elif style == "column at the end":
            for truth in truths:
                self._out(f"{truth.number}. ({self._signs(truth)[0]})")
        elif style == "explained at the end":
            for truth in truths:
                sign, reason = self._signs(truth)[0], _sentence(self._chance, 6)
                self._wrap(f"{truth.number}. ({sign}) The {reason}; (a) and (b) are not meant.")
        elif style == "one line at the end" and letters:
            self._lines.pop()
            pairs = " ".join(f"{t.number}. {self._signs(t)[0]}" for t in truths)
            self._out(f"Answers: {pairs}")
        else:
            self._pairs(truths)


def _roman(number: int) -> str:
    made = ""
    for value, sign in ((40, "XL"), (10, "X"), (9, "IX"), (5, "V"), (4, "IV"), (1, "I")):
        while number >= value:
            made += sign
            number -= value
    return made


# noise


@dataclass(frozen=True)
class Noise:
    """A sign that was misread: the number of its line in the noised page, before and after."""

    line: int
    before: str
    after: str


_SCANNED = {
    "1": "l",
    "0": "O",
    "5": "S",
    "c": "e",
    "b": "6",
    "d": "cl",
    "(": "{",
    ")": "]",
    ".": ",",
}


def noised(original: Page, seed: int, rate: float = 0.03) -> tuple[Page, list[Noise]]:
    """The page after scanning and pasting: signs misread, lines split, joined, indented."""
    chance = random.Random(seed)
    lines = original.text.split("\n")
    done: list[Noise] = []
    made: list[str] = []
    for line in lines:
        if not line.strip() or chance.random() > rate:
            made.append(line)
            continue
        kind = chance.choice(("sign", "sign", "split", "indent", "spaces", "blank"))
        if kind == "sign":
            after = _misread(line, chance)
            if after != line:
                done.append(Noise(len(made) + 1, line, after))
            made.append(after)
        elif kind == "split" and " " in line[10:-10]:
            cut = line.index(" ", len(line) // 2 - 5) if " " in line[len(line) // 2 - 5 :] else 0
            made += [line[:cut], line[cut + 1 :]] if cut else [line]
        elif kind == "indent":
            made.append("  " + line)
        elif kind == "spaces":
            made.append(line.replace(" ", "  ", 2))
        else:
            made += ["", line] if not re.match(r"\S*\s?\(?[a-eA-E1-5]", line) else [line]
    return replace(original, text="\n".join(made)), done


def _misread(line: str, chance: random.Random) -> str:
    """One sign near the start of the line, or anywhere, read as another."""
    places = [at for at, sign in enumerate(line[:8]) if sign in _SCANNED]
    places = (
        places
        if places and chance.random() < 0.7
        else [at for at, sign in enumerate(line) if sign in _SCANNED]
    )
    if not places:
        return line
    at = chance.choice(places)
    return line[:at] + _SCANNED[line[at]] + line[at + 1 :]


# pages


def to_pdf(text: str, columns: int) -> bytes:
    """The text as pages of a book: a running head, page numbers, one or two columns."""
    pdf = FPDF()
    pdf.set_auto_page_break(False)
    pdf.set_font("Helvetica", size=9)
    pdf.add_page()
    width = 180 if columns == 1 else 84
    latin = text.replace("–", "-").replace("…", "...")
    lines = [
        part
        for line in latin.split("\n")
        if line.strip()
        for part in pdf.multi_cell(width, 4.6, line, dry_run=True, output="LINES")
    ]
    for start in range(0, len(lines), 56 * columns):
        if start:
            pdf.add_page()
        pdf.text(15, 10, f"The Observer's Question Book   {pdf.page_no()}")
        for at, line in enumerate(lines[start : start + 56 * columns]):
            pdf.text(15 + 94 * (at // 56), 20 + 4.6 * (at % 56), line)
        pdf.text(100, 290, str(pdf.page_no()))
    return bytes(pdf.output())


def side_by_side(text: str, width: int = 58) -> str:
    """The text in two columns as they come from a page that was pasted: line beside line."""
    lines: list[str] = []
    for line in text.split("\n"):
        while len(line) > width:
            cut = line.rfind(" ", 0, width)
            cut = cut if cut > 0 else width
            lines.append(line[:cut])
            line = line[cut:].lstrip()
        if line:
            lines.append(line)
    half = -(-len(lines) // 2)
    rest = [*lines[half:], *[""] * half]
    return (
        "\n".join(
            f"{left:{width}}    {right}".rstrip()
            for left, right in zip(lines[:half], rest, strict=False)
        )
        + "\n"
    )
