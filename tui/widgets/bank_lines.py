"""How the Bank screen is set: headings, questions, and the line about the selected one."""

from textual.content import Content

from banks.views.headings import BankHeading
from banks.views.listing import Match
from banks.views.triage import Row
from tui.widgets.tiers import short_mark, standing_mark
from tui.widgets.triage_lines import question_words


def heading_line(heading: BankHeading, width: int) -> Content:
    """A heading, indented by its depth, with the number of its questions at the right."""
    count = f"{heading.questions:,}"
    indent = "  " * max(heading.depth - 1, 0)
    space = width - len(count) - 1 - len(indent)
    title = Content.styled(heading.title, "bold" if heading.depth < 2 else "").truncate(
        space, ellipsis=True
    )
    return Content.assemble(indent, title.pad_right(space - title.cell_length), f" {count}")


def question_line(row: Row, match: Match | None, width: int) -> Content:
    """A question's number, its tier, how it begins, or where what was looked for occurs in it;
    "!" before one to compare with the print.
    """
    head = Content.assemble(
        f"{row.number:>4} ",
        short_mark(row.standing),
        ("! ", "bold $warning") if row.question.to_check else "",
    )
    return head + question_words(row.question, match, width - head.cell_length)


def about_text(row: Row | None, width: int) -> Content:
    """Where the selected question stands, and what else is known of it, on one line."""
    if row is None:
        return Content("")
    question, location = row.question, row.location
    parts = [f"{location.subject.title} · {location.chapter.title} · {question.number}"]
    parts += [
        part for part in (question.code, question.reference, ", ".join(question.tags)) if part
    ]
    mark = standing_mark(row.standing)
    if row.is_waiting:
        mark = Content.assemble(mark, ("  waiting", "$warning"))
    words = Content("  ").join([mark, Content(" · ".join(parts))])
    return words.truncate(width, ellipsis=True)
