"""Printed layouts that were once stored wrong without a word, each as small as it can be."""

import pytest

from banks.importers import printed
from banks.importers.common import Draft, Hints, Parsed, misread


def read(text: str) -> Parsed:
    return printed.parse(text.encode(), Hints())


def keys(text: str) -> dict[int | None, tuple[int | str, ...]]:
    return {draft.number: draft.key for draft in read(text).drafts}


def options(draft: Draft) -> list[str]:
    return [option.text for option in draft.options]


def three(number: str = "{}.", option: str = "({})", key: str = "Ans. ({})") -> str:
    """Three questions of four options, keyed b, c, a, in a way of printing."""
    made = []
    for at, letter in enumerate("bca", 1):
        rows = [f"{option.format(each)} text {each}{at}" for each in "abcd"]
        made += [f"{number.format(at)} Which one is number {at}?", *rows, key.format(letter), ""]
    return "\n".join(made)


THREE = {1: (1,), 2: (2,), 3: (0,)}


@pytest.mark.parametrize("number", ["101.", "Q-2", "Que. 4", "l3."])
def test_a_key_belongs_to_the_question_above_it_however_that_is_numbered(number: str) -> None:
    parsed = read(
        "12. Which is high?\n(a) Cirrus\n(b) Stratus\nAns. (a)\n\n"
        f"{number} Which is low?\n(a) Cirrus\n(b) Stratus\nAns. (b)\n"
    )
    assert [draft.key for draft in parsed.drafts] == [(0,), (1,)]


@pytest.mark.parametrize(
    "table",
    [
        "ANSWERS\n1. (b)  2. (c)  3. (a)",
        "1. B) 2. C) 3. A)",
        "Answers: 1. b 2. c 3. a",
        "Answer key\n1-b, 2-c, 3-a",
        "Answers and explanations\n1. (b) Not (a) or (c) or (d).\n2. (c) So\nit is.\n3. (a) Yes.",
        "ANSWERS\n1  BCA",
        "Answers\n1. Option B\n2. Option C\n3. Option A",
        "Answers\nQ.No. 1 2 3\nAns. b c a",
        "Answers\n1. text b1\n2. text c2\n3. text a3",
    ],
)
def test_the_usual_key_tables_are_read_whole(table: str) -> None:
    parsed = read(three(key="") + table + "\n")
    assert {draft.number: draft.key for draft in parsed.drafts} == THREE
    assert parsed.skipped == []


@pytest.mark.parametrize(
    "key",
    [
        "Ans. ({})", "Answer: {}", "Ans: {}.", "The correct answer is {}.", "Sol. ({})",
        "Réponse : {}", "Respuesta: {}", "Antwort: {}", "उत्तर: ({})", "答案：{}",
        "Bonne réponse : {}", "Respuesta correcta: {}", "Gabarito: {}", "Đáp án: {}", "답: {}",
        "【答案】{}", "Option {} is correct.", "Correct: {}", "Solution: {}",
        "Die Nummer dazu: {}",  # words of the file's own, after every question
    ],
)  # fmt: skip
def test_keys_after_each_question(key: str) -> None:
    parsed = read(three(key=key))
    assert {draft.number: draft.key for draft in parsed.drafts} == THREE
    assert [options(draft)[-1] for draft in parsed.drafts] == ["text d1", "text d2", "text d3"]


@pytest.mark.parametrize("option", ["({})", "{})", "{}.", "[{}]", "（{}）", "{} -", "{}:"])
@pytest.mark.parametrize("number", ["{}.", "{})", "({})", "Q{}.", "Q-{}", "Que. {}", "{}"])
def test_numbers_and_options_in_every_pair_of_ways(number: str, option: str) -> None:
    assert keys(three(number, option)) == THREE


def test_questions_between_signs_are_read() -> None:
    block = "#Q Which is {0}?\n^ {0}\nA Stratus\nB Cirrus\nC Cumulus\n\n"
    parsed = read(block.format("Cirrus") + block.format("Stratus") + block.format("Cumulus"))
    assert [(draft.stem, draft.key) for draft in parsed.drafts] == [
        ("Which is Cirrus?", (1,)), ("Which is Stratus?", (0,)), ("Which is Cumulus?", (2,)),
    ]  # fmt: skip


def test_a_key_in_capitals_is_no_heading() -> None:
    parsed = read(three(option="{}.", key="ANSWER – {}").replace("– b", "– B"))
    assert [(draft.chapter, draft.key) for draft in parsed.drafts] == [
        ("", (1,)), ("", (2,)), ("", (0,)),
    ]  # fmt: skip


@pytest.mark.parametrize("joint", [", ", " & "])
def test_several_keys_are_all_kept(joint: str) -> None:
    text = three().replace("Ans. (c)", f"Ans. (b){joint}(c)")
    assert keys(text)[2] == (1, 2)


def test_a_pair_of_letters_in_a_table_does_not_discard_the_others() -> None:
    assert keys(three(key="") + "ANSWERS\n1 b  2 b,c  3 a\n") == THREE | {2: (1, 2)}


def test_lists_to_match_stay_in_the_stem() -> None:
    lists = (
        "Match the lists:\nA. dew   1. cold\nB. frost   2. wet\nC. fog   3. dull\nD. hail   4. ice"
    )
    text = three().replace("Which one is number 2?", lists)
    parsed = read(text)
    assert [options(draft)[0] for draft in parsed.drafts] == ["text a1", "text a2", "text a3"]
    assert "C. fog" in parsed.drafts[1].stem
    assert keys(text) == THREE


def test_options_that_wrap_inside_a_line_stay_apart() -> None:
    text = "".join(
        f"{at}. Which is it?\n(a) first text (b) second text that goes\non (c) third (d) fourth\n"
        f"Ans. (c)\n"
        for at in (1, 2)
    )
    for draft in read(text).drafts:
        assert options(draft) == ["first text", "second text that goes on", "third", "fourth"]


def test_numbered_steps_of_an_explanation_begin_no_question() -> None:
    steps = "Explanation: In steps:\n1. One thing.\n2. Another thing.\n3. A last thing.\n"
    text = three().replace("Ans. (b)\n", "Ans. (b)\n" + steps)
    parsed = read(text)
    assert keys(text) == THREE
    assert parsed.drafts[1].stem == "Which one is number 2?"


def test_item_codes_name_questions_and_bring_their_keys() -> None:
    item = "{} ({}) [97.1]\nWhat is measured?\nA. one\nB. two\nC. three\nD. four\n~~\n"
    text = "".join(item.format(f"A1B0{at}", key) for at, key in enumerate("BCA", 1))
    drafts = read(text.replace("~~", "")).drafts
    assert [(draft.code, draft.key) for draft in drafts] == [
        ("A1B01", (1,)), ("A1B02", (2,)), ("A1B03", (0,)),
    ]  # fmt: skip


def test_directions_are_shared_by_the_questions_they_name() -> None:
    shared = "Directions (Q. 2–3): Read this report.\n"
    drafts = read(three().replace("2. Which", shared + "2. Which")).drafts
    assert ["Read this report." in draft.stem for draft in drafts] == [False, True, True]


def test_two_pasted_columns_are_read_one_after_the_other() -> None:
    left, right = three().split("\n")[:14], three("{}.").replace("1. W", "4. W").split("\n")[:7]
    text = "\n".join(
        f"{line:40}    {right[at] if at < len(right) else ''}" for at, line in enumerate(left)
    )
    assert list(keys(text)) == [1, 2, 4]


def test_a_broken_word_keeps_its_hyphen_unless_the_file_has_it_whole() -> None:
    first, second = read(
        "1. A well-\nknown one?\n(a) x\n(b) y\n2. A baro-\nmeter?\n(a) barometer\n(b) y\n"
    ).drafts
    assert (first.stem, second.stem) == ("A well-known one?", "A barometer?")


def test_capitals_alone_on_a_line_are_a_heading() -> None:
    text = three().replace("2. Which", "WIND AT SEA\n2. Which")
    assert [draft.chapter for draft in read(text).drafts] == ["", "WIND AT SEA", "WIND AT SEA"]


def test_a_second_key_drops_both_and_says_so() -> None:
    draft = read(three().replace("Ans. (b)", "Ans. (b)\nAnswer: (c)")).drafts[0]
    assert draft.key == ()
    assert "second answer key" in draft.to_check


def test_a_key_beyond_the_options_is_told_and_not_kept() -> None:
    draft = read(three().replace("Ans. (b)", "Ans. (f)")).drafts[0]
    assert draft.key == ()
    assert "names none of its 4 options" in draft.to_check


def test_text_that_explains_nothing_is_called_misread() -> None:
    letter = "\n\n".join(f"Some remark that is no question, the {at}th." for at in range(40))
    parsed = read(letter + "\n\n" + three())
    assert misread(parsed)
    assert not misread(read(three()))


def test_options_that_are_numbers_begin_no_answer_key() -> None:
    block = "{}. Which number is it?\n1) 2\n2) 5\n3) 7\n4) None of these\nAns. ({})\n\n"
    assert keys("".join(block.format(at, at) for at in (1, 2, 3))) == {1: (0,), 2: (1,), 3: (2,)}


def test_a_layout_that_explains_next_to_nothing_is_not_offered() -> None:
    assert len(read(three()).layouts) == 1
    lists = three().replace("?\n", "?\nA. dew\nB. fog\n")
    assert [words.split(", ")[1] for words in read(lists).layouts] == ["options (a)", "options A."]
