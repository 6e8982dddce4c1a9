from banks.importers.common import Draft, Hints, Parsed
from banks.importers.printed import parse


def read(text: str) -> Parsed:
    return parse(text.encode(), Hints())


def options(draft: Draft) -> list[str]:
    return [option.text for option in draft.options]


INLINE = """\
1. Which genus is the highest?
   A) Cumulus
   B) Cirrus
   C) Stratus
   Ans: b
2. Force 12 is called (a) gale (b) storm (c) hurricane
   Answer: (c)
3. How many oktas are there?   A. six   B. eight   C. ten   Ans: B
"""


def test_options_on_one_line_or_several_and_keys_inline() -> None:
    parsed = read(INLINE)
    assert [draft.stem for draft in parsed.drafts] == [
        "Which genus is the highest?",
        "Force 12 is called",
        "How many oktas are there?",
    ]
    assert [options(draft) for draft in parsed.drafts] == [
        ["Cumulus", "Cirrus", "Stratus"],
        ["gale", "storm", "hurricane"],
        ["six", "eight", "ten"],
    ]
    assert [draft.key for draft in parsed.drafts] == [(1,), (2,), (1,)]
    assert [draft.line for draft in parsed.drafts] == [1, 6, 8]
    assert parsed.skipped == parsed.warnings == []


def test_a_key_section_at_the_end_with_or_without_a_heading() -> None:
    body = "1. One?\nA) w\nB) x\n\n2. Two?\nA) w\nB) x\n\n"
    for section in (
        "ANSWER KEY\n1-B  2-A\n",
        "1-B  2-A\n",
        "Answers:\n1. b\n2. a\n",
        "Key\n1 BA\n",
    ):
        assert [draft.key for draft in read(body + section).drafts] == [(1,), (0,)], section


def test_explanations_follow_the_key_inline_or_at_the_end() -> None:
    text = (
        "1. One?\nA) w\nB) x\nAns: b\nExplanation: It is so\nbecause it is.\nRef: p. 23\n"
        "2. Two?\nA) w\nB) x\n\n"
        "Answers and explanations\n2. (a) Since two is\nno more than two.\n"
    )
    first, second = read(text).drafts
    assert (first.key, first.explanation) == ((1,), "It is so because it is.")
    assert first.reference == "p. 23"
    assert (second.key, second.explanation) == ((0,), "Since two is no more than two.")


def test_numbered_statements_inside_a_stem_are_no_questions() -> None:
    text = (
        "1. Consider:\n1. Fog is a cloud.\n2. Dew is a cloud.\n3. Hail is ice.\n"
        "A) 1 only\nB) 1 and 3\nAns: b\n2. Next?\nA) w\nB) x\nAns: a\n"
    )
    first, second = read(text).drafts
    assert first.stem == "Consider:\n1. Fog is a cloud.\n2. Dew is a cloud.\n3. Hail is ice."
    assert (second.number, second.stem) == (2, "Next?")


def test_a_letter_in_a_sentence_is_no_option() -> None:
    (draft,) = read(
        "1. Vitamin A. helps\nwhich?\nA. eye\nB. vitamin C. and liver\nC. none\n"
    ).drafts
    assert draft.stem == "Vitamin A. helps which?"
    assert options(draft) == ["eye", "vitamin C. and liver", "none"]


def test_options_by_number_in_brackets() -> None:
    (draft,) = read(
        "7. Force 12 is\n(1) calm (2) breeze\n(3) gale (4) hurricane\nAns. (4)\n"
    ).drafts
    assert options(draft) == ["calm", "breeze", "gale", "hurricane"]
    assert draft.key == (3,)


def test_a_ticked_option_is_the_key() -> None:
    (draft,) = read("1. Which?\na) one\nb) two ✓\nc) three\n").drafts
    assert (options(draft), draft.key) == (["one", "two", "three"], (1,))


def test_chapters_and_subjects_are_headings_and_keys_find_their_chapter() -> None:
    text = (
        "Subject: Clouds\nChapter 1 Genera\n1. One?\nA) w\nB) x\n"
        "Chapter 2 Species\n1. Two?\nA) w\nB) x\n"
        "Answer key\nChapter 1 Genera\n1-a\nChapter 2 Species\n1-b\n"
    )
    keys = {(d.subject, d.chapter, d.number): d.key for d in read(text).drafts}
    assert keys == {
        ("Clouds", "Chapter 1 Genera", 1): (0,),
        ("Clouds", "Chapter 2 Species", 1): (1,),
    }


def test_words_broken_at_a_line_end_and_lists_keep_their_shape() -> None:
    (draft,) = read(
        "1. Which instru-\nment is\nmeant?\n- the one\n- the other\n"
        "A) instrument\nB) well-\nknown\n"
    ).drafts
    assert draft.stem == "Which instrument is meant?\n- the one\n- the other"
    assert options(draft) == ["instrument", "well-known"]


def test_what_is_missing_is_told_with_its_line() -> None:
    parsed = read(
        "1. One?\nA) w\nB) x\nAns: a\n4. Four?\nA) w\nB) x\nAns: f\n5. Five?\nA) w\nB) x\n"
    )
    assert [(draft.number, draft.key) for draft in parsed.drafts] == [(1, (0,)), (4, ()), (5, ())]
    reason = "the answer key 'f' names none of its 2 options"
    assert [draft.to_check for draft in parsed.drafts] == ["", reason, ""]
    assert parsed.skipped == []
    assert [(finding.line, finding.reason) for finding in parsed.warnings] == [
        (5, f"question 4, to check: {reason}"),
        (5, "no question 2–3 was found before 4"),
        (5, "no answer key given"),
        (9, "no answer key given"),
    ]


def test_a_key_for_a_question_that_is_not_there_is_told() -> None:
    parsed = read("1. One?\nA) w\nB) x\nAnswer key\n1-b 2-c\n")
    assert [draft.key for draft in parsed.drafts] == [(1,)]
    assert "question 2" in parsed.skipped[0].reason


def test_a_key_alone_makes_keyed_questions() -> None:
    parsed = read("1-b 2-c 3-a\n")
    assert [(d.number, d.stem, d.key) for d in parsed.drafts] == [
        (1, "", ("b",)),
        (2, "", ("c",)),
        (3, "", ("a",)),
    ]
