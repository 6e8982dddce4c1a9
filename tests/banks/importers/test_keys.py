import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from banks.importers.answer_keys import KeySheet, parse_keys

LETTERS = "bcadbcadbadc"
KEY = {number: (letter,) for number, letter in enumerate(LETTERS, 1)}
PAIRS = list(enumerate(LETTERS, 1))
DIGITS = [(number, "abcd".index(letter) + 1) for number, letter in PAIRS]

SHAPES = {
    "a run": " ".join(f"{n} {k}" for n, k in PAIRS),
    "bracketed, a line each": "\n".join(f"{n}. ({k})" for n, k in PAIRS),
    "hyphens and commas": ", ".join(f"{n}-{k.upper()}" for n, k in PAIRS),
    "half brackets": "\n".join(f"{n}) {k}" for n, k in PAIRS),
    "colons and semicolons": "; ".join(f"{n}: {k.upper()}" for n, k in PAIRS),
    "glued together": " ".join(f"{n}{k}" for n, k in PAIRS),
    "equals signs": " ".join(f"{n}={k}" for n, k in PAIRS),
    "columns read across": "\n".join(
        "   ".join(f"{n:2} {LETTERS[n - 1]}" for n in range(row, 13, 4)) for row in range(1, 5)
    ),
    "rows of ten with a running number": "1 bcadbcadba\n11 dc",
    "rows in fives": "1  BCADB CADBA\n11 DC",
    "rows of single letters": "1. b c a d b c a d b a\n11. d c",
    "rows with their range": "1-10: BCADBCADBA\n11-12: DC",
    "numbers over letters": "1 2 3 4 5 6\nb c a d b c\n7 8 9 10 11 12\nA D B A D C",
    "a ruled table": "| No | Key |\n|---|---|\n" + "\n".join(f"| {n} | {k} |" for n, k in PAIRS),
    "tabs": "\n".join(f"{n}\t{k.upper()}" for n, k in PAIRS),
    "letters alone": "BCADB CADBA DC",
    "letters one a line": "\n".join(LETTERS),
    "question marks of Q": " ".join(f"Q{n}. {k.upper()}" for n, k in PAIRS),
    "dot leaders": "\n".join(f"{n} ..... {k}" for n, k in PAIRS),
    "arrows": "\n".join(f"{n} → {k}" for n, k in PAIRS),
    "the word before": "\n".join(f"Q.{n} Ans: ({k.upper()})" for n, k in PAIRS),
    "under a heading": "ANSWER KEY\nChapter 3\n" + "\n".join(f"{n}. {k}" for n, k in PAIRS),
    "full width signs": "\u3000".join(f"{n}\uff0e\uff08{k}\uff09" for n, k in PAIRS),
    "options by number": ", ".join(f"{n}-{d}" for n, d in DIGITS),
    "options by number in brackets": " ".join(f"{n} ({d})" for n, d in DIGITS),
    "options by number, alternating": " ".join(f"{n} {d}" for n, d in DIGITS),
}


def told(sheet: KeySheet) -> dict[int, str]:
    return {problem.number: problem.reason for problem in sheet.problems}


@pytest.mark.parametrize("shape", SHAPES)
def test_every_printed_shape_gives_the_same_key(shape: str) -> None:
    assert parse_keys(SHAPES[shape]) == KeySheet(KEY, ())


@pytest.mark.parametrize(
    ("text", "kept", "problems"),
    [
        ("1 b 2 c 4 d", {1: "b", 2: "c", 4: "d"}, {3: "3 has no letter"}),
        ("1 b 2 3 c", {1: "b", 3: "c"}, {2: "2 has no letter"}),
        ("1 b 2 c 2 d 3 a", {1: "b", 2: "c", 3: "a"}, {2: "2 occurs twice (c kept, d not)"}),
        ("1 b 2 x 3 a", {1: "b", 3: "a"}, {2: "2: 'x' is not one of a–d"}),
        ("1 b 2 e 3 a", {1: "b", 3: "a"}, {2: "2: 'e' is not one of a–d"}),
        ("1 b 2 none 3 c", {1: "b", 3: "c"}, {2: "2: 'none' is not one of a–d"}),
        ("7-b 8-* 9-c", {7: "b", 9: "c"}, {8: "8: '*' is not one of a–d"}),
        (
            "1 BCADB\n6 CAD\n11 DC",
            {1: "b", 2: "c", 3: "a", 4: "d", 5: "b", 11: "d", 12: "c"},
            {6: "the row at 6 holds 3 letters, 5 expected"},
        ),
        (
            "1 2 3 4\nb c a",
            {},
            {number: f"{number}: 3 letters under 4 numbers" for number in range(1, 5)},
        ),
        ("", {}, {0: "no key was recognised"}),
    ],
)
def test_a_damaged_key_is_told_by_number(
    text: str, kept: dict[int, str], problems: dict[int, str]
) -> None:
    sheet = parse_keys(text, option_count=4)
    assert sheet.keys == {number: (letter,) for number, letter in kept.items()}
    assert told(sheet) == problems


def test_the_count_is_checked_against_the_chapter() -> None:
    sheet = parse_keys("1 b 2 c 3 d 12 a", expected=range(1, 6))
    assert sheet.keys == {1: ("b",), 2: ("c",), 3: ("d",)}
    assert told(sheet) == {
        0: "3 letters for 5 questions",
        4: "4 has no letter",
        5: "5 has no letter",
        12: "12 is not in the chapter (1–5)",
    }


def test_several_letters_of_one_question_are_told_from_a_row() -> None:
    sheet = parse_keys("1 a,c 2 b 3 a & d")
    assert sheet.keys == {1: ("a", "c"), 2: ("b",), 3: ("a", "d")}


def test_true_and_false_are_the_first_and_second_option() -> None:
    assert parse_keys("1 T 2 F 3 T").keys == {1: ("a",), 2: ("b",), 3: ("a",)}


def test_letters_alone_count_from_the_number_given() -> None:
    assert parse_keys("BCA", first=41).keys == {41: ("b",), 42: ("c",), 43: ("a",)}


@example("1:1bc:a")
@given(st.text(st.sampled_from("12345 abcdx.,()-:|\n"), max_size=80))
def test_whatever_is_typed_gives_letters_in_range_or_is_told(text: str) -> None:
    sheet = parse_keys(text, option_count=4)
    assert all(set(key) <= set("abcd") for key in sheet.keys.values())
    assert sheet.keys or sheet.problems


@given(
    st.dictionaries(st.integers(1, 400), st.sampled_from("abcd"), min_size=1, max_size=60),
    st.sampled_from(["{n} {k}", "{n}. ({k})", "{n}-{k}", "{n}){k}", "Q{n}: {k}"]),
    st.sampled_from([" ", "\n", "   ", ", "]),
)
def test_any_key_written_in_pairs_comes_back(key: dict[int, str], pair: str, between: str) -> None:
    text = between.join(pair.format(n=n, k=k) for n, k in sorted(key.items()))
    assert parse_keys(text).keys == {number: (letter,) for number, letter in sorted(key.items())}


def test_the_letters_of_an_explanation_are_no_keys() -> None:
    sheet = parse_keys("1. (c) Cirrus is high 2. (c) Cumulus")
    assert sheet.keys == {1: ("c",), 2: ("c",)}
