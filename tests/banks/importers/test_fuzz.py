"""Whatever bytes come: questions and findings, or one plain sentence; never anything else."""

import json
from contextlib import suppress

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from banks.importers import detect
from banks.importers.answer_keys import parse_keys
from banks.importers.common import Hints, Parsed
from banks.importers.marks_reader import parse_marks
from banks.importers.outline import parse_outline
from banks.intake.reconcile import reconcile
from domain.errors import InputError
from domain.questions import LETTERS, Bank
from domain.text import is_unsafe

TEXT_FORMATS = ["csv", "json", "text"]
WORDS = ["1.", "2)", "A)", "B.", "(c)", "Ans: b", "Answer key", "1-b", "Chapter 2", "stem", "key"]
scraps = st.one_of(
    st.sampled_from([*WORDS, "\n", "\r", ",", '"', "|", "\t", " "]), st.text(max_size=8)
)
values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=5)
        | st.dictionaries(
            st.sampled_from(
                ["question", "stem", "options", "a", "b", "key", "answer", "number", "x"]
            ),
            inner,
            max_size=6,
        )
    ),
    max_leaves=20,
)


def check(parsed: Parsed, lines: int) -> None:
    """What holds for every file that was read."""
    for finding in [*parsed.skipped, *parsed.warnings]:
        assert 0 <= finding.line <= lines
        assert finding.reason
    for draft in parsed.drafts:
        assert 0 <= draft.line <= lines
        assert draft.stem or draft.number is not None
        assert len(draft.options) <= len(LETTERS)
        assert not is_unsafe(draft.stem + draft.explanation)
        positions = [part for part in draft.key if isinstance(part, int)]
        assert all(0 <= at < len(draft.options) for at in positions)
    changes = reconcile(Bank(id="b", title="B"), parsed)
    assert changes.counts()["added"] + len(changes.skipped) >= len(parsed.drafts)


def read(format_name: str, data: bytes) -> None:
    try:
        parsed = detect.parse_as(format_name, data, Hints(name="f"))
    except InputError:
        return
    check(parsed, data.count(b"\n") + data.count(b"\r") + 1)


@pytest.mark.parametrize("format_name", TEXT_FORMATS)
@settings(max_examples=120)
@given(data=st.binary(max_size=300))
@example(data=b'"')
@example(data=b"\xff\xfe\x00")
@example(data=b"number,key\n1,\xe9\n")
def test_bytes(format_name: str, data: bytes) -> None:
    read(format_name, data)


@pytest.mark.parametrize("format_name", TEXT_FORMATS)
@settings(max_examples=150)
@given(parts=st.lists(scraps, max_size=40))
def test_scraps_of_what_such_files_hold(format_name: str, parts: list[str]) -> None:
    read(format_name, "".join(parts).encode("utf-8", "surrogatepass"))


@settings(max_examples=150)
@given(items=st.lists(values, max_size=6), as_lines=st.booleans())
def test_json_of_any_shape(items: list, as_lines: bool) -> None:
    text = "\n".join(map(json.dumps, items)) if as_lines else json.dumps(items, indent=1)
    read("json", text.encode())


@settings(max_examples=150)
@given(data=st.binary(max_size=200) | st.lists(scraps, max_size=30).map("".join).map(str.encode))
def test_a_format_is_found_or_the_file_is_refused(data: bytes) -> None:
    try:
        name = detect.detect(data)
    except InputError:
        return
    assert name in detect.READERS


@settings(max_examples=100)
@given(parts=st.lists(scraps, max_size=30))
def test_outlines_marks_and_keys(parts: list[str]) -> None:
    text = "".join(parts)
    for parse in (parse_outline, parse_marks):
        with suppress(InputError):
            parse(text.encode("utf-8", "surrogatepass"), Hints(name="f"))
    sheet = parse_keys(text)
    assert sheet.keys or sheet.problems


def test_deep_nesting_is_refused_not_followed() -> None:
    read("json", b"[" * 100_000)
    read("json", b'{"a":' * 100_000)


def test_a_file_of_quotation_marks_only_is_given_up_soon() -> None:
    read("csv", b"number,stem,key\n" + b'"x\n' * 5_001)


@pytest.mark.parametrize(
    "line",
    [
        "1 a " * 5_000 + "zz",
        "abc" * 5_000 + "!",
        "Q" + " " * 100_000 + "x",
        "1" * 100_000,
        "1. " + "A) " * 20_000,
        "1. q" + "\t" * 90_000 + "A) x B) y",
        "Ans " * 20_000,
        "(" * 100_000,
    ],
)
def test_no_line_takes_for_ever(line: str) -> None:
    """Each of these was chosen against the patterns; a bad one would take hours, not moments."""
    read("text", f"1. q\nA) x\nB) y\n{line}\nAnswer key\n{line}\n".encode())
    sheet = parse_keys(line)
    assert sheet.keys or sheet.problems
