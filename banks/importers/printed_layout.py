"""How a printed text is laid out: the marks on its lines, and which of them begin questions.

The layout is inferred from the whole file. Every line that could begin a question and every
sign that could label an option is noted once. For each way the options may be labelled the
questions are then the cheapest path over all runs of labels (a, b, c…): numbers that go up by
one cost nothing, every jump, restart and unexplained mark costs something. The way of labelling
that explains most with the fewest contradictions is the layout.
"""

import re
from bisect import bisect_left, bisect_right
from collections import Counter, defaultdict
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

_FULL_WIDTH = {0xFF01 + at: 0x21 + at for at in range(94)} | {0x3000: 0x20}
_ANY_FULL_WIDTH = re.compile("[\uff01-\uff5e\u3000]")
_WORD_BEFORE_NUMBER = (
    r"(?:Q(?:ue(?:s(?:tions?)?)?)?|Frage|Pregunta|Pergunta|Domanda|Vraag|प्रश्न|Вопрос|问题|問題|第)"
)
_NUMBER = re.compile(
    rf"""\s*(?:\*\*|\#{{1,4}}\s+)?(?:
      {_WORD_BEFORE_NUMBER}\s*[.:]?\s*(?:N[or]\b\.?)?\s*[-–.:#]?\s*
        (?P<word>\d{{1,5}})(?!\d)(?!\s*[-–]\s*\d)(?:\s*[.):\-–题題]|\s?\.)*
      |\((?P<round>\d{{1,5}})\)
      |\[(?P<square>\d{{1,5}})\]
      |(?P<code>(?-i:[A-Z]\d[A-Z]\d{{2}})(?![\w-])|(?-i:[A-Z]{{1,4}})[-.]?\d{{1,4}}(?:[-.]\d{{1,4}}){{0,2}}
          (?=\s*(?:[.:)](?!\d)|$|\([A-Ha-h]\)|\[)))
        (?:\s*[.:)])?(?:\s*\((?P<code_key>[A-Ha-h])\))?(?:\s*\[(?P<reference>[^\]\n]{{0,60}})\])?
      |(?P<plain>(?=[lIO]*\d|l)[\dlIO]{{1,5}})\s?(?P<after>\.(?!\d)|\)|:(?!\d)|[-–—](?=\s))
      |(?P<roman>[IVXL]{{1,7}})\s?[.)](?=\s)
      |(?P<bare>\d{{1,5}})(?=\s+["“'¿(]?[A-Z])
    )(?:\*\*)?\s*""",
    re.VERBOSE | re.IGNORECASE,
)
_OCR = str.maketrans("lIO", "110")
_LABEL = re.compile(
    r"(?<![^\s;,?:.*|])(\*{0,2}|[✓✔]\s?)([(\[{]?)([A-Za-z]|\d{1,2}|[ivx]{2,4}|[IVX]{2,4})"
    r"(\s?[)\]}.:](?:\*\*)?|\s{1,3}[-–—](?=\s))\s*"
)
_BARE_LABEL = re.compile(r"(?:^\s*|\s{2,})()()([A-J])()\s+(?=\S)")
_ROMAN = ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii")
_ROMAN_VALUES = {"I": 1, "V": 5, "X": 10, "L": 50}
_REFERRING = re.compile(
    r"(?:\b(?:and|or|nor|both|only|either|neither|options?|choices?|answers?|statements?|than|to"
    r"|of|in|is|with|by)|[,&/])\s*$",
    re.IGNORECASE,
)
_MOST_SKIPPED = 3
_NEAR = 40
_WORTH = 0.25
"""How much of what the best layout explains another one explains, to be one at all."""
_BEAM = 6.0
"""How much dearer than the cheapest a way may be and still be followed."""

# What is paid for on the way through a file; a number that goes up by one costs nothing.
_JUMP, _RESTART_UNDER_HEADING, _RESTART, _BACK, _SAME = 0.8, 0.3, 1.6, 2.5, 3.0
_OTHER_ROW = 1.2
_OTHER_STYLE, _READ_FROM_LETTERS, _NO_NUMBER, _LIST_IN_STEM, _LONE_LABEL = 1.0, 0.4, 4.0, 2.2, 0.8


class Line(Struct, frozen=True, gc=False):
    """A line that holds anything: its number in the file, and whether an empty one precedes it."""

    number: int
    text: str
    after_gap: bool


class NumberLabel(Struct, frozen=True, gc=False):
    """A sign at the start of a line that could number a question.

    `style` names how it is written; `end` is where the text begins; `value` is 0 for an item
    code. `is_mended`: letters that scanning makes of digits were read as digits.
    """

    line: int
    style: str
    value: int
    end: int
    code: str = ""
    code_key: str = ""
    reference: str = ""
    is_mended: bool = False


class OptionLabel(Struct, frozen=True, gc=False):
    """A sign that could label an option: where it stands, and which in its row it is (0-based)."""

    line: int
    start: int
    end: int
    index: int
    at_start: bool
    is_marked: bool


class Block(Struct, gc=False):
    """One question's lines: from its number to before `end`, with the labels of its options.

    `strays` are labels of the same kind that found no place. `lists` counts runs of labels that
    were taken as a list inside the stem, `lost` holds the lines of runs that belong to nothing.
    `number` None: options under which no number was found.
    """

    number: NumberLabel | None
    options: list[OptionLabel]
    strays: list[OptionLabel]
    start: int
    end: int = 0
    lists: int = 0
    lost: list[int] = []


class Layout(Struct, frozen=True, kw_only=True):
    """A hypothesis about a file: how its numbers and its options are written, and how well it fits.

    `score` counts questions explained less contradictions; `blocks` are the questions.
    """

    numbers: str
    options: str
    score: float
    blocks: list[Block]
    option_count: int
    """How many options most questions have."""


Style = tuple[str, str]
"""How option labels are written: the signs around, and the row they count in (A, a, 1, i, I)."""


def plain(text: str) -> str:
    """The text with full-width signs as plain ones, sign by sign: positions stay."""
    if text.isascii() or not _ANY_FULL_WIDTH.search(text):
        return text
    return text.translate(_FULL_WIDTH)


def number_label(at: int, text: str) -> NumberLabel | None:
    """The sign at the start of a line that could number a question."""
    match = _NUMBER.match(text)
    if not match:
        return None
    held = match.groupdict()
    end = match.end()
    if held["code"] and (held["code"].isupper()):
        return NumberLabel(
            at, "A1B02", 0, end, held["code"], held["code_key"] or "", held["reference"] or ""
        )
    if held["roman"] and held["roman"].isupper():
        value = _roman_value(held["roman"])
        return NumberLabel(at, "I.", value, end) if value else None
    if held["word"]:
        return NumberLabel(at, "Q1", int(held["word"]), end)
    if held["round"] or held["square"]:
        style = "(1)" if held["round"] else "[1]"
        return NumberLabel(at, style, int(held["round"] or held["square"]), end)
    if held["plain"]:
        digits = held["plain"].translate(_OCR)
        style = "1" + ("-" if held["after"] in "–—" else held["after"])
        return NumberLabel(at, style, int(digits), end, is_mended=digits != held["plain"])
    if held["bare"] and text[match.end() :][:1]:
        return NumberLabel(at, "1", int(held["bare"]), end)
    return None


def _roman_value(text: str) -> int:
    values = [_ROMAN_VALUES[letter] for letter in text]
    total = sum(
        -value if value < following else value
        for value, following in zip(values, [*values[1:], 0], strict=True)
    )
    return total if 0 < total < 400 and len(text) < 8 else 0


class Marks:
    """Everything on the lines of a file that could be a question's number or an option's label."""

    def __init__(
        self, lines: Sequence[Line], closed: set[int], numbers: Sequence[NumberLabel | None]
    ) -> None:
        """`closed`: lines that belong to no question, as headings and answer keys."""
        self.lines = lines
        self.numbers: list[NumberLabel] = []
        self.labels: dict[Style, list[OptionLabel]] = defaultdict(list)
        self._places: list[int] | None = None
        for at, line in enumerate(lines):
            if at in closed:
                continue
            text = plain(line.text)
            if number := numbers[at]:
                self.numbers.append(number)
            self._find_labels(at, text, number.end if number else 0)

    def between(self, start: int, end: int) -> list[NumberLabel]:
        """The numbers on the lines from `start` to before `end`."""
        if self._places is None:
            self._places = [number.line for number in self.numbers]
        low, high = bisect_left(self._places, start), bisect_left(self._places, end)
        return self.numbers[low:high]

    def _find_labels(self, at: int, text: str, begin: int) -> None:
        for match in _LABEL.finditer(text):
            mark, before, sign, after = match.groups()
            self._add(at, match, begin, before, sign, after.strip(), bool(mark))
        first = text.lstrip()[:2]
        if len(first) == 2 and "A" <= first[0] <= "J" and first[1] == " ":
            for match in _BARE_LABEL.finditer(text):
                self._add(at, match, begin, "", match[3], " ", False)

    def _add(
        self,
        at: int,
        match: re.Match[str],
        begin: int,
        before: str,
        sign: str,
        after: str,
        is_marked: bool,
    ) -> None:
        start, end = match.start(), match.end()
        if match.string[start:end][:1].isspace():
            start = end - len(match[0].lstrip())
        lead = match.string[:start].strip(" >")
        at_start = not lead or (start >= begin > 0 and not match.string[begin:start].strip())
        tight = not match[0][-1:].isspace() and end < len(match.string)
        around = "()" if before else after.strip("*")[:1].replace("]", ")").replace("}", ")")
        if not at_start and (around in ".:-–—" and tight):
            return
        if around in "-–—":
            around = "-"
        for row, index in _places(sign):
            label = OptionLabel(at, start, end, index, at_start, is_marked or "**" in after)
            self.labels[around, row].append(label)


def _places(sign: str) -> list[tuple[str, int]]:
    """The rows in which a label's sign may count, and its place there."""
    places: list[tuple[str, int]] = []
    if len(sign) == 1 and sign.isascii() and sign.isalpha():
        place = ord(sign.lower()) - ord("a")
        if place < 26:
            places.append(("A" if sign.isupper() else "a", place))
    if sign.isdigit() and 1 <= int(sign) <= 26:
        places.append(("1", int(sign) - 1))
    if sign.lower() in _ROMAN:
        places.append(("I" if sign.isupper() else "i", _ROMAN.index(sign.lower())))
    return places


def style_name(style: Style) -> str:
    """How the first label of a style is written."""
    around, row = style
    return f"({row})" if around == "()" else (f"{row} -" if around == "-" else f"{row}{around}")


def layouts(marks: Marks, headings: Sequence[int], has_key: set[int], key_row: str) -> list[Layout]:
    """The layouts that explain the file, the best first; empty where nothing has options.

    `headings`: lines that are headings of chapters. `has_key`: lines that name an answer key.
    `key_row`: whether most keys are letters (a) or numbers (1).
    """
    kinds = Counter(label.style for label in marks.numbers)
    fitting: list[Layout] = []
    for style in _likely(marks):
        taken = "(1)" if style == ("()", "1") else f"1{style[0]}" if style[1] == "1" else ""
        numbers = [
            label
            for label in marks.numbers
            if label.style != taken and not (style[1] == "I" and label.style == "I.")
        ]
        if style == (" ", "A"):
            numbers = [label for label in numbers if label.style != "1"] or numbers
        fitting += _fit(marks, style, numbers, kinds, headings, has_key)
    for at, layout in enumerate(fitting):
        is_number = layout.options.strip("().- ")[:1] == "1"
        if key_row and layout.score > 0 and is_number != (key_row == "1"):
            fitting[at] = replace(layout, score=layout.score * (0.75 if is_number else 0.9))
    fitting.sort(key=lambda layout: -layout.score)
    least = max(_WORTH * fitting[0].score, 0) if fitting else 0
    return [layout for at, layout in enumerate(fitting) if at == 0 or layout.score > least]


def _likely(marks: Marks) -> list[Style]:
    counted: list[tuple[float, Style]] = []
    for style, labels in marks.labels.items():
        counts = Counter(label.index for label in labels if label.index < 2)
        usual = min(counts[0], counts[1])
        if usual:
            weight = 1.0 if style[1] in "Aa" else 0.9
            counted.append((-usual * weight, style))
    return [style for _, style in sorted(counted)[:5]]


def _fit(
    marks: Marks,
    style: Style,
    numbers: list[NumberLabel],
    kinds: Counter[str],
    headings: Sequence[int],
    has_key: set[int],
) -> list[Layout]:
    """The layout under one way of labelling options, with its most fitting way of numbering."""
    usual = max(
        {label.style for label in numbers},
        key=lambda each: (_rising([n.value for n in numbers if n.style == each]), each != "I."),
        default="",
    )
    barriers = [label.line for label in numbers if label.style == usual]
    runs = _runs(marks.labels[style], barriers)
    if not runs:
        return []
    runs = sorted(runs + _foreign(marks, style, runs, numbers, barriers), key=lambda run: run.first)
    path = _Path(marks, runs, numbers, usual, headings, has_key, style[0] != " ")
    blocks = path.blocks()
    size = path.usual_size
    score = _score(marks, style, blocks, size, has_key)
    return [
        Layout(
            numbers=usual,
            options=style_name(style),
            score=score,
            blocks=blocks,
            option_count=size,
        )
    ]


def _rising(values: list[int]) -> int:
    """How many of the numbers go up, one after the other; item codes all count."""
    tops: list[int] = []
    codes = 0
    for value in values:
        codes += value == 0
        place = bisect_left(tops, value)
        if value:
            tops[place : place + 1] = [value]
    return len(tops) + codes


class _Run(Struct, gc=False):
    """Labels that count up. `is_foreign`: in another style than the layout's."""

    labels: list[OptionLabel]
    strays: list[OptionLabel]
    is_foreign: bool = False

    @property
    def first(self) -> int:
        return self.labels[0].line

    @property
    def last(self) -> int:
        return self.labels[-1].line


def _runs(labels: list[OptionLabel], barriers: list[int]) -> list[_Run]:
    """The labels in runs that count up from the first: one run for each set of options."""
    groups: list[list[OptionLabel]] = []
    for label in sorted(labels, key=lambda each: (each.line, each.start)):
        before = groups[-1][-1] if groups else None
        crossed = before is not None and bisect_right(barriers, label.line) > bisect_right(
            barriers, before.line
        )
        restarts = label.index == 0 and (
            before is None or (label.at_start and label.line > before.line)
        )
        if before is None or crossed or restarts:
            groups.append([label])
        else:
            groups[-1].append(label)
    runs = [_assembled(group) for group in groups]
    return [run for run in runs if run.labels]


def _assembled(group: list[OptionLabel]) -> _Run:
    """The run in a group of labels: in order, or printed down two columns."""
    chosen: list[OptionLabel] = []
    rest = group
    while True:
        index = len(chosen)
        here = [at for at, label in enumerate(rest) if label.index == index]
        if not here:
            break
        at = here[0]
        only_starts = all(label.at_start for label in chosen)
        if not rest[at].at_start and only_starts:
            at = next((each for each in here if rest[each].at_start), at)
        chosen.append(rest[at])
        rest = rest[at + 1 :]
    indices = [label.index for label in group]
    count = len(indices)
    if len(chosen) < count and sorted(indices) == list(range(count)) and indices[0] == 0:
        half = (count + 1) // 2
        down = [at // 2 if at % 2 == 0 else half + at // 2 for at in range(count)]
        if indices == down:
            chosen = sorted(group, key=lambda label: label.index)
    kept = {id(label) for label in chosen}
    return _Run(chosen, [label for label in group if id(label) not in kept])


def _foreign(
    marks: Marks, style: Style, own: list[_Run], numbers: list[NumberLabel], barriers: list[int]
) -> list[_Run]:
    """Runs in other styles that can be a question's options: a number before, none of its own."""
    places = [number.line for number in numbers]
    starts, ends = [run.first for run in own], [run.last for run in own]
    foreign: list[_Run] = []
    taken: set[int] = set()
    for other in _likely(marks):
        if other == style or other[1] not in "Aa" or other[0] == " ":
            continue
        for run in _runs(marks.labels[other], barriers):
            following = bisect_left(starts, run.first)
            before = ends[following - 1] if following else -1
            after = starts[following] if following < len(starts) else 1 << 60
            lies_free = before < run.first and run.last < after
            has_number = bisect_right(places, run.first) > bisect_right(places, before)
            is_closed = after == 1 << 60 or bisect_right(places, after) > bisect_right(
                places, run.last
            )
            lines = {label.line for label in run.labels}
            if len(run.labels) > 1 and lies_free and has_number and is_closed and not lines & taken:
                run.is_foreign = True
                taken |= lines
                foreign.append(run)
    return foreign


class _Step(Struct, gc=False):
    """The cheapest way to here: what it costs, the run, its number, and the step before."""

    cost: float
    run: int
    number: NumberLabel | None
    value: int
    before: "_Step | None"


class _Path:
    """Chooses for every run of option labels the line that numbers its question."""

    def __init__(
        self,
        marks: Marks,
        runs: list[_Run],
        numbers: list[NumberLabel],
        usual: str,
        headings: Sequence[int],
        has_key: set[int],
        is_marked: bool,
    ) -> None:
        """`is_marked`: a sign follows the letter of an option's label."""
        self._is_marked = is_marked
        self._lines = marks.lines
        self._runs = runs
        self._numbers = numbers
        self._places = [label.line for label in numbers]
        self._usual = usual
        self._headings = sorted(headings)
        self._keys = sorted(has_key)
        sizes = Counter(len(run.labels) for run in runs if len(run.labels) > 1)
        self.usual_size = max(sizes, key=lambda size: (sizes[size], size), default=0)
        firsts = [label for label in numbers if label.style == usual]
        gaps = sum(1 for label in firsts if marks.lines[label.line].after_gap)
        self._has_gaps = gaps * 10 >= len(firsts) * 6 and gaps > 1

    def blocks(self) -> list[Block]:
        """The questions in the order of the file, those without options among them."""
        steps = self._cheapest()
        chosen: list[Block] = []
        before = -1
        for step in steps:
            run = self._runs[step.run]
            start = step.number.line if step.number else run.first
            lists = self._runs[before + 1 : step.run]
            strays = [*run.strays]
            if chosen:
                inside = [r for r in lists if r.first < start]
                chosen[-1].lost += [each.first for each in inside if len(each.labels) > 1]
            in_stem = sum(1 for each in lists if each.first >= start)
            chosen.append(Block(step.number, run.labels, strays, start, lists=in_stem))
            before = step.run
        for run in self._runs[before + 1 :]:
            if chosen:
                chosen[-1].lost.append(run.first)
        return self._with_open_questions(chosen)

    def _cheapest(self) -> list[_Step]:
        root = _Step(0.0, -1, None, 0, None)
        layers: list[list[_Step]] = [[root]]
        for at in range(len(self._runs)):
            layer: list[_Step] = []
            for skipped in range(min(at, _MOST_SKIPPED) + 1):
                previous = layers[at - skipped]
                cost = sum(self._skip_cost(each) for each in range(at - skipped, at))
                if layer and previous[0].cost + cost > min(s.cost for s in layer) + _BEAM:
                    break
                layer += self._steps(at, previous, cost)
            layer.sort(key=lambda step: step.cost)
            most = layer[0].cost + _BEAM
            layers.append([step for step in layer[:8] if step.cost <= most])
        ends: list[_Step] = []
        for skipped in range(min(len(self._runs), _MOST_SKIPPED) + 1):
            cost = sum(
                self._skip_cost(each) for each in range(len(self._runs) - skipped, len(self._runs))
            )
            ends += [
                _Step(step.cost + cost, step.run, step.number, step.value, step.before)
                for step in layers[len(self._runs) - skipped]
            ]
        step: _Step | None = min(ends, key=lambda each: each.cost)
        path: list[_Step] = []
        while step is not None and step.run >= 0:
            path.append(step)
            step = step.before
        return path[::-1]

    def _skip_cost(self, run: int) -> float:
        labels = self._runs[run].labels
        if len(labels) == 1:
            return 1.4 if labels[0].at_start and self._is_marked else 0.4
        if self._runs[run].is_foreign:
            return 0.4
        after = self._runs[run + 1].first if run + 1 < len(self._runs) else len(self._lines)
        is_keyed = self._has_key(labels[-1].line, after)
        is_keyed = is_keyed or (run > 0 and self._has_key(self._runs[run - 1].last, labels[0].line))
        return _LIST_IN_STEM + (2.5 if is_keyed else 0.0)

    def _has_key(self, start: int, end: int) -> bool:
        """Whether an answer key stands on a line from `start` to before `end`."""
        low = bisect_left(self._keys, start)
        return low < len(self._keys) and self._keys[low] < end

    def _steps(self, run: int, previous: list[_Step], paid: float) -> list[_Step]:
        """The ways to number a run after each of the steps before."""
        first = self._runs[run].first
        numbered: list[_Step] = []
        by_run: dict[int, list[_Step]] = defaultdict(list)
        for step in previous:
            by_run[step.run].append(step)
        for before, steps in by_run.items():
            last = self._runs[before].last if before >= 0 else -1
            low, high = bisect_right(self._places, last), bisect_right(self._places, first)
            choices = self._numbers[low:high]
            if len(choices) > 2 * _NEAR:
                choices = [*choices[:_NEAR], *choices[-_NEAR:]]
            own = paid + self._run_cost(run)
            for place, number in enumerate(choices):
                cost = own + self._number_cost(number)
                cost += 0.7 * _unordered(choices[place + 1 :]) if place + 1 < len(choices) else 0
                options = [
                    (step.cost + cost + self._move(step, number, choices[:place]), step)
                    for step in steps
                ]
                best, step = min(options, key=lambda pair: pair[0])
                numbered.append(_Step(best, run, number, number.value, step))
            step = min(steps, key=lambda each: each.cost)
            lost = own + step.cost + _NO_NUMBER
            numbered.append(_Step(lost, run, None, step.value + 1 if step.value else 0, step))
        return numbered

    def _run_cost(self, run: int) -> float:
        size = len(self._runs[run].labels)
        if size == 1:
            return _LONE_LABEL
        if self._runs[run].is_foreign:
            return 0.6
        return 0.0 if size == self.usual_size else 0.3

    def _number_cost(self, number: NumberLabel) -> float:
        cost = 0.0 if number.style == self._usual else _OTHER_STYLE
        cost += _READ_FROM_LETTERS if number.is_mended else 0.0
        if self._has_gaps and not self._lines[number.line].after_gap:
            cost += 0.4
        return cost

    def _move(self, step: _Step, number: NumberLabel, passed: list[NumberLabel]) -> float:
        """What the step from one number to the next costs, and what lies between unused."""
        if number.code:
            return 0.0
        if step.run < 0:
            listed = 2.0 if passed and _is_list([*passed, number]) and number.value > 1 else 0.0
            return (0.0 if number.value == 1 else 0.3) + 0.2 * len(passed[:5]) + listed
        difference = number.value - step.value
        above = passed[-1].value if passed else 0
        if above and above == number.value - 1 and (step.value >= above or _is_list(passed)):
            # The next item of a list, unless that is the list of an explanation.
            first = len(passed) - 1
            while first and passed[first - 1].value == passed[first].value - 1:
                first -= 1
            explains = not first and passed[0].value == 1
            explains = explains and self._is_keyed(step, passed[0].line)
            if not explains and not self._lines[number.line].after_gap:
                return 2.0 + 0.4 * _unordered(passed)
        filled = [label.value for label in passed if step.value < label.value < number.value]
        if difference == 1:
            return 0.4 * _unordered(passed)
        if difference > 1:
            if filled == list(range(step.value + 1, number.value)):
                return 0.2
            return _JUMP + min(difference, 200) / 1000 + 0.6 * _unordered(passed)
        start = step.number.line if step.number else self._runs[step.run].first
        between = bisect_right(self._headings, number.line) - bisect_left(self._headings, start)
        if number.value == 1 or between:
            cost = _RESTART_UNDER_HEADING if between else _RESTART
            return cost + (0 if number.value == 1 else 0.5) + 0.6 * _unordered(passed)
        if step.number and step.number.style != number.style:
            return _OTHER_ROW + 0.4 * _unordered(passed)
        return (_SAME if difference == 0 else _BACK) + 0.4 * _unordered(passed)

    def _is_keyed(self, step: _Step, line: int) -> bool:
        """Whether an answer key stands between a step's options and a line."""
        low = bisect_left(self._keys, self._runs[step.run].last)
        return low < len(self._keys) and self._keys[low] <= line

    def _with_open_questions(self, blocks: list[Block]) -> list[Block]:
        """Questions without options: numbered lines that fill a gap in the numbers."""
        all_blocks: list[Block] = []
        total = len(self._lines)
        for at, block in enumerate(blocks):
            following = blocks[at + 1] if at + 1 < len(blocks) else None
            all_blocks.append(block)
            if block.number is None or block.number.code:
                continue
            low = bisect_right(self._places, block.options[-1].line)
            high = bisect_left(self._places, following.start) if following else total
            value, limit = block.number.value, total
            if following:
                limit = following.number.value if following.number else 0
                if limit <= value:
                    limit = total
            chain: list[NumberLabel] = []
            for place in range(low, min(high, len(self._numbers))):
                number = self._numbers[place]
                above = self._numbers[place - 1] if place > low else None
                is_listed = above is not None and above.value == number.value - 1
                is_next = number.value == value + 1 < limit and number.style == block.number.style
                if is_listed and above not in chain:
                    continue  # a step of an explanation, not a question
                if is_next and self._is_open_question(number, following is None or limit == total):
                    chain.append(number)
                    value += 1
            if following and limit != total and chain and value + 1 != limit:
                chain = [number for number in chain if self._is_open_question(number, True)]
            all_blocks += [Block(number, [], [], number.line) for number in chain]
        if blocks and blocks[0].number and blocks[0].number.value > 1:
            all_blocks = [*self._before_first(blocks[0]), *all_blocks]
        for block, following in zip(all_blocks, [*all_blocks[1:], None], strict=False):
            block.end = following.start if following else total
        return all_blocks

    def _before_first(self, first: Block) -> list[Block]:
        number = first.number
        assert number is not None
        value = number.value
        chain: list[Block] = []
        for label in reversed(self._numbers[: bisect_left(self._places, first.start)]):
            fits = label.value == value - 1 and label.style == number.style
            if fits and self._is_open_question(label, True):
                chain.append(Block(label, [], [], label.line))
                value -= 1
        return chain[::-1]

    def _is_open_question(self, number: NumberLabel, strictly: bool) -> bool:
        """Whether a numbered line asks something, rather than being a step of an explanation."""
        text = self._lines[number.line].text.rstrip()
        asks = text.endswith(("?", "…", "...", "__", ":", "."))
        low = bisect_right(self._keys, number.line)
        has_key = low < len(self._keys) and self._keys[low] - number.line <= 4
        return has_key or (asks if not strictly else text.endswith("?"))


def _is_list(numbers: list[NumberLabel]) -> bool:
    """Whether the last of the numbers end a list that begins with 1."""
    value = numbers[-1].value
    for number in reversed(numbers):
        if number.value != value:
            return False
        if value == 1:
            return True
        value -= 1
    return False


def _unordered(numbers: list[NumberLabel]) -> int:
    """How many numbered lines, left over between questions, do not make lists 1, 2, 3…"""
    expected = {1}
    wrong = 0
    for number in numbers[:_NEAR]:
        if number.style == "1" or number.style == "A1B02":
            continue
        if number.value not in expected:
            wrong += 1
        expected = {1, number.value + 1}
    return wrong


def _score(marks: Marks, style: Style, blocks: list[Block], size: int, has_key: set[int]) -> float:
    """Questions explained, less what contradicts the layout."""
    keys = sorted(has_key)
    others = {
        other: [(label.line, label.start, label.index) for label in labels if label.index < 3]
        for other, labels in marks.labels.items()
        if other != style and other[1] in "Aa1i"
    }
    score, value = 0.0, 0
    for block in blocks:
        number = block.number
        if number is None:
            score -= 1
            continue
        if len(block.options) > 1:
            score += 1 + 0.5 * (len(block.options) == size)
            score -= 0.25 * min(len(block.strays), 2)
            in_stem = bisect_left(keys, block.start), bisect_left(keys, block.options[0].line)
            score -= in_stem[1] > in_stem[0]
            last = block.options[-1]
            after = bisect_left(keys, last.line), bisect_left(keys, block.end)
            score += 0.3 * (after[1] > after[0])
            until = keys[after[0]] if after[1] > after[0] else block.end
            needed = {0, 1, 2} if size > 2 else {0, 1}
            for held in others.values():
                low, high = bisect_right(held, (last.line, last.end)), bisect_left(held, (until,))
                if needed <= {index for *_, index in held[low:high]}:
                    score -= 1.2
                    break
        if not number.code:
            score -= 0.5 * (number.value != value + 1 and value > 0)
            score -= 0.5 * (number.value <= value)
            value = number.value
    prior = {"A": 1.0, "a": 1.0, "1": 0.97, "i": 0.9, "I": 0.9}[style[1]]
    return score * (prior if style[0] != " " else 0.93)


def is_referring(text: str, label: OptionLabel) -> bool:
    """Whether a label inside a text is mentioned there, as in "both (a) and (b)"."""
    before, after = text[: label.start], text[label.end :]
    return bool(
        _REFERRING.search(before)
        or re.match(r"\s*(?:and|or|nor|&|,|/|is|are|only|but|above|\))", after)
        or re.match(r"\s*[.;]?\s*$", after)
    )
