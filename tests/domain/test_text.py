"""One rule for text that could drive a terminal, on the way in and on the way out."""

import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.text import counted, is_unsafe, listed, safe_line, safe_text, safe_value, tidy
from domain.tiers import Tier

# Bidi_Control of the Unicode Character Database, PropList.txt (from memory).
BIDI = [0x61C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)]
# ECMA-48: C0, DEL and C1; tab and line feed are text.
CONTROLS = [*(code for code in range(0x20) if code not in (9, 10)), *range(0x7F, 0xA0)]
DRIVING = {chr(code) for code in [*CONTROLS, *BIDI, 0x2028, 0x2029, 0xFEFF]}


@pytest.mark.parametrize("text", [
    "\x1b]52;c;aGFoYQ==\x07", "\x1b]8;;http://x.example\x1b\\", "\x1bP1$r\x1b\\", "\x9b31m",
    "\x9d0;t\x9c", "\x1b[2J", "\x1bc", "\u202egnp.exe", "\u2066", "\x07", "\x08", "a\rb", "\x7f",
])  # fmt: skip
def test_nothing_that_drives_a_terminal_comes_in_or_goes_out(text: str) -> None:
    assert is_unsafe(text)
    for safe in (safe_text, safe_line, tidy):
        assert not DRIVING & set(safe(text))
        assert not is_unsafe(safe(text))


@given(st.text(st.characters(), max_size=40))
def test_all_ways_agree_on_what_is_unsafe(text: str) -> None:
    for safe in (safe_text, safe_line, tidy):
        once = safe(text)
        assert safe(once) == once
        assert not is_unsafe(once)
        assert not DRIVING & set(once.replace("\r\n", ""))
        once.encode()


def test_whole_sequences_go_before_a_text_enters_a_bank() -> None:
    assert tidy("a\x1b[31mred\x1b[0m \x1b]8;;http://x.example\x1b\\b\x1b]52;c;aGE=\x07") == "ared b"


def test_line_ends_and_tabs_stay_where_a_text_has_lines() -> None:
    assert safe_text("a\tb\r\nc\nd") == "a\tb\r\nc\nd"
    assert safe_line("a\tb\r\nc\nd") == "abcd"


def test_a_lone_surrogate_gets_a_stand_in() -> None:
    assert safe_text("\ud800x\udcff") == "\ufffdx\ufffd"


def test_every_text_and_name_of_a_value_is_safe_and_readers_can_hold_its_numbers() -> None:
    value = {"a\x1b": ["\x9b", ("\u202e", {"n": 2**70, "day": date(2026, 3, 2)})], "t": Tier.HARD}

    made = safe_value(value)

    assert made == {"a": ["", ["", {"n": str(2**70), "day": "2026-03-02"}]], "t": Tier.HARD}
    assert not is_unsafe(json.dumps(made, ensure_ascii=False))


def test_counts_stand_with_their_nouns() -> None:
    assert counted(1, "question") == "1 question"
    assert (counted(0, "question"), counted(1204, "question")) == ("0 questions", "1,204 questions")
    assert (counted(1, "guess", "guesses"), counted(2, "guess", "guesses")) == (
        "1 guess",
        "2 guesses",
    )


def test_several_names_are_listed_each_once():
    assert listed([]) == ""
    assert listed(["Wind", "Wind"]) == "Wind"
    assert listed(["Wind", "Maps"]) == "Wind and Maps"
    assert listed(["Wind", "Maps", "Tides"]) == "Wind, Maps and Tides"
