"""Markdown: what goes out comes back, and every sign in it means only itself."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from banks.exporters.bank_writers import to_markdown
from banks.importers.common import Hints
from banks.importers.detect import detect, parse
from banks.importers.markdown_reader import parse as parse_markdown
from domain.errors import InputError
from domain.questions import Bank, Chapter, Option, Question, Subject
from tests.banks.exporters.made_banks import banks, expected, found


def bank_of(**fields: object) -> Bank:
    question = Question(id="b/c/1", chapter="c", number=1, **fields)
    subject = Subject("s", "Sky", (Chapter("c", "Clouds"),))
    return Bank(id="b", title="Book", subjects=(subject,), questions={question.id: question})


@settings(max_examples=120, deadline=None)
@given(bank=banks())
def test_what_is_exported_comes_back_as_it_was(bank: Bank) -> None:
    data = to_markdown(bank)

    parsed = parse(data, Hints())

    assert detect(data) == "markdown"
    assert parsed.skipped == []
    assert found(parsed.drafts) == expected(bank)


SIGNS = [
    *("# not a heading", "- not a list", "1. not a number", "* not * emphasis *", "<b>not</b>"),
    *(
        "[not](a link)",
        "`not code`",
        "a | b",
        "> no quote",
        "&amp; no entity",
        "---",
        "+ x",
        "====",
    ),
    "a\\",
]


@pytest.mark.parametrize("text", SIGNS)
def test_a_reader_of_markdown_shows_the_signs_themselves(text: str) -> None:
    # The published reference behind the parser: CommonMark 0.31.
    option = Option("a", text)
    data = to_markdown(bank_of(stem=text, options=(option, Option("b", "x")), answer_key=("a",)))

    tokens = MarkdownIt().parse(data.decode())

    shown = [token for token in tokens if token.type == "inline"]
    inside = {child.type for token in shown for child in token.children or []}
    texts = ["".join(child.content for child in token.children or []) for token in shown]
    assert text in texts
    assert f"(a) {text}" in texts
    assert inside <= {"text", "text_special", "strong_open", "strong_close"}


def test_the_page_is_easy_to_read() -> None:
    bank = bank_of(
        stem="Which is low?\nThink.",
        options=(
            Option("a", "Cirrus", explanation="High."),
            Option("b", "Stratus"),
            Option("c", "None of these", fixed=True),
        ),
        answer_key=("b",),
        reference="p. 3",
    )

    assert to_markdown(bank).decode() == (
        "# Book\n\n## Sky\n\n### Clouds\n\n#### 1\n\nWhich is low?\\\nThink.\n\n"
        "- (a) Cirrus\n- (b) Stratus\n- (c) None of these\n\n"
        "* **key:** b\n* **reference:** p. 3\n* **note_a:** High.\n"
        "* **fixed:** c\n"
    )


def test_lines_that_belong_nowhere_are_told_by_number() -> None:
    data = b"# Book\n\nForeword.\n\n#### 1\n\nWhy?\n\nAnd more.\n\n* **key:** a\n"

    parsed = parse(data, Hints())

    assert [finding.line for finding in parsed.warnings] == [3, 9]
    assert parsed.drafts[0].stem == "Why?"


def test_nothing_to_export_is_said() -> None:
    with pytest.raises(InputError, match="nothing to export"):
        to_markdown(bank_of(stem="x", retired=True))


@settings(max_examples=150, deadline=None)
@given(text=st.text("#* -()abk:\\&9;\n1[x]\u2028", max_size=60))
def test_any_text_after_a_number_ends_in_drafts_or_findings(text: str) -> None:
    parsed = parse_markdown(f"#### 1\n\n{text}".encode(), Hints())

    assert len(parsed.drafts) + len(parsed.skipped) <= 1 + text.count("#### ")
