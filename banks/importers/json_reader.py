"""JSON and JSON Lines: arrays, wrapped arrays, or one object a line, by the obvious names."""

import io
import itertools
import re
from collections.abc import Iterator
from typing import Any

import msgspec

from banks.importers.columns import Columns
from banks.importers.common import Finding, Hints, Parsed
from banks.importers.encoding import Text
from banks.importers.fields import meaning
from banks.importers.objects import ObjectReader, object_cells, object_columns
from banks.importers.table import Row
from domain.errors import InputError

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
    found = columns(data)
    text = Text(data, hints.name, hints.encoding)
    decoded = text.whole().encode("utf-8", "replace")
    parsed = Parsed(format="")
    lines = is_json_lines(decoded)
    items = _lines(decoded, parsed) if lines else _whole(decoded, hints.name, parsed)
    rows: list[Row] = [(0, list(found.names))]
    for line, item in itertools.islice(items, most):
        if isinstance(item, dict):
            rows.append((line, object_cells(item, found.names)))
    return rows


def is_json_lines(data: bytes) -> bool:
    """Whether the first lines are objects, each complete on its line."""
    heads = [line for line in itertools.islice(io.BytesIO(data), 20) if line.strip()]
    if not heads or not heads[0].lstrip().startswith(b"{"):
        return False
    found = [item for line in heads[:3] if isinstance(item := _decoded(line), dict)]
    return len(found) > 1 or any(map(looks_like_question, found))


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
            parsed.skipped.append(Finding(number, f"not valid JSON: {_plain(error)}"))
            continue
        yield number, item


def _whole(data: bytes, name: str, parsed: Parsed) -> Iterator[_Item]:
    if len(data) > _MAX_WHOLE:
        most = _MAX_WHOLE // 2**20
        raise InputError(
            f"{name or 'The file'}: one JSON document of more than {most} MB; write it as JSON"
            " Lines, one question a line."
        )
    try:
        document = msgspec.json.decode(data)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        at = _ERROR_AT.search(str(error))
        line = data.count(b"\n", 0, int(at.group(1))) + 1 if at else 1
        raise InputError(
            f"{name or 'The file'}, line {line}: not valid JSON ({_plain(error)}); nothing read."
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
            for item in _questions(value, depth + 1):
                yield _placed(item, name)


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


def _plain(error: Exception) -> str:
    return str(error).split("(")[0].strip().lower() or "damaged"
