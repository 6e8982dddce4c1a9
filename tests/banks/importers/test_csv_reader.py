import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from banks.importers import csv_reader
from banks.importers.common import Draft, Hints, Parsed
from banks.importers.csv_reader import Rows, parse
from domain.errors import InputError
from domain.questions import Kind

HEAD = "number,stem,a,b,c,d,key\n"


def read(text: str, **hints: object) -> Parsed:
    return parse(text.encode(), Hints(**hints))


def rows(text: str, delimiter: str = ",") -> list[list[str]]:
    return [cells for _, cells in Rows(iter(text.splitlines(keepends=True)), delimiter)]


def options(draft: Draft) -> list[str]:
    return [option.text for option in draft.options]


# RFC 4180, section 2; the examples are those of its numbered rules.
FIRST, SECOND = ["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]


@pytest.mark.parametrize(
    ("rule", "text", "expected"),
    [
        ("1 records on lines", "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [FIRST, SECOND]),
        ("2 last line without end", "aaa,bbb,ccc\r\nzzz,yyy,xxx", [FIRST, SECOND]),
        ("4 spaces belong to a field", "aaa, bbb ,ccc\r\n", [["aaa", " bbb ", "ccc"]]),
        ("5 fields may be quoted", '"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [FIRST, SECOND]),
        ("6 breaks in quotes", '"aaa","b\r\nbb","ccc"\r\n', [["aaa", "b\nbb", "ccc"]]),
        ("7 doubled quotes", '"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
    ],
)  # fmt: skip
def test_rfc_4180(rule: str, text: str, expected: list[list[str]]) -> None:
    read = [[cell.replace("\r\n", "\n") for cell in row] for row in rows(text)]
    assert read == expected, rule


def test_rfc_4180_header_is_optional() -> None:
    """Section 2, rule 3."""
    with_header = read(HEAD + "1,What is it?,w,x,y,z,b\n")
    without = read("1,What is it?,w,x,y,z,b\n2,And this one?,w,x,y,z,c\n")
    assert with_header.drafts[0].stem == without.drafts[0].stem == "What is it?"
    assert with_header.drafts[0].key == without.drafts[0].key == (1,)


cells = st.text(st.characters(codec="utf-8", exclude_characters="\r\0"), max_size=12)


@given(st.lists(st.lists(cells, min_size=2, max_size=4), min_size=1, max_size=6))
def test_rows_are_those_of_the_standard_library_for_whatever_it_writes(
    table: list[list[str]],
) -> None:
    stream = io.StringIO()
    csv.writer(stream).writerows(table)
    text = stream.getvalue().replace("\r\n", "\n")
    read = Rows(iter(io.StringIO(text, newline="\n").readlines()), ",")
    assert [cells for _, cells in read] == table
    assert read.broken == []


@pytest.mark.parametrize("delimiter", [",", "\t", ";", "|"])
def test_every_delimiter_is_found_out(delimiter: str) -> None:
    text = (HEAD + "1,What is it?,w,x,y,z,b\n").replace(",", delimiter)
    assert read(text).drafts[0].key == (1,)


def test_newlines_and_separators_inside_quotes_belong_to_the_text() -> None:
    parsed = read(HEAD + '1,"Two lines,\nand ""quotes""",w,x,y,z,a\n2,Next one,w,x,y,z,b\n')
    assert parsed.drafts[0].stem == 'Two lines,\nand "quotes"'
    assert [draft.line for draft in parsed.drafts] == [2, 4]


@pytest.mark.parametrize(
    "header",
    [
        "No.,Question,Option A,Option B,Option C,Option D,Answer",
        "Q No,Question Text,A,B,C,D,Correct Answer",
        "sl_no,stem,opa,opb,opc,opd,cop",
        "#,Prompt,Choice 1,Choice 2,Choice 3,Choice 4,Correct Option",
        "number,question,(A),(B),(C),(D),Key",
    ],
)
def test_headers_are_known_in_their_obvious_spellings(header: str) -> None:
    (draft,) = read(f"{header}\n7,What is it?,w,x,y,z,b\n").drafts
    assert (draft.number, draft.stem, draft.key) == (7, "What is it?", (1,))
    assert options(draft) == ["w", "x", "y", "z"]


def test_headings_pages_and_tags_come_along() -> None:
    text = "subject,chapter,no,question,a,b,key,page,tags,explanation\n"
    text += 'Clouds,1 Genera,3,High?,Cirrus,Stratus,a,17,"high, ice",Made of ice.\n'
    (draft,) = read(text).drafts
    assert (draft.subject, draft.chapter, draft.number) == ("Clouds", "1 Genera", 3)
    assert (draft.reference, draft.tags) == ("17", ("high", "ice"))
    assert draft.explanation == "Made of ice."


@pytest.mark.parametrize(
    ("keys", "expected", "reason"),
    [
        (["a", "B", "(c)", "D."], [0, 1, 2, 3], ""),
        (["1", "2", "4", "3"], [0, 1, 3, 2], ""),
        (["0", "1", "3", "2"], [0, 1, 3, 2], ""),
        (["2", "3", "3", "2"], [1, 2, 2, 1], "read as counted from 1"),
        (["one", "two", "FOUR", "three"], [0, 1, 3, 2], ""),
        (["A) one", "option b", "Answer: c", "D"], [0, 1, 2, 3], ""),
    ],
)
def test_keys_are_letters_numbers_from_0_or_1_or_texts_whichever_fits_the_whole_file(
    keys: list[str], expected: list[int], reason: str
) -> None:
    text = HEAD + "".join(f"{n},Q{n}?,one,two,three,four,{k}\n" for n, k in enumerate(keys, 1))
    parsed = read(text)
    assert [draft.key for draft in parsed.drafts] == [(at,) for at in expected]
    assert bool(reason) == bool(parsed.warnings)
    assert all(reason in warning.reason for warning in parsed.warnings)


def test_the_candidate_can_say_where_numbers_count_from() -> None:
    text = HEAD + "1,Q?,w,x,y,z,1\n2,R?,w,x,y,z,2\n"
    assert [draft.key for draft in read(text, key_base=0).drafts] == [(1,), (2,)]
    assert [draft.key for draft in read(text, key_base=1).drafts] == [(0,), (1,)]


def test_several_keys_make_a_multiple_response() -> None:
    parsed = read(HEAD + '1,Q?,w,x,y,z,"a,c"\n2,R?,w,x,y,z,bd\n3,S?,w,x,y,z,a and d\n')
    assert [draft.key for draft in parsed.drafts] == [(0, 2), (1, 3), (0, 3)]
    assert {draft.kind for draft in parsed.drafts} == {Kind.MULTIPLE}


def test_true_false_numbers_and_short_texts_are_told_by_their_key() -> None:
    text = "number,stem,key\n1,Fog is a cloud.,True\n2,Oktas of a full sky?,8\n3,Highest?,cirrus\n"
    kinds = {draft.number: (draft.kind, draft.key) for draft in read(text).drafts}
    assert kinds == {
        1: (Kind.TRUE_FALSE, (0,)),
        2: (Kind.NUMERIC, ("8",)),
        3: (Kind.TEXT, ("cirrus",)),
    }


@pytest.mark.parametrize("kind", ["text", "Short text", "short answer"])
def test_a_short_text_takes_several_spellings_whatever_it_is_called(kind: str) -> None:
    (draft,) = read(f"number,stem,kind,key\n1,Unit of flux density?,{kind},tesla|T\n").drafts
    assert (draft.kind, draft.key) == (Kind.TEXT, ("tesla", "T"))


def test_bad_rows_are_named_by_line_and_the_good_ones_stay() -> None:
    parsed = read(
        HEAD
        + "1,Good?,w,x,y,z,a\n"
        + "2,Bad key?,w,x,y,z,q\n"
        + "3,Out of range?,w,x,,,d\n"
        + "x4,Bad number?,w,x,y,z,a\n"
        + ",,,,,,\n"
        + "5,,w,x,y,z,a\n"
        + "6,Too short\n"
        + "7,Good too?,w,x,y,z,b\n"
    )
    assert [draft.number for draft in parsed.drafts] == [1, 7]
    assert {finding.line: finding.reason for finding in parsed.skipped} == {
        3: "the key 'q' is neither an option's letter or number nor its text",
        4: "the key 'd' names an option that isn't there (2 given)",
        5: "the number 'x4' is not a whole number from 1 on",
        7: "has no stem",
        8: "holds 2 cells, at least 7 expected",
    }


def test_a_quotation_mark_never_closed_costs_its_own_line_only() -> None:
    parsed = read(HEAD + '1,Good?,w,x,y,z,a\n2,"Never closed,w,x,y,z,b\n3,Good?,w,x,y,z,c\n')
    assert [draft.number for draft in parsed.drafts] == [1, 3]
    (finding,) = parsed.skipped
    assert finding.line == 3
    assert "never closed" in finding.reason


def test_what_a_spreadsheet_made_of_a_ratio_is_kept_and_told() -> None:
    parsed = read(
        HEAD + "1,The ratio?,2:25,15:02,1:05,30:02:00,d\n2,Shared?,2-Jan,4-Jan,8-Jan,16-Jan,c\n"
    )
    assert options(parsed.drafts[0]) == ["2:25", "15:02", "1:05", "30:02:00"]
    assert options(parsed.drafts[1]) == ["2-Jan", "4-Jan", "8-Jan", "16-Jan"]
    assert [warning.line for warning in parsed.warnings] == [2, 3]


def test_two_equal_options_are_told_and_both_kept() -> None:
    parsed = read(HEAD + "1,Twins?,w,x,x,z,b\n")
    assert options(parsed.drafts[0]) == ["w", "x", "x", "z"]
    assert "the same" in parsed.warnings[0].reason


def test_controls_in_a_cell_are_taken_out_and_told_with_the_line() -> None:
    parsed = read(HEAD + "1,Red \x1b[31malert\x1b[0m?,w,x,y,z,b\n")
    assert parsed.drafts[0].stem == "Red alert?"
    assert parsed.warnings[0].line == 2


def test_columns_said_by_hand_are_taken_as_said() -> None:
    text = "x;y;z;w;v\nWas ist es?;b;eins;zwei;3\n"
    mapping = {"stem": 0, "key": 1, "a": 2, "b": 3, "number": 4}
    (draft,) = read(text, columns=mapping, header=True).drafts
    assert (draft.stem, draft.key, draft.number) == ("Was ist es?", (1,), 3)


def test_a_guess_at_the_columns_is_given_with_a_sample() -> None:
    known = csv_reader.columns((HEAD + "1,What is it?,w,x,y,z,b\n").encode())
    assert known.sure
    assert known.mapping["key"] == 6
    assert known.sample == (("1", "What is it?", "w", "x", "y", "z", "b"),)
    unknown = csv_reader.columns(b"Nr;Frage;Eins\nx;Was?;ja\ny;Wer?;nein\n")
    assert not unknown.sure
    assert unknown.names == ("Nr", "Frage", "Eins")


def test_columns_that_can_hold_no_questions_are_refused_with_an_example() -> None:
    with pytest.raises(InputError, match="Expected, for example:\nnumber,stem") as refused:
        read("Q1,Q2,Q3\n0,1,0\n1,1,0\n")
    assert "Q1, Q2, Q3" in str(refused.value)


def test_texts_beyond_all_bounds_are_named_not_swallowed() -> None:
    parsed = read(HEAD + f"1,{'x' * 200_000},w,x,y,z,b\n2,Fine?,w,x,y,z,b\n")
    assert [draft.number for draft in parsed.drafts] == [2]
    assert "200,000 characters" in parsed.skipped[0].reason


def test_a_cell_of_megabytes_costs_its_own_line_only() -> None:
    parsed = read(HEAD + f"1,{'x' * 2_000_000},w,x,y,z,b\n2,Fine?,w,x,y,z,b\n")
    assert [draft.number for draft in parsed.drafts] == [2]
    assert [finding.line for finding in parsed.skipped] == [2]


def test_more_rows_than_can_be_held_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("banks.importers.table.MAX_ROWS", 3)
    with pytest.raises(InputError, match="more than 3 rows"):
        read(HEAD + "".join(f"{n},Q{n}?,w,x,y,z,b\n" for n in range(1, 6)))


@settings(max_examples=60)
@given(st.lists(st.booleans(), min_size=1, max_size=30), st.randoms(use_true_random=False))
def test_findings_point_to_the_physical_line_whatever_stands_before_them(
    good: list[bool], random: object
) -> None:
    lines, bad_lines, at = [HEAD], [], 2
    for number, is_good in enumerate(good, 1):
        breaks = random.randrange(3)
        stem = '"Stem' + "\nmore" * breaks + '"'
        lines.append(f"{number},{stem},w,x,y,z,{'a' if is_good else 'q'}\n")
        bad_lines += [] if is_good else [at]
        at += 1 + breaks
    parsed = read("".join(lines))
    assert [finding.line for finding in parsed.skipped] == bad_lines
    assert len(parsed.drafts) == sum(good)


def test_headers_in_another_language_are_no_bad_row_where_the_content_says_it_all() -> None:
    text = "Frage,Erste,Zweite,Loesung\n" + "".join(f"Was ist {n}?,ja,nein,b\n" for n in range(20))
    parsed = read(text)
    assert (len(parsed.drafts), parsed.skipped) == (20, [])


def test_a_separator_left_unquoted_is_told_not_read_into_the_wrong_columns() -> None:
    parsed = read(HEAD + "1,What, if any?,w,x,y,z,b\n2,Good?,w,x,y,z,b,,\n3,Also,a,b,c,d,a,b\n")
    assert [draft.number for draft in parsed.drafts] == [2]
    assert [finding.line for finding in parsed.skipped] == [2, 4]
    assert "holds 8 cells, 7 expected" in parsed.skipped[0].reason


def test_a_kind_stated_in_a_bad_row_is_not_taken_for_the_next_one() -> None:
    parsed = read("number,stem,kind,a,b,key\n1,Q?,multiple,w,,a\n2,R?,,w,x,a\n")
    assert [(draft.number, draft.kind) for draft in parsed.drafts] == [(2, Kind.BEST)]


def test_options_in_one_cell_are_told_apart_and_counted() -> None:
    head = "number,stem,options,key\n"
    many = "|".join(map(str, range(27)))
    parsed = read(head + f'1,Q?,"A) w B) x C) y",b\n2,R?,w|x|y,c\n3,S?,{many},a\n')
    assert [options(draft) for draft in parsed.drafts] == [["w", "x", "y"], ["w", "x", "y"]]
    assert [draft.key for draft in parsed.drafts] == [(1,), (2,)]
    assert [finding.reason for finding in parsed.skipped] == ["has 27 options, at most 26 fit"]


@pytest.mark.parametrize("tolerance", ["much", "-1", "1e400", "nan"])
def test_a_tolerance_that_is_no_number_is_told(tolerance: str) -> None:
    parsed = read(f"number,stem,kind,key,tolerance\n1,Q?,numeric,5,{tolerance}\n")
    assert "tolerance" in parsed.skipped[0].reason


def test_signs_taken_out_are_told_once_a_line() -> None:
    data = "stem,a,b,key\nQ\u202e?,x\u202e,y\u202e,a\nR?,x,\x07y,b\n".encode()

    warned = [warning.line for warning in parse(data, Hints()).warnings]

    assert warned == [2, 3]


def test_keys_are_texts_where_one_of_them_can_be_nothing_else() -> None:
    parsed = read("stem,a,b,c,d,key\n2+1?,3,4,1,2,3\n5+7?,12,11,10,13,12\n")
    assert [draft.key for draft in parsed.drafts] == [(0,), (0,)]


def test_a_list_in_a_cell_is_not_torn() -> None:
    parsed = read('stem,options,key\n"Which?","[""red; dark"", ""blue"", ""green""]",a\n')
    assert [option.text for option in parsed.drafts[0].options] == ["red; dark", "blue", "green"]


def test_a_line_that_names_the_separator_is_no_row() -> None:
    parsed = read("sep=;\nnumber;stem;a;b;key\n1;Which?;x;y;b\n")
    assert [(draft.number, draft.key) for draft in parsed.drafts] == [(1, (1,))]


def test_lines_above_the_header_and_columns_not_used_are_told() -> None:
    parsed = read("My questions\nnumber,stem,a,b,key,mood\n1,Which?,x,y,a,good\n")
    assert len(parsed.drafts) == 1
    reasons = [finding.reason for finding in parsed.warnings]
    assert reasons == ["lines left out above the table: 1", "columns that are not used: mood"]


def test_a_heading_that_is_printed_once_holds_for_the_rows_below_it() -> None:
    """Merged cells and titles in a row of their own; a new subject has no chapter yet."""
    parsed = read(
        "subject,chapter,number,stem,a,b,key\nClouds,Genera,1,P?,x,y,a\n,,2,Q?,x,y,a\n"
        ",Species,,,,,\n,,1,R?,x,y,a\nWind,,1,S?,x,y,b\n"
    )
    assert parsed.skipped == []
    assert [(draft.subject, draft.chapter) for draft in parsed.drafts] == [
        *[("Clouds", "Genera")] * 2, ("Clouds", "Species"), ("Wind", ""),
    ]  # fmt: skip
    assert any("a chapter is printed once" in finding.reason for finding in parsed.warnings)


def test_html_entities_are_signs_only_where_every_ampersand_is_one() -> None:
    head = "stem,a,b,key\n"
    parsed = read(head + "Tom &amp; Jo &lt;5&gt;?,x&nbsp;y,caf&eacute;,café\n")
    assert (parsed.drafts[0].stem, options(parsed.drafts[0])) == (
        "Tom & Jo <5>?",
        ["x\N{NO-BREAK SPACE}y", "café"],
    )
    assert parsed.drafts[0].key == (1,)
    reasons = [finding.reason for finding in parsed.warnings]
    assert reasons == ["HTML entities were read as their signs"]
    assert read(head + "Is & written &amp;?,x,y,a\n").drafts[0].stem == "Is & written &amp;?"


def test_a_question_may_have_as_many_options_as_there_are_letters() -> None:
    named = ",".join(f"option {place}" for place in range(1, 27))
    texts = ",".join(f"text {place}" for place in range(26))
    for key, expected in (("z", (25,)), ('"j, z"', (9, 25)), ("text 8", (8,))):
        draft = read(f"stem,{named},key\nWhich?,{texts},{key}\n").drafts[0]
        assert (len(draft.options), draft.key) == (26, expected)


@pytest.mark.parametrize("header", ["No,Question and options,Ans", "No,Question,Ans"])
def test_options_that_stand_behind_the_stem_are_parted_from_it(header: str) -> None:
    parsed = read(f"{header}\n1,Which? (a) x (b) y,b\n2,What? A) x B) y,a\n3,Force 3?,a\n")
    assert [
        (draft.stem, [option.text for option in draft.options], draft.key)
        for draft in parsed.drafts[:2]
    ] == [("Which?", ["x", "y"], (1,)), ("What?", ["x", "y"], (0,))]
    assert parsed.drafts[2].stem == "Force 3?"


def test_a_number_that_a_spreadsheet_shortened_is_told() -> None:
    parsed = read("stem,a,b,key\nWhich?,1E+17,2,a\n")
    assert "long number that a spreadsheet shortened" in parsed.warnings[0].reason
