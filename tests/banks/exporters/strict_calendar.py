"""A small reader of RFC 5545 content lines that accepts nothing the grammar does not."""

import re
from dataclasses import dataclass

_LINE = re.compile(r"([A-Z0-9-]+)((?:;[A-Z0-9-]+=(?:\"[^\"]*\"|[^\";:,]*))*):(.*)", re.DOTALL)
_ESCAPE = re.compile(r"\\(.)", re.DOTALL)
_ESCAPED = re.compile(r"(?:[^\\;,]|\\[\\;,nN])*")
_TEXT = {"SUMMARY", "DESCRIPTION", "COMMENT"}


@dataclass
class Line:
    """One unfolded content line (section 3.1)."""

    name: str
    params: dict[str, str]
    value: str


def read_strictly(data: bytes) -> list[Line]:
    """The content lines. Raises ValueError at the first that is out of order."""
    unfolded = data.decode("utf-8").replace("\r\n ", "")
    lines = unfolded.split("\r\n")
    if lines.pop() != "":
        raise ValueError("the last line has no CRLF")
    return [_line(line) for line in lines]


def components(data: bytes, kind: str) -> list[dict[str, str]]:
    """The properties of every component of a kind; nesting must be sound."""
    stack: list[tuple[str, dict[str, str]]] = []
    listed = []
    for line in read_strictly(data):
        if line.name == "BEGIN":
            stack.append((line.value, {}))
        elif line.name == "END":
            name, properties = stack.pop()
            if name != line.value:
                raise ValueError(f"END:{line.value} closes {name}")
            if name == kind:
                listed.append(properties)
        elif line.name in stack[-1][1] and line.name != "COMMENT":
            raise ValueError(f"{line.name} twice in {stack[-1][0]}")
        else:
            stack[-1][1][line.name] = line.value
    if stack:
        raise ValueError(f"{stack[-1][0]} is never closed")
    return listed


def _line(text: str) -> Line:
    match = _LINE.fullmatch(text)
    if not match or any(ord(char) < 32 and char != "\t" for char in text):
        raise ValueError(f"not a content line: {text!r}")
    name, params, value = match.groups()
    pairs = (param.partition("=") for param in params.split(";")[1:])
    return Line(name, {key: given for key, _, given in pairs}, _value(name, value))


def _value(name: str, value: str) -> str:
    if name not in _TEXT:
        return value
    if not _ESCAPED.fullmatch(value):
        raise ValueError(f"unescaped text in {name}: {value!r}")
    return _ESCAPE.sub(lambda escape: "\n" if escape[1] in "nN" else escape[1], value)
