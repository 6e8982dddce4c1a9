import json

import pytest

from banks.importers.common import Draft, Hints, Parsed
from banks.importers.json_reader import columns, parse
from domain.errors import InputError
from domain.questions import Kind

ONE = {"question": "Highest genus?", "options": ["Cumulus", "Cirrus"], "answer": "B"}


def read(document: object) -> Parsed:
    return parse(json.dumps(document).encode(), Hints())


def options(draft: Draft) -> list[str]:
    return [option.text for option in draft.options]


@pytest.mark.parametrize(
    "item",
    [
        ONE,
        {"stem": "Highest genus?", "opa": "Cumulus", "opb": "Cirrus", "cop": 2},
        {"text": "Highest genus?", "choices": {"A": "Cumulus", "B": "Cirrus"}, "key": "b"},
        {"question": "Highest genus?", "options": ["A)Cumulus", "B)Cirrus"], "correct": "B"},
        {
            "prompt": "Highest genus?",
            "answers": [{"text": "Cumulus"}, {"text": "Cirrus", "correct": True}],
        },
        {"question": "Highest genus?", "options": "A) Cumulus B) Cirrus", "answer": "Cirrus"},
        {
            "question": {
                "stem": "Highest genus?",
                "choices": [{"text": "Cumulus", "label": "A"}, {"text": "Cirrus", "label": "B"}],
            },
            "answerKey": "B",
        },
        {
            "question": "Highest genus?",
            "choices": {"text": ["Cumulus", "Cirrus"], "label": ["A", "B"]},
            "answerKey": "B",
        },
    ],
)  # fmt: skip
def test_the_obvious_spellings_all_give_the_same_question(item: dict) -> None:
    (draft,) = read([item]).drafts
    assert (draft.stem, options(draft), draft.key) == (
        "Highest genus?",
        ["Cumulus", "Cirrus"],
        (1,),
    )


def test_an_array_a_wrapping_object_and_json_lines_are_all_taken() -> None:
    two = [ONE, ONE | {"question": "Lowest genus?", "answer": "A"}]
    lines = "\n".join(json.dumps(item) for item in two).encode()
    assert read(two).drafts == read({"title": "x", "questions": two}).drafts
    assert [draft.stem for draft in parse(lines, Hints()).drafts] == [
        "Highest genus?",
        "Lowest genus?",
    ]
    assert parse(lines, Hints()).format == "jsonl"


def test_arrays_under_headings_are_chapters() -> None:
    parsed = read({"Clouds": [ONE], "Wind": [ONE]})
    assert [draft.chapter for draft in parsed.drafts] == ["Clouds", "Wind"]


def test_a_column_that_says_what_kind_does_not_overrule_the_key() -> None:
    (draft,) = read([ONE | {"choice_type": "multi"}]).drafts
    assert draft.kind is Kind.BEST


def test_damaged_lines_are_named_and_the_others_read() -> None:
    good = b'{"question": "Q?", "answer": "x"}\n'
    parsed = parse(good + b'{"question": \n\n[1]\n' + good, Hints())
    assert [draft.line for draft in parsed.drafts] == [1, 5]
    assert [finding.line for finding in parsed.skipped] == [2, 4]


def test_a_damaged_document_is_refused_with_the_line() -> None:
    with pytest.raises(InputError, match="line 3: not valid JSON"):
        parse(
            b'[{"question": "Q?"},\n{"question": "R?"},\n{"question" "S?"}]', Hints(name="x.json")
        )


def test_findings_in_an_array_point_to_the_line_the_object_begins_on() -> None:
    bad = {"question": "Q { ] ?", "options": ["x", "y"], "answer": "z?"}
    data = json.dumps([ONE, bad, ONE, bad], indent=1).encode()
    parsed = parse(data, Hints())
    expected = [at for at, line in enumerate(data.split(b"\n"), 1) if line == b" {"]
    assert [draft.line for draft in parsed.drafts] == expected[::2]
    assert [finding.line for finding in parsed.skipped] == expected[1::2]


def test_escapes_that_could_drive_a_terminal_are_taken_out_and_told() -> None:
    parsed = read([ONE | {"question": "Red \x1b[31malert\x1b[0m"}])
    assert parsed.drafts[0].stem == "Red alert"
    assert parsed.warnings[0].line == 1


def test_a_lone_surrogate_is_never_let_in() -> None:
    data = b'{"question": "half \\ud83d a pair", "answer": "x"}\n{"question": "R?", "answer": "y"}'
    parsed = parse(data, Hints())
    for draft in parsed.drafts:
        draft.stem.encode("utf-8")
    assert parsed.drafts[-1].stem == "R?"


def test_what_only_our_own_files_say_is_read_too() -> None:
    (draft,) = read(
        [
            {
                "stem": "Pick two",
                "kind": "multiple",
                "a": "w",
                "b": "x",
                "c": "y",
                "key": ["a", "c"],
                "fixed": "c",
                "note_b": "no",
                "credit": {"a": 1, "b": -0.5},
                "shuffle": False,
                "tags": ["high", "ice"],
            }
        ]
    ).drafts
    assert (draft.kind, draft.key, draft.shuffle) == (Kind.MULTIPLE, (0, 2), False)
    assert [option.fixed for option in draft.options] == [False, False, True]
    assert draft.options[1].explanation == "no"
    assert draft.credit == ((0, 1.0), (1, -0.5))
    assert draft.tags == ("high", "ice")


def test_a_byte_order_mark_before_json_is_ignored() -> None:
    """RFC 8259, section 8.1: parsers may ignore a byte order mark rather than fail."""
    parsed = parse(json.dumps([ONE]).encode("utf-8-sig"), Hints())
    assert [draft.stem for draft in parsed.drafts] == ["Highest genus?"]


def test_right_and_wrong_answers_in_lists_of_their_own_are_options() -> None:
    items = [
        {"question": "High?", "correct_answers": ["Cirrus"], "incorrect_answers": ["Fog", "Haze"]},
        {"question": "Low?", "correct_answer": "Stratus", "incorrect_answers": ["Cirrus"]},
        {"q": {"text": "Wet?", "opts": ["Fog", "Dust"]}, "correct_answers": ["Fog"]},
    ]
    parsed = parse(json.dumps(items).encode(), Hints())
    read_back = [([option.text for option in d.options], d.key) for d in parsed.drafts]
    assert read_back == [
        (["Cirrus", "Fog", "Haze"], (0,)), (["Stratus", "Cirrus"], (0,)), (["Fog", "Dust"], (0,)),
    ]  # fmt: skip
    assert parsed.warnings == []


def test_members_can_be_named_by_their_paths_and_those_not_used_are_told() -> None:
    data = json.dumps(
        [{"entry": {"body": "High?"}, "pick": ["x", "y"], "sol": {"k": "b"}}]
    ).encode()
    named = columns(data)
    assert (named.names, named.sure) == (("entry.body", "pick", "sol.k"), False)
    assert named.sample == (("High?", "x | y", "b"),)

    parsed = parse(data, Hints(columns={"stem": 0, "options": 1}))
    assert (parsed.drafts[0].stem, len(parsed.drafts[0].options)) == ("High?", 2)
    assert "members that are not used: sol.k" in [each.reason for each in parsed.warnings]
    keyed = parse(data, Hints(columns={"stem": 0, "options": 1, "key": 2}))
    assert (keyed.drafts[0].key, keyed.warnings) == ((1,), [])
