"""`exam`: how the exam is made and marked. `mock`: a paper taken from the book, and results."""

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from domain.errors import InputError, UsageError
from tui.commands.frame import Command, Context, json_option

if TYPE_CHECKING:
    from banks.library import Library
    from domain.history import Sitting
    from domain.marking.blueprint import Blueprint, ExamBlueprint
    from domain.marking.results import Result

STEPS = ("show", "begin", "answer", "hand-in")


def _options(parser: ArgumentParser) -> None:
    parser.add_argument(
        "step", nargs="?", choices=STEPS, default="show",
        help="show settings and results; begin, answer or hand in a paper",
    )  # fmt: skip
    parser.add_argument(
        "--questions", type=int, metavar="N", help="number of questions, shared by subject weight"
    )
    parser.add_argument(
        "--sections", metavar="S", help='questions per subject: "Clouds 20; Wind 10 +2/-1"'
    )
    parser.add_argument("--minutes", type=int, metavar="N", help="minutes allowed")
    parser.add_argument(
        "--scheme", metavar="S", help='marking scheme, right/wrong, such as "+4/-1"'
    )
    parser.add_argument("--draw", choices=("random", "weighted"), help="how questions are drawn")
    parser.add_argument(
        "--hard-share", type=float, metavar="P", help="share of hard-tier questions, 0 to 1"
    )
    parser.add_argument(
        "--multiple",
        choices=("all or nothing", "per option"),
        help="how questions with several right options are marked",
    )
    parser.add_argument(
        "--seed", type=int, default=None, help="with begin: the same number draws the same paper"
    )
    parser.add_argument(
        "--responses", metavar="TEXT", help="with answer: letters you chose; a capital means unsure"
    )
    parser.add_argument("--from", type=int, default=1, dest="first", metavar="N")
    json_option(parser)


def _mock(context: Context, arguments: Namespace) -> int:
    step = {"show": _show, "begin": _begin, "answer": _answer, "hand-in": _hand_in}[arguments.step]
    changing = arguments.step != "show" or _settings_given(arguments)
    library = context.library(read_only=not changing)
    return step(context, library, arguments)


def _settings_given(arguments: Namespace) -> bool:
    named = (
        arguments.questions, arguments.minutes, arguments.scheme, arguments.draw,
        arguments.hard_share, arguments.multiple, arguments.sections,
    )  # fmt: skip
    return any(value is not None for value in named)


def _show(context: Context, library: "Library", arguments: Namespace) -> int:
    from banks.views.papers import next_mark, sat

    paper, papers = _blueprint(library, arguments), sat(library)
    expected = next_mark(papers)
    if arguments.json:
        context.json({
            "blueprint": paper, "papers": papers,
            "next": {"low": expected[0], "high": expected[1]} if expected else None,
        })  # fmt: skip
        return 0
    context.say(f"{paper.questions} questions, {paper.minutes} minutes, {paper.scheme}")
    for one in papers:
        context.say(f"{one.at.date()}  {one.marks:g} of {one.best:g}  {one.title}")
    if expected:
        context.say(f"next result: {expected[0]:.0%} to {expected[1]:.0%} (90 % range)")
    return 0


def _blueprint(library: "Library", arguments: Namespace) -> "Blueprint":
    """The blueprint of the papers drawn, changed and kept as the options say."""
    from msgspec.structs import replace

    from banks.views.evidence_log import evidence_log
    from banks.views.exam import changed, drawable
    from domain.marking.blueprint import Draw
    from domain.marking.schemes import MultipleRule

    read = evidence_log(library)
    paper = drawable(library, read)
    if _settings_given(arguments):
        paper = changed(
            read, paper, questions=arguments.questions, minutes=arguments.minutes,
            scheme=arguments.scheme, draw=Draw(arguments.draw) if arguments.draw else None,
            hard_share=arguments.hard_share, sections=arguments.sections,
            multiple=MultipleRule(arguments.multiple) if arguments.multiple else None,
        )  # fmt: skip
        library.save_settings(replace(library.settings, paper=paper))
    return paper


def _begin(context: Context, library: "Library", arguments: Namespace) -> int:
    from random import randrange

    from banks.views.evidence_log import evidence_log
    from banks.views.papers import begin, under_way

    if under_way(library):
        raise InputError("a mock paper is in progress; answer it or hand it in first")
    seed = randrange(1 << 30) if arguments.seed is None else arguments.seed
    sitting = begin(library, evidence_log(library), _blueprint(library, arguments), seed)
    places = _places(library, library.sitting(sitting))
    if arguments.json:
        context.json({"seed": seed, "questions": places})
        return 0
    for number, place in enumerate(places, 1):
        context.say(f"{number:4}  {place['subject']} · {place['chapter']} · {place['number']}")
    return 0


def _places(library: "Library", sitting: "Sitting") -> list[dict[str, Any]]:
    places = [
        (library.location(question), question)
        for question_id in sitting.opened.questions
        if (question := library.question(question_id))
    ]
    return [
        {
            "bank": location.bank.id,
            "subject": location.subject.title,
            "chapter": location.chapter.title,
            "number": question.number,
        }
        for location, question in places
    ]


def _answer(context: Context, library: "Library", arguments: Namespace) -> int:
    from banks.sittings.typed_marks import from_letters
    from banks.views.papers import deadline, under_way
    from domain.responses import Purpose

    sitting = under_way(library)
    if sitting is None:
        raise InputError("no mock paper in progress; begin one first")
    if arguments.responses is None:
        raise UsageError("mock answer needs --responses")
    if library.now() > deadline(sitting):
        raise InputError("time is up; nothing was recorded; hand the paper in")
    numbered = {
        number: question
        for number, question_id in enumerate(sitting.opened.questions, 1)
        if (question := library.question(question_id))
    }
    options = max(bank.option_count for bank in library.banks.values())
    given = from_letters(numbered, arguments.responses, options, first=arguments.first)
    library.record(given, Purpose.PAPER, sitting=sitting.opened.id, label="the answers")
    context.say(f"{len(given)} answers recorded, {len(sitting.left)} left")
    return 0


def _hand_in(context: Context, library: "Library", arguments: Namespace) -> int:
    from banks.views.papers import hand_in, under_way

    sitting = under_way(library)
    if sitting is None:
        raise InputError("no mock paper in progress; begin one first")
    found = hand_in(library, sitting)
    if arguments.json:
        context.json(_result(found))
    else:
        context.say(f"{float(found.marks):g} of {float(found.best):g} marks")
    return 0


def _result(found: "Result") -> dict[str, Any]:
    return {
        "marks": float(found.marks), "best": float(found.best), "won": float(found.won),
        "lost": float(found.lost), "without_guesses": float(found.without_guesses),
        "guesses": found.guesses, "corrected_for_guessing": float(found.known),
        "changes": found.changes,
        "seconds_right": found.seconds_right, "seconds_wrong": found.seconds_wrong,
        "subjects": [
            {"subject": part.subject, "right": part.right, "wrong": part.wrong,
             "blank": part.blank, "marks": float(part.marks), "best": float(part.best)}
            for part in found.parts
        ],
    }  # fmt: skip


def _exam_options(parser: ArgumentParser) -> None:
    add = parser.add_argument
    add("--questions", type=int, metavar="N", help="questions of the exam")
    add("--minutes", type=int, metavar="N", help="minutes allowed")
    add("--scheme", metavar="S", help='marking scheme, right/wrong, such as "+4/-1"')
    add("--sections", metavar="S", help='questions per subject: "Clouds 20; Wind 10 +2/-1"')
    add("--hour", metavar="HH:MM", help="when it begins")
    add("--checklist", metavar="LIST", help='what to take along: "admission card; two pens"')
    add("--card", metavar="FILE", help="write the card for the morning: .txt .md .html .pdf")
    json_option(parser)


def _exam(context: Context, arguments: Namespace) -> int:
    """Show what is known of the exam, after changing what is given."""
    from banks.views.evidence_log import evidence_log
    from banks.views.exam import (
        exam_blueprint,
        keep_checklist,
        sections_text,
        tell_exam,
        told_exam,
    )
    from domain.marking.blueprint import ExamBlueprint

    given = ("questions", "minutes", "scheme", "sections", "hour")
    changing = any(getattr(arguments, name) is not None for name in given)
    listing = arguments.checklist is not None
    library = context.library(read_only=not (changing or listing))
    if changing:
        tell_exam(library, _exam_given(library, arguments))
    if listing:
        keep_checklist(library, arguments.checklist)
    if arguments.card:
        return _write_card(context, library, Path(arguments.card))
    read, told = evidence_log(library), told_exam(library)
    exam = told or ExamBlueprint()
    paper = exam_blueprint(library, read)
    if arguments.json:
        context.json({
            "told": told is not None, "questions": exam.questions,
            "minutes": exam.minutes, "scheme": exam.scheme,
            "hour": exam.hour.strftime("%H:%M") if exam.hour else None,
            "sections": [
                {"subject": read.title(part.subject), "questions": part.questions,
                 "scheme": part.scheme or exam.scheme}
                for part in paper.sections
            ],
        })  # fmt: skip
        return 0
    neutral = "" if told else " (not told yet: set it with --questions …)"
    context.say(f"{exam.text}{neutral}")
    context.say(sections_text(read, paper))
    return 0


def _write_card(context: Context, library: "Library", path: Path) -> int:
    """The page for the exam's morning."""
    from banks.exporters.exam_card import exam_card, to_bytes
    from banks.exporters.save_file import write_file
    from banks.views.exam import exam_morning
    from domain.marking.blueprint import ExamBlueprint

    exam, day, checklist = exam_morning(library)
    if exam is None:
        context.warn("nothing is told of the exam yet; the card shows a neutral one")
    card = exam_card(exam or ExamBlueprint(), day, checklist)
    write_file(path, to_bytes(card, path.suffix.lower()))
    context.say(f"{path}: the card for the exam is written")
    return 0


def _exam_given(library: "Library", arguments: Namespace) -> "ExamBlueprint":
    """The exam with what the options say. Raises InputError."""
    from msgspec.structs import replace

    from banks.views.evidence_log import evidence_log
    from banks.views.exam import parse_sections, told_exam
    from domain.marking.blueprint import ExamBlueprint, parse_exam

    parts = [
        f"{arguments.questions} questions" if arguments.questions is not None else "",
        f"{arguments.minutes} minutes" if arguments.minutes is not None else "",
        arguments.scheme or "",
        arguments.hour or "",
    ]
    before = told_exam(library)
    exam = parse_exam(", ".join(filter(None, parts)), before) or before or ExamBlueprint()
    if arguments.sections is None:
        # Sections that add up to another number of questions no longer say how the exam is made.
        return exam if arguments.questions is None else replace(exam, sections=())
    sections = parse_sections(evidence_log(library), arguments.sections, for_exam=True)
    return replace(exam, sections=sections, questions=sum(part.questions for part in sections))


COMMANDS = [
    Command("exam", "Set how the exam is made and marked.", _exam_options, _exam),
    Command("mock", "Take a mock paper: set it up, answer it, see the results.", _options, _mock),
]
