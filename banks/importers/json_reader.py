"""JSON and JSON Lines: arrays, wrapped arrays, or one object a line, by the obvious names.

Objects with named members become drafts by way of the same table reader as rows of cells.
"""

import io
import itertools
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import msgspec

from banks.importers.cells import join_texts, split_options, unlabelled
from banks.importers.columns import OPTION_NOTES, Columns, is_enough, meaning
from banks.importers.common import Finding, Hints, Parsed, unused
from banks.importers.encoding import Text
from banks.importers.table import Row, TableReader
from domain.errors import InputError
from domain.questions import LETTERS

_MAX_DEPTH = 3
_SAMPLE = 60
_MAX_WHOLE = 64 * 2**20
_Item = tuple[int, Any]
_ERROR_AT = re.compile(r"byte (\d+)")


def parse(data: bytes, hints: Hints) -> Parsed:
    """Questions from JSON (RFC 8259) or JSON Lines. Raises InputError when it is neither."""
    text = Text(data, hints.name, hints.encoding)
    if text.encoding != "utf-8" or data.startswith(b"\xef\xbb\xbf"):
        data = text.whole().encode("utf-8", "replace")
    lines = is_json_lines(data)
    parsed = Parsed(format="jsonl" if lines else "json", encoding=text.encoding)
    parsed.warnings += text.findings()
    parsed.encodings = text.encodings
    items = _lines(data, parsed) if lines else _whole(data, hints.name, parsed)
    fields = None
    if hints.columns:
        names = columns(data).names
        fields = {names[at]: name for name, at in hints.columns.items() if at < len(names)}
    return ObjectReader(hints, parsed, fields).read(items, len(data))


def columns(data: bytes) -> Columns:
    """The members of the first objects as columns, for a preview or a mapping."""
    text = Text(data)
    if text.encoding != "utf-8" or data.startswith(b"\xef\xbb\xbf"):
        data = text.whole().encode("utf-8", "replace")
    parsed = Parsed(format="")
    items = _lines(data, parsed) if is_json_lines(data) else _whole(data, "", parsed)
    objects = (item for _, item in items if isinstance(item, dict))
    return object_columns(list(itertools.islice(objects, _SAMPLE)))


def raw_rows(data: bytes, hints: Hints, most: int | None = None) -> list[Row]:
    """Objects as rows of text under their members' paths. Raises InputError for damage."""
    named = columns(data)
    text = Text(data, hints.name, hints.encoding)
    decoded = text.whole().encode("utf-8", "replace")
    parsed = Parsed(format="")
    lines = is_json_lines(decoded)
    items = _lines(decoded, parsed) if lines else _whole(decoded, hints.name, parsed)
    rows: list[Row] = [(0, list(named.names))]
    for line, item in itertools.islice(items, most):
        if isinstance(item, dict):
            rows.append((line, object_cells(item, named.names)))
    return rows


def is_json_lines(data: bytes) -> bool:
    """Whether the first lines are objects, each complete on its line."""
    heads = [line for line in itertools.islice(io.BytesIO(data), 20) if line.strip()]
    if not heads or not heads[0].lstrip().startswith(b"{"):
        return False
    objects = [item for line in heads[:3] if isinstance(item := _decoded(line), dict)]
    return len(objects) > 1 or any(map(looks_like_question, objects))


def _decoded(raw: bytes) -> Any:
    try:
        return msgspec.json.decode(raw)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None


def _lines(data: bytes, parsed: Parsed) -> Iterator[_Item]:
    decoder = msgspec.json.Decoder()
    for number, raw in enumerate(io.BytesIO(data), 1):
        if not raw.strip():
            continue
        try:
            item = decoder.decode(raw)
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
            parsed.skipped.append(Finding(number, f"not valid JSON: {_error_words(error)}"))
            continue
        yield number, item


def _whole(data: bytes, name: str, parsed: Parsed) -> Iterator[_Item]:
    if len(data) > _MAX_WHOLE:
        most = _MAX_WHOLE // 2**20
        raise InputError(
            f"{name or 'The file'}: one JSON document of more than {most} MB; write it as JSON"
            " Lines, one question per line."
        )
    try:
        document = msgspec.json.decode(data)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        at = _ERROR_AT.search(str(error))
        line = data.count(b"\n", 0, int(at.group(1))) + 1 if at else 1
        raise InputError(
            f"{name or 'The file'}, line {line}: not valid JSON ({_error_words(error)}); nothing"
            " read."
        ) from None
    parsed.weights = _weights(document)
    items = list(_questions(document))
    starts = _object_lines(data)
    objects = sum(isinstance(item, dict) for item in items)
    lines = iter(starts if len(starts) == objects else [0] * objects)
    return iter([(next(lines) if isinstance(item, dict) else 0, item) for item in items])


def _weights(document: Any) -> dict[str, float]:
    """What a handover says of the subjects' weights in the exam, by title."""
    given = document.pop("weights", None) if isinstance(document, dict) else None
    if not isinstance(given, dict):
        return {}
    return {
        title: float(weight) for title, weight in given.items() if isinstance(weight, int | float)
    }


def _questions(document: Any, depth: int = 0) -> Iterator[Any]:
    """The objects that can be questions: in an array, or in the arrays of a wrapping object."""
    if isinstance(document, list):
        yield from document
    elif isinstance(document, dict):
        lists = {
            name: value
            for name, value in document.items()
            if isinstance(value, list | dict) and depth < _MAX_DEPTH
        }
        if looks_like_question(document) or not lists:
            yield document
            return
        for name, value in lists.items():
            for question in _questions(value, depth + 1):
                yield _placed(question, name)


def looks_like_question(item: dict[str, Any]) -> bool:
    """Whether an object is a question itself rather than a wrapping of questions."""
    names = {meaning(name) for name in item}
    return bool(names & {"stem", "number"} and names & {"options", "key", "a"})


def _placed(item: Any, heading: str) -> Any:
    """An item under `"Clouds": [...]` belongs to that chapter, unless it says so itself."""
    generic = {"questions", "items", "data", "rows", "records", "examples", "results", "bank"}
    if not isinstance(item, dict) or heading.casefold() in generic or "chapter" in item:
        return item
    return {"chapter": heading} | item


def _object_lines(data: bytes) -> list[int]:
    """The line each object of the outermost array of objects begins on.

    A scan of the bytes: strings are stepped over, so that braces inside them don't count. Where
    the objects found are not as many as the items, no line can be told.
    """
    starts: list[int] = []
    line, depth, seen = 1, 0, 0
    item_depth = None
    for token in re.finditer(rb'"(?:[^"\\]|\\.)*"|[{}\[\]]', data, re.DOTALL):
        sign = token.group()[:1]
        if sign == b"[":
            depth += 1
        elif sign == b"{":
            depth += 1
            if item_depth is None and depth > 1:
                item_depth = depth
            if depth == item_depth:
                line += data.count(b"\n", seen, token.start())
                seen = token.start()
                starts.append(line)
        elif sign in b"]}":
            depth -= 1
    return starts


def _error_words(error: Exception) -> str:
    return str(error).split("(")[0].strip().lower() or "damaged"


_COLUMNS = (
    *("subject", "chapter", "number", "code", "kind", "stem", *LETTERS, "key", "tolerance"),
    *("explanation", "reference", "tags", "shuffle", "fixed", "credit", *OPTION_NOTES, "history"),
    "to_check",
)
_AT = {name: at for at, name in enumerate(_COLUMNS)}
_MOST_DEPTH = 3
_TEXT = ("text", "option", "value", "content", "label", "answer", "choice")
_RIGHT = ("correct", "is_correct", "iscorrect", "right", "key", "answer")


class BadObject(Exception):
    """Why one object can't be imported."""


class ObjectReader:
    """Reads decoded JSON values into a `Parsed`; names are learned once for the whole file.

    `fields`: what the members hold, by path; where it is given no other member is read.
    """

    def __init__(
        self, hints: Hints, parsed: Parsed, fields: Mapping[str, str] | None = None
    ) -> None:
        self._parsed = parsed
        self._hints = hints
        self._fields = fields
        self._names: dict[str, str | None] = {}
        self._unused = Counter[str]()
        self._done = 0

    def read(self, items: Iterable[tuple[int, Any]], total: int) -> Parsed:
        """Every item becomes a draft or a finding."""
        reader = TableReader(_AT, self._hints, self._parsed)
        parsed = reader.read(self._rows(items), lambda: min(0.99, self._done * 500 / max(total, 1)))
        parsed.warnings += unused("members", list(self._unused))
        return parsed

    def _rows(self, items: Iterable[tuple[int, Any]]) -> Iterator[Row]:
        for line, item in items:
            self._done += 1
            try:
                yield line, self._cells(item)
            except BadObject as bad:
                self._parsed.skipped.append(Finding(line, str(bad)))

    def _cells(self, item: Any) -> list[str]:
        if not isinstance(item, dict):
            raise BadObject("not an object with a stem, options and a key")
        cells = [""] * len(_COLUMNS)
        lists: dict[str, Any] = {}
        key: Any = None
        for path, value in _members(item):
            field = self._meaning(path, item)
            if field is None:
                if value not in (None, "", [], {}):
                    self._unused[path] += 1
            elif field in ("options", "distractors"):
                lists.setdefault(field, value)
            elif value is not None and not cells[_AT[field]]:
                cells[_AT[field]] = _cell(value, field)
                key = value if field == "key" else key
        if not any(cells) and not lists:
            raise BadObject("no member named like a stem, a number or a key")
        if "options" in lists:
            self._add_options(cells, lists["options"])
        elif "distractors" in lists:
            right = [text for text in (key if isinstance(key, list) else [key]) if text]
            wrong = lists["distractors"]
            self._add_options(cells, [*right, *(wrong if isinstance(wrong, list) else [wrong])])
            cells[_AT["key"]] = ",".join(LETTERS[: len(right)])
        return cells

    def _meaning(self, path: str, item: Mapping[str, Any]) -> str | None:
        if self._fields is not None:
            return self._fields.get(path)
        if path not in self._names:
            self._names[path] = _meaning(path, item)
        return self._names[path]

    def _add_options(self, cells: list[str], options: Any) -> None:
        given = _options(options)
        if len(given) > len(LETTERS):
            raise BadObject(f"has {len(given)} options, at most {len(LETTERS)} fit")
        labels = [label for label, *_ in given]
        texts = unlabelled([text for _, text, *_ in given])
        for letter, text in zip(LETTERS, texts, strict=False):
            cells[_AT[letter]] = text
        for letter, (*_, note) in zip(LETTERS, given, strict=False):
            cells[_AT[f"note_{letter}"]] = note
        right = [
            letter
            for letter, (_, _, is_right, _, _) in zip(LETTERS, given, strict=False)
            if is_right
        ]
        fixed = [letter for letter, (*_, keeps, _) in zip(LETTERS, given, strict=False) if keeps]
        cells[_AT["fixed"]] = cells[_AT["fixed"]] or "".join(fixed)
        key = cells[_AT["key"]]
        if not key:
            cells[_AT["key"]] = ",".join(right)
        elif key in labels and key.lower() not in LETTERS:
            cells[_AT["key"]] = LETTERS[labels.index(key)]


_Found = tuple[str, str, bool, bool, str]
"""An option's label, text, whether it is marked right, whether it is fixed, and its note."""


def _options(options: Any) -> list[_Found]:
    if isinstance(options, str):
        return [("", text, False, False, "") for text in split_options(options)]
    if isinstance(options, dict):
        if isinstance(options.get("text"), list):
            labels = options.get("label") or [""] * len(options["text"])
            pairs = zip(map(_plain, labels), map(_plain, options["text"]), strict=False)
            return [(label, text, False, False, "") for label, text in pairs]
        return [(_plain(name), *_option(value)[1:]) for name, value in options.items()]
    if isinstance(options, list):
        return [_option(value) for value in options]
    raise BadObject("the options are neither a list nor an object nor a text")


def _option(value: Any) -> _Found:
    if not isinstance(value, dict):
        return "", _plain(value), False, False, ""
    lower = {str(name).casefold(): held for name, held in value.items()}
    text = next(
        (lower[name] for name in _TEXT if isinstance(lower.get(name), str | int | float)), ""
    )
    label = _plain(lower.get("label", lower.get("id", lower.get("letter", ""))))
    right = any(lower.get(name) is True for name in _RIGHT)
    note = _plain(lower.get("explanation", lower.get("note", "")))
    return label, _plain(text), right, lower.get("fixed") is True, note


def object_columns(items: Sequence[Mapping[str, Any]]) -> Columns:
    """The members of objects as the columns of a table, named by their paths (`question.text`)."""
    names: dict[str, None] = {}
    mapping: dict[str, int] = {}
    for item in items:
        for path, _ in _members(item):
            if path not in names:
                names[path] = None
                if field := _meaning(path, item):
                    mapping.setdefault(field, len(names) - 1)
    rows = [dict(_members(item)) for item in items[:5]]
    return Columns(
        names=tuple(names),
        mapping=mapping,
        header=True,
        sample=tuple(tuple(_sample(row.get(name)) for name in names) for row in rows),
        sure=is_enough(mapping),
        width=len(names),
    )


def object_cells(item: Mapping[str, Any], names: Sequence[str]) -> list[str]:
    """An object's members as text, by their paths."""
    held = dict(_members(item))
    return [_sample(held.get(name)) for name in names]


def _sample(value: Any) -> str:
    if isinstance(value, list):
        return " | ".join(_sample(part) for part in value)
    if isinstance(value, dict):
        return " | ".join(f"{name}: {_sample(held)}" for name, held in value.items())
    return _plain(value)


def _meaning(path: str, item: Mapping[str, Any]) -> str | None:
    """The field of a member, by its own name or, where that says nothing, its parent's."""
    *parents, name = path.split(".")
    if len(name) == 1 and name in LETTERS[8:]:  # a lone i is an option only after an h
        return name if not parents and "h" in item else meaning(f"{name} ")
    return meaning(name) or (meaning(parents[-1]) if parents else None)


def _members(item: Mapping[str, Any], path: str = "", depth: int = 0) -> Iterator[tuple[str, Any]]:
    """The members with their paths; objects in them are laid flat, but for lists of options."""
    for name, value in item.items():
        here = f"{path}.{name}" if path else name
        is_inner = isinstance(value, dict) and meaning(name) not in ("options", "credit", "key")
        if is_inner and depth < _MOST_DEPTH:
            yield from _members(value, here, depth + 1)
        else:
            yield here, value


def _cell(value: Any, field: str) -> str:
    if field == "history":
        return "is there" if value else ""
    if isinstance(value, list):
        parts = [_plain(part) for part in value]
        return join_texts(parts) if field == "key" else ",".join(parts)
    if isinstance(value, dict):
        pairs = [f"{name}={_plain(held)}" for name, held in value.items()]
        return " ".join(pairs) if field == "credit" else _plain(value.get("text", ""))
    return _plain(value)


def _plain(value: Any) -> str:
    if isinstance(value, str):
        return value
    if value is None or isinstance(value, dict | list):
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e21:
        return f"{value:.0f}"
    return str(value)
