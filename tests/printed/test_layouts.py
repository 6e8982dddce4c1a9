"""Generated pages come in right or are told; the long form is `python -m tests.printed`."""

import random
import re
from collections.abc import Callable

import pytest

from banks.importers import printed
from banks.importers.common import Draft, Hints
from tests.printed.generator import DIMENSIONS, Truth, page, random_layout
from tests.printed.scoring import Score, score
from tests.printed.trial import trial

WAYS = [(name, way) for name, ways in DIMENSIONS.items() for way in ways]
PAGES = 6


@pytest.mark.parametrize(("name", "way"), WAYS)
def test_each_way_of_printing_comes_in(name: str, way: str) -> None:
    total = Score()
    for seed in range(PAGES):
        total.add(trial("text", 100 + seed, {name: way})[1])
    assert total.wrong == []
    assert total.complete >= 0.9 * total.questions


@pytest.mark.parametrize(
    ("kind", "pages"), [("pdf", 10), ("pdf in two columns", 10), ("side by side", 60)]
)
def test_pages_and_columns_come_in(kind: str, pages: int) -> None:
    total = Score()
    for seed in range(pages):
        total.add(trial(kind, 300 + seed)[1])
    assert total.wrong == []
    assert total.complete >= 0.98 * total.questions


def test_noise_costs_questions_but_no_key_goes_wrong_untold() -> None:
    total = Score()
    for seed in range(60):
        total.add(trial("noise", 500 + seed)[1])
    assert total.wrong == []
    assert total.complete >= 0.9 * total.questions


@pytest.mark.parametrize(
    ("kind", "seed"),
    [
        ("text", 20152),  # lists to match beside options in brackets, no second column
        ("text", 20183),  # item codes, options 1), lists 1. in stems and explanations
        ("text", 20360),  # the third step of an explanation before a question 4
        ("text", 20396),  # a heading over key lines that name themselves keys
        ("side by side", 10096),  # the last number of a key line parted from its letter
        ("side by side", 30463),  # steps in an explanation before question 3
        ("side by side", 30446),  # options by two beside answer keys of the right column
        ("side by side", 51524),  # keys as marks, numbers that begin again in the right column
        ("pdf", 10019),  # questions that begin alike at the top of pages
        ("pdf in two columns", 20033),  # a column whose questions begin on the left only
        ("pdf in two columns", 20129),  # one answer key alone in the second column
        ("pdf in two columns", 51028),  # a second column of the end of one question
        ("pdf in two columns", 30073),  # gaps between options that end at the gutter
    ],
)
def test_pages_that_were_read_wrong_before(kind: str, seed: int) -> None:
    outcome = trial(kind, seed)[1]
    assert (outcome.wrong, outcome.complete) == ([], outcome.questions)


def _without(label: str) -> Callable[[str], str]:
    return lambda block: re.sub(rf"^\({label}\) ", "", block, flags=re.MULTILINE)


def _printed_key(block: str) -> str:
    match = re.search(r"Ans\. \((\w)\)", block)
    assert match
    return match[1]


def _with_key(sign: str) -> Callable[[str], str]:
    return lambda block: re.sub(r"Ans\. \(.*", f"Ans. ({sign})", block)


def _other_key(block: str) -> str:
    return _with_key("b" if _printed_key(block) == "a" else "a")(block)


def _second_key(block: str) -> str:
    return f"{block.rstrip()}\nAns. ({'b' if _printed_key(block) == 'a' else 'a'})\n\n"


FAULTS: dict[str, Callable[[str], str]] = {
    "a key that names no option": _with_key("h"),
    "a key that is none": _with_key("?"),
    "a second key": _second_key,
    "a lost key": lambda block: re.sub(r"Ans\. \(.*\n", "", block),
    "a lost label": _without("b"),
    "a lost option": lambda block: re.sub(r"^\(b\) .*\n", "", block, flags=re.MULTILINE),
    "a repeated label": lambda block: block.replace("\n(b) ", "\n(a) "),
    "labels that changed places": lambda block: (
        block.replace("\n(b) ", "\n(~) ").replace("\n(c) ", "\n(b) ").replace("(~)", "(c)")
    ),
    "a lost number": lambda block: re.sub(r"^\d+\. ", "", block),
    "a number far off": lambda block: re.sub(r"^(\d+)\. ", r"9\1. ", block),
}
PLAUSIBLE: dict[str, Callable[[str], str]] = {
    "another key": _other_key,
    "another option": lambda block: block.replace("\n(c) ", "\n(c) quite "),
    "another stem": lambda block: block.replace(" in case ", " in any case "),
}


def _same_number(truth: Truth, drafts: list[Draft]) -> Draft | None:
    return next((draft for draft in drafts if draft.number == truth.number), None)


@pytest.mark.parametrize("fault", [*FAULTS, *PLAUSIBLE])
def test_a_page_that_was_changed_on_purpose_is_told_or_read_as_printed(fault: str) -> None:
    """13 changes in 8 pages each: whatever can't be so in print is told with its question."""
    chance = random.Random(fault)
    fixed = {
        "numbers": "1.", "options": "(a)", "arrangement": "one a line", "keys": "Ans. (b)",
        "stems": "plain", "explanations": "none", "headings": "none", "furniture": "none",
    }  # fmt: skip
    for seed in range(8):
        layout = random_layout(700 + seed, fixed)
        made = page(layout)
        blocks = re.split(r"(?m)^(?=\d+\. )", made.text)[1:]
        at = chance.randrange(1, len(blocks) - 1)
        changed = (FAULTS | PLAUSIBLE)[fault](blocks[at])
        assert changed != blocks[at]
        text = "".join([*blocks[:at], changed, *blocks[at + 1 :]])
        parsed = printed.parse(text.encode(), Hints())
        result = score(made, parsed)
        draft = _same_number(made.truths[at], parsed.drafts)
        if fault in PLAUSIBLE:
            assert len(result.wrong) == 1, (seed, fault)
            assert draft
            assert not draft.to_check
            continue
        assert result.wrong == [], (seed, fault)
        first = text[: text.index(changed)].count("\n") + 1
        lines = range(first, first + changed.count("\n") + 1)
        findings = [f for f in [*parsed.skipped, *parsed.warnings] if f.line in lines]
        is_keyless = fault == "a lost key" and draft and not draft.key
        assert is_keyless or findings, (seed, fault)
