"""Rows of cells → drafts. Shared by delimited text and spreadsheets.

The path of a row is kept lean: a hundred thousand of them pass here in a second or two.
"""

import re
from collections import Counter
from collections.abc import Callable, Container, Iterable, Sequence
from html import unescape
from itertools import chain, islice

from msgspec.structs import replace

from banks.importers.answer_keys import fit_keys
from banks.importers.cells import (
    converted,
    credit,
    hold_options,
    split_options,
    split_stem,
    split_tags,
    stated_kind,
)
from banks.importers.columns import OPTION_NOTES
from banks.importers.common import NO_KEY, Draft, DraftOption, Finding, Hints, Parsed
from domain.errors import InputError
from domain.grading import number as as_number
from domain.questions import LETTERS, Kind
from domain.text import MAX_TEXT, counted, is_unsafe, tidy

HEADINGS = frozenset({"subject", "chapter"})
MAX_ROWS = 1_000_000
MOST_TOLERANCE = 1e12
_STEP = 2_000
_HEAD = 30
_RARE = {
    *("options", "kind", "tolerance", "tags", "shuffle", "fixed", "credit", "history"),
    *("code", "to_check", *OPTION_NOTES),
}
_ENTITY = re.compile(r"&(?:[A-Za-z]{2,8}|#\d{1,6}|#x[0-9A-Fa-f]{1,6});")
_BARE_AMPERSAND = re.compile(r"&(?!(?:[A-Za-z]{2,8}|#\d{1,6}|#x[0-9A-Fa-f]{1,6});)")
_CODE = re.compile(r"[A-Z]\d[A-Z]\d{2}|[A-Z]{1,4}[-.]?\d{1,4}(?:[-.]\d{1,4}){0,2}")
"""A source's own name of a question, as it may stand where others have a number."""

_NO_HISTORY = (
    "a history stands beside {} of the questions and is not taken; marks go out and come in as a "
    "file of marks (resieve export FILE --marks)"
)

Row = tuple[int, Sequence[str]]
"""A row's first physical line (1-based) and its cells."""


class BadRow(Exception):
    """Why one row can't be imported."""


class TableReader:
    """Reads rows under a mapping (field → column position) into a `Parsed`.

    `width` is how many columns the table has (0: as many as are mapped, or more). `filled`: the
    headings whose blank cells repeat the one above.
    """

    def __init__(
        self,
        mapping: dict[str, int],
        hints: Hints,
        parsed: Parsed,
        width: int = 0,
        filled: Container[str] = (),
    ) -> None:
        self._parsed = parsed
        self._hints = hints
        self._at = mapping
        self._options = [mapping[letter] for letter in LETTERS if letter in mapping]
        self._needed = max([mapping.get("stem", -1), mapping.get("key", -1), *self._options[:2]])
        self._width = max(width, max(mapping.values(), default=-1) + 1)
        self._has_width = width > 0
        self._rare = {name: at for name, at in mapping.items() if name in _RARE}
        self._raws: list[str] = []
        self._kinds: dict[int, Kind] = {}
        self._titles: dict[str, str] = {}
        self._above = {"subject": "", "chapter": ""}
        self._fills, self._filled = filled, Counter[str]()
        self._has_entities = False
        self._histories = 0
        self._splits = False

    def read(self, rows: Iterable[Row], share: Callable[[], float]) -> Parsed:
        """Every row becomes a draft or a finding; `share` tells how much of the file is read."""
        drafts, tell = self._parsed.drafts, self._hints.progress
        if (
            not self._options
            and "options" not in self._at
            and (at := self._at.get("stem", -1)) >= 0
        ):
            rows = iter(rows)
            head = list(islice(rows, _HEAD))
            self._splits = hold_options([cells[at] for _, cells in head if at < len(cells)])
            rows = chain(head, rows)
        for count, (line, cells) in enumerate(rows, 1):
            if count > MAX_ROWS:
                name = self._hints.name or "The file"
                raise InputError(f"{name} holds more than {MAX_ROWS:,} rows; split it up.")
            try:
                draft = self._draft(line, cells)
            except BadRow as bad:
                self._parsed.skipped.append(Finding(line, str(bad)))
                continue
            if draft is not None:
                drafts.append(draft)
            if tell and count % _STEP == 0:
                tell(share())
        return self._finished()

    def _finished(self) -> Parsed:
        parsed = self._parsed
        if self._has_entities:
            self._read_entities()
        good, skipped, warnings = fit_keys(
            parsed.drafts, self._raws, self._kinds, self._hints.key_base
        )
        parsed.drafts = good
        parsed.skipped = sorted(parsed.skipped + skipped, key=lambda finding: finding.line)
        parsed.warnings += warnings
        self._tell_keyless(good)
        for field, count in self._filled.items():
            reason = (
                f"a {field} is printed once and holds for the rows below it: {count:,} filled in"
            )
            parsed.warnings.append(Finding(0, reason))
        if self._histories:
            parsed.warnings.append(Finding(0, _NO_HISTORY.format(f"{self._histories:,}")))
        return parsed

    def _tell_keyless(self, drafts: list[Draft]) -> None:
        keyless = [draft.line for draft in drafts if draft.stem and not draft.key]
        self._parsed.warnings += [Finding(line, NO_KEY) for line in keyless]

    def _read_entities(self) -> None:
        """Turn HTML entities into their signs, where the file writes each `&` as one."""
        drafts = self._parsed.drafts
        if any(_BARE_AMPERSAND.search(text) for draft in drafts for text in _texts(draft)):
            return
        first = next(d.line for d in drafts if any("&" in text for text in _texts(d)))
        for draft in drafts:
            draft.stem, draft.explanation = _plain(draft.stem), _plain(draft.explanation)
            draft.options = tuple(
                replace(option, text=_plain(option.text), explanation=_plain(option.explanation))
                for option in draft.options
            )
        self._raws = [_plain(raw) for raw in self._raws]
        self._parsed.warnings.append(Finding(first, "HTML entities were read as their signs"))

    def _draft(self, line: int, cells: Sequence[str]) -> Draft | None:
        if len(cells) != self._width:
            cells = self._fitted(cells)
        text, at = self._text, self._at
        stem = text(line, cells, "stem")
        options = self._option_texts(line, cells)
        if self._splits:
            stem, texts = split_stem(stem)
            options = tuple(map(DraftOption, texts))
        number = self._number(cells)
        if not stem and (options or number is None):
            if not any(cell.strip() for cell in cells):
                return None
            if not options and self._is_title(line, cells):
                return None
            raise BadRow("has no stem" if "stem" in at else "has no number")
        draft = Draft(
            line=line,
            subject=self._title(line, cells, "subject"),
            chapter=self._title(line, cells, "chapter"),
            number=number,
            stem=stem,
            options=options,
            explanation=text(line, cells, "explanation") if "explanation" in at else "",
            reference=text(line, cells, "reference") if "reference" in at else "",
        )
        if number is None and "number" in at and _CODE.fullmatch(cells[at["number"]].strip()):
            draft.code = cells[at["number"]].strip()
        raw = text(line, cells, "key")
        kind = self._add_rare(draft, cells) if self._rare else None
        if len(draft.options) == 1:
            raise BadRow("has one option only")
        self._look_at_options(draft)
        if kind:
            self._kinds[len(self._raws)] = kind
        self._raws.append(raw)
        return draft

    def _fitted(self, cells: Sequence[str]) -> Sequence[str]:
        """The cells, as many as there are columns. Raises BadRow where some are missing or over."""
        given, width = len(cells), self._width
        if given < width:
            if any(cells) and given <= self._needed:
                raise BadRow(
                    f"holds {counted(given, 'cell')}, at least {self._needed + 1} expected"
                )
            return [*cells, *[""] * (width - given)]
        if self._has_width and any(cell.strip() for cell in cells[width:]):
            problem = f"holds {counted(given, 'cell')}, {width} expected"
            raise BadRow(f"{problem}; a text with a separator in it needs quotation marks")
        return cells

    def _text(self, line: int, cells: Sequence[str], field: str) -> str:
        at = self._at.get(field)
        if at is None:
            return ""
        return self._clean(line, cells[at])

    def _clean(self, line: int, cell: str) -> str:
        text = tidy(cell)
        if "&" in text and _ENTITY.search(text):
            self._has_entities = True
        if text is not cell and is_unsafe(cell):
            finding = Finding(line, "control or direction signs were taken out or replaced")
            if finding not in self._parsed.warnings[-1:]:
                self._parsed.warnings.append(finding)
        if len(text) > MAX_TEXT:
            raise BadRow(f"holds a text of {len(text):,} characters, at most {MAX_TEXT:,} fit")
        return text

    def _title(self, line: int, cells: Sequence[str], field: str) -> str:
        """A heading; kept once however many rows bear it. A blank cell repeats the one above."""
        if field not in self._at:
            return ""
        title = self._text(line, cells, field)
        if not title and field in self._fills and self._above[field]:
            self._filled[field] += 1
            return self._above[field]
        if field == "subject" and title != self._above["subject"]:
            self._above["chapter"] = ""
        self._above[field] = self._titles.setdefault(title, title)
        return self._above[field]

    def _is_title(self, line: int, cells: Sequence[str]) -> bool:
        """Whether a row holds a subject or a chapter for the rows below it, and nothing else."""
        held = {at for at, cell in enumerate(cells) if cell.strip()}
        fields = [name for name in ("subject", "chapter") if name in self._at]
        if not held or not held <= {self._at[name] for name in fields}:
            return False
        for name in fields:
            self._title(line, cells, name)
        return True

    def _option_texts(self, line: int, cells: Sequence[str]) -> tuple[DraftOption, ...]:
        count = len(self._options)
        while count and not cells[self._options[count - 1]].strip():
            count -= 1
        return tuple([DraftOption(self._clean(line, cells[at])) for at in self._options[:count]])

    def _number(self, cells: Sequence[str]) -> int | None:
        at = self._at.get("number")
        if at is None:
            return None
        raw = cells[at].strip()
        digits = raw.lstrip("Qq#. ").rstrip(".) ").removesuffix(".0")
        if not raw or (_CODE.fullmatch(raw) and raw[0] not in "Qq"):
            return None
        if not (digits.isascii() and digits.isdecimal()) or len(digits) > 6 or int(digits) == 0:
            raise BadRow(f"the number '{raw[:20]}' is not a whole number from 1 on")
        return int(digits)

    def _look_at_options(self, draft: Draft) -> None:
        options = draft.options
        warn = self._parsed.warnings.append
        if len({option.text for option in options}) < len(options):
            warn(Finding(draft.line, "two options are the same; either counts as the other"))
        for option in options:
            if not option.text:
                warn(Finding(draft.line, "an option is empty"))
            elif len(option.text) <= 20 and (reason := converted(option.text)):
                warn(Finding(draft.line, f"'{option.text}' {reason}; kept as it is"))
                return

    def _add_rare(self, draft: Draft, cells: Sequence[str]) -> Kind | None:
        """What few files have: tags, options in one cell, and our own exports' columns.

        Returns the kind, where the file states it.
        """
        held = {name: text for name, at in self._rare.items() if (text := cells[at].strip())}
        self._histories += "history" in held
        if held.get("options") and not draft.options:
            draft.options = _in_one_cell(held["options"])
        if held.get("tolerance"):
            draft.tolerance = _tolerance(held["tolerance"])
        draft.code = tidy(held.get("code", "")) or draft.code
        draft.to_check = tidy(held.get("to_check", ""))
        draft.tags = split_tags(tidy(held.get("tags", "")))
        draft.shuffle = held.get("shuffle", "").casefold() not in ("no", "false", "0")
        fixed, credits = held.get("fixed", "").casefold(), held.get("credit", "")
        draft.options = tuple(
            DraftOption(option.text, letter in fixed, tidy(held.get(f"note_{letter}", "")))
            for letter, option in zip(LETTERS, draft.options, strict=False)
        )
        draft.credit = credit(credits)
        return stated_kind(held.get("kind", ""))


def _texts(draft: Draft) -> tuple[str, ...]:
    return draft.stem, draft.explanation, *(option.text for option in draft.options)


def _plain(text: str) -> str:
    return tidy(unescape(text)) if "&" in text else text


def _in_one_cell(cell: str) -> tuple[DraftOption, ...]:
    texts = split_options(tidy(cell))
    if len(texts) > len(LETTERS):
        raise BadRow(f"has {len(texts)} options, at most {len(LETTERS)} fit")
    return tuple(map(DraftOption, texts))


def _tolerance(cell: str) -> float:
    value = as_number(cell)
    if value is None or not 0 <= value < MOST_TOLERANCE:
        raise BadRow(f"the tolerance '{cell[:20]}' is not a number from 0 on")
    return float(value)
