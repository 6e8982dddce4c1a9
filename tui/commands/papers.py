"""`exam`: how the exam is made and marked. `mock` and `paper`: papers taken as in it."""

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from domain.errors import InputError, UsageError
from domain.text import counted
from tui.commands.frame import Command, Context, json_option

if TYPE_CHECKING:
    from banks.library import Library
    from banks.views.papers import PaperReport
    from domain.history import Sitting
    from domain.marking.blueprint import Blueprint, ExamBlueprint
    from domain.questions import Question

STEPS = ("show", "begin", "answer", "hand-in")
MOST_QUESTIONS = 10_000


def _options(parser: ArgumentParser) -> None:
    parser.add_argument(
        "step",
        nargs="?",
        choices=STEPS,
        default="show",
        help="show settings and results; begin, answer or hand in a paper",
    )
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
        arguments.questions,
        arguments.minutes,
        arguments.scheme,
        arguments.draw,
        arguments.hard_share,
        arguments.multiple,
        arguments.sections,
    )
    return any(value is not None for value in named)


def _show(context: Context, library: "Library", arguments: Namespace) -> int:
    from banks.views.papers import next_mark, papers_taken
    from domain.responses import PaperKind

    paper, papers = _blueprint(library, arguments), papers_taken(library, PaperKind.MOCK)
    expected = next_mark(papers)
    if arguments.json:
        context.json(
            {
                "blueprint": paper,
                "papers": papers,
                "next": {"low": expected[0], "high": expected[1]} if expected else None,
            }
        )
        return 0
    context.say(f"{paper.questions} questions, {paper.minutes} minutes, {paper.scheme}")
    for summary in papers:
        context.say(f"{summary.at.date()}  {summary.marks:g} of {summary.best:g}  {summary.title}")
    if expected:
        context.say(f"next result: {expected[0]:.0%} to {expected[1]:.0%} (90 % range)")
    return 0


def _blueprint(library: "Library", arguments: Namespace) -> "Blueprint":
    """The blueprint of the papers drawn, changed and kept as the options say."""
    from banks.views.evidence_log import evidence_log
    from banks.views.exam import changed, drawable
    from domain.marking.blueprint import Draw
    from domain.marking.schemes import MultipleRule

    read = evidence_log(library)
    paper = drawable(library, read)
    if _settings_given(arguments):
        paper = changed(
            read,
            paper,
            questions=arguments.questions,
            minutes=arguments.minutes,
            scheme=arguments.scheme,
            draw=Draw(arguments.draw) if arguments.draw else None,
            hard_share=arguments.hard_share,
            sections=arguments.sections,
            multiple=MultipleRule(arguments.multiple) if arguments.multiple else None,
        )
        library.change_settings(paper=paper)
    return paper


def _begin(context: Context, library: "Library", arguments: Namespace) -> int:
    from random import randrange

    from banks.views.evidence_log import evidence_log
    from banks.views.papers import begin, draw, under_way
    from domain.responses import PaperKind

    if under_way(library, PaperKind.MOCK):
        raise InputError("a mock paper is in progress; answer it or hand it in first")
    seed = randrange(1 << 30) if arguments.seed is None else arguments.seed
    _blueprint(library, arguments)
    paper = draw(library, evidence_log(library), PaperKind.MOCK, seed)
    places = _places(library, begin(library, paper, seed))
    if arguments.json:
        context.json({"seed": seed, "questions": places})
        return 0
    for number, place in enumerate(places, 1):
        context.say(f"{number:4}  {place['subject']} · {place['chapter']} · {place['number']}")
    return 0


def _places(library: "Library", sitting: str) -> list[dict[str, Any]]:
    places = [
        (library.location(question), question)
        for question_id in library.sitting(sitting).opened.questions
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
    from domain.responses import PaperKind, Purpose

    sitting = under_way(library, PaperKind.MOCK)
    if sitting is None:
        raise InputError("no mock paper in progress; begin one first")
    if arguments.responses is None:
        raise UsageError("mock answer needs --responses")
    if (until := deadline(sitting)) and library.now() > until:
        raise InputError("time is up; nothing was recorded; hand the paper in")
    given = from_letters(
        _numbered(library, sitting),
        arguments.responses,
        _options_at_most(library),
        first=arguments.first,
    )
    library.record(given, Purpose.PAPER, sitting=sitting.opened.id, label="the answers")
    context.say(f"{len(given)} answers recorded, {len(sitting.left)} left")
    return 0


def _numbered(library: "Library", sitting: "Sitting") -> "dict[int, Question]":
    """The paper's questions by their place in it, 1 upwards."""
    return {
        number: question
        for number, question_id in enumerate(sitting.opened.questions, 1)
        if (question := library.question(question_id))
    }


def _options_at_most(library: "Library") -> int:
    return max(bank.option_count for bank in library.banks.values())


def _hand_in(context: Context, library: "Library", arguments: Namespace) -> int:
    from banks.views.papers import hand_in, paper_report, under_way
    from domain.responses import PaperKind

    sitting = under_way(library, PaperKind.MOCK)
    if sitting is None:
        raise InputError("no mock paper in progress; begin one first")
    result = hand_in(library, sitting)
    if arguments.json:
        context.json(_result(paper_report(library, sitting)))
    else:
        context.say(f"{float(result.marks):g} of {float(result.best):g} marks")
    return 0


def _result(report: "PaperReport") -> dict[str, Any]:
    result = report.result
    return {
        "marks": float(result.marks),
        "best": float(result.best),
        "won": float(result.won),
        "lost": float(result.lost),
        "without_guesses": float(result.without_guesses),
        "guesses": result.guesses,
        "corrected_for_guessing": float(result.known),
        "changes": result.changes,
        "seconds_right": result.seconds_right,
        "seconds_wrong": result.seconds_wrong,
        "seconds_allowed": report.seconds,
        "subjects": [
            {
                "subject": part.subject,
                "right": part.right,
                "wrong": part.wrong,
                "blank": part.blank,
                "marks": float(part.marks),
                "best": float(part.best),
            }
            for part in result.parts
        ],
        "quarters": [
            {
                "questions": part.questions,
                "right": part.right,
                "marks": float(part.marks),
                "seconds": part.seconds,
            }
            for part in result.quarters
        ],
        "confidence": {
            part.confidence: {
                "questions": part.questions,
                "right": part.right,
                "marks": float(part.marks),
            }
            for part in result.confidence
        },
        "filled_blanks": {
            "questions": result.filled.questions,
            "at_random": float(result.filled.at_random),
            "one_struck": float(result.filled.one_struck),
        },
        "reasons": result.reasons,
        "questions": report.questions,
        "awaiting_key": sum(question.verdict is None for question in report.questions),
    }


def _paper_options(parser: ArgumentParser) -> None:
    steps = parser.add_subparsers(dest="step", metavar="STEP", parser_class=type(parser))
    for kind, words in (
        ("sample", "draw a sample paper, evenly over the bank"),
        ("rehearsal", "draw a rehearsal, as the exam is made"),
    ):
        step = steps.add_parser(kind, help=words, description=words)
        step.add_argument(
            "--sheet", type=Path, metavar="FILE", help="write it to print: .txt .md .html or .pdf"
        )
        step.add_argument(
            "--seed", type=int, default=None, help="the same number draws the same paper"
        )
        if kind == "sample":
            step.add_argument("--questions", type=int, metavar="N", help="how many (default 100)")
        json_option(step)
    words = "record the letters of the newest paper and its answer key; then see the result"
    step = steps.add_parser("enter", help=words, description=words)
    add = step.add_argument
    add("--responses", metavar="TEXT", help="letters in order; a capital: unsure, space: blank")
    add("--from", type=int, default=1, dest="first", metavar="N", help="first number of these")
    add("--key", metavar="TEXT", help="the answer key as printed, by number in the paper")
    for mark in ("wrong", "unsure", "blank", "right"):
        add(f"--{mark}", default="", metavar="N,…", help=f"without a key: these were {mark}")
    add("--rest", choices=["right"], help="all others were right")
    json_option(step)
    words = "record the result of a paper sat elsewhere"
    step = steps.add_parser("outside", help=words, description=words)
    add = step.add_argument
    add("--date", required=True, metavar="D", help="the day it was sat")
    for name, words in (
        ("questions", "questions it had"),
        ("right", "how many were right"),
        ("wrong", "how many were wrong; the rest was blank"),
    ):
        add(f"--{name}", type=int, required=True, metavar="N", help=words)
    add("--met", type=int, metavar="N", help="how many of them you had met before")
    add("--by", default="", metavar="S=R/W/B;…", help="right, wrong and blank by subject")
    add("--title", default="", metavar="T", help="what to call it")
    json_option(step)
    for name, words in (
        ("result", "show the newest paper's result, question by question"),
        ("list", "list the papers taken"),
    ):
        json_option(steps.add_parser(name, help=words, description=words))


def _paper(context: Context, arguments: Namespace) -> int:
    step = {
        "sample": _draw,
        "rehearsal": _draw,
        "enter": _enter,
        "outside": _outside,
        "result": _show_result,
        "list": _list,
    }
    if arguments.step is None:
        raise UsageError(f"paper: name a step: {', '.join(step)}")
    library = context.library(read_only=arguments.step in ("list", "result"))
    return step[arguments.step](context, library, arguments)


def _draw(context: Context, library: "Library", arguments: Namespace) -> int:
    """Draw a paper to be taken with the printed bank, and entered afterwards."""
    from random import randrange

    from banks.sittings.paper_sitting import print_paper
    from banks.views.evidence_log import evidence_log
    from banks.views.papers import begin, draw
    from banks.views.score import predicted_for
    from domain.responses import Medium, PaperKind

    kind = PaperKind.SAMPLE if arguments.step == "sample" else PaperKind.REHEARSAL
    count = arguments.questions if kind is PaperKind.SAMPLE else None
    if count is not None and not 1 <= count <= MOST_QUESTIONS:
        raise UsageError(f"--questions: 1 to {MOST_QUESTIONS:,}, not {count:,}")
    seed = randrange(1 << 30) if arguments.seed is None else arguments.seed
    read = evidence_log(library)
    paper = draw(library, read, kind, seed, count)
    before = predicted_for(library, read, paper)
    if arguments.sheet:
        sitting = print_paper(library, paper, seed, arguments.sheet, before)
    else:
        sitting = begin(library, paper, seed, Medium.PRINTED, before)
    places = _places(library, sitting)
    if arguments.json:
        context.json(
            {
                "kind": kind,
                "seed": seed,
                "minutes": paper.blueprint.minutes,
                "scheme": paper.blueprint.scheme,
                "questions": places,
            }
        )
        return 0
    context.say(f"{paper.title}, {paper.blueprint.scheme}")
    if arguments.sheet:
        context.say(f"{arguments.sheet}: {len(places)} questions; then: resieve paper enter")
        return 0
    for number, place in enumerate(places, 1):
        context.say(f"{number:4}  {place['subject']} · {place['chapter']} · {place['number']}")
    return 0


def _enter(context: Context, library: "Library", arguments: Namespace) -> int:
    """Letters or plain marks, then the key; the result when nothing awaits one any more."""
    from banks.sittings.typed_marks import from_letters, from_numbers
    from banks.views.papers import awaiting_key, hand_in, paper_report, papers_to_finish
    from domain.responses import Purpose

    sitting = next(iter(papers_to_finish(library)), None)
    if sitting is None:
        raise InputError("no paper to enter; draw one first: resieve paper sample")
    numbered = _numbered(library, sitting)
    marks = {
        name: getattr(arguments, name)
        for name in ("wrong", "unsure", "blank", "right")
        if getattr(arguments, name)
    }
    if not (arguments.responses or arguments.key or marks or arguments.rest):
        raise UsageError("paper enter needs --responses, --key or lists such as --wrong")
    if not sitting.closed and (arguments.responses or marks or arguments.rest):
        given = (
            from_letters(
                numbered,
                arguments.responses,
                _options_at_most(library),
                first=arguments.first,
                needs_key=False,
            )
            if arguments.responses
            else from_numbers(numbered, marks, arguments.rest)
        )
        library.record(given, Purpose.PAPER, sitting=sitting.opened.id, label="the answers")
        hand_in(library, sitting)
    if awaiting_key(library, sitting):
        _type_key(context, library, sitting, arguments, marks)
    left = len(awaiting_key(library, sitting))
    if left and not arguments.json:
        context.say(f"{left} without an answer key: resieve paper enter --key …")
    else:
        _say_result(context, paper_report(library, sitting), arguments)
    return 0


def _say_result(context: Context, report: "PaperReport", arguments: Namespace) -> None:
    """The result as JSON, or its marks and what was missed, question by question."""
    if arguments.json:
        context.json(_result(report))
        return
    from tui.score_words import too_short_words

    context.say(f"{float(report.result.marks):g} of {float(report.result.best):g} marks")
    if words := too_short_words(report):
        context.say(words)
    for question in report.questions:
        if question.verdict not in (None, "right"):
            given = f"{question.place:4}  {question.verdict:6}{question.given:>4}"
            heading = f"{question.subject} · {question.chapter} · {question.number}"
            context.say(f"{given}  key {question.answer_key:4} {heading}")


def _show_result(context: Context, library: "Library", arguments: Namespace) -> int:
    """The newest paper's result."""
    from banks.views.papers import paper_report, papers_taken

    papers = papers_taken(library)
    if not papers:
        raise InputError("no paper was handed in yet")
    _say_result(context, paper_report(library, library.sitting(papers[-1].sitting)), arguments)
    return 0


def _type_key(
    context: Context,
    library: "Library",
    sitting: "Sitting",
    arguments: Namespace,
    marks: dict[str, str],
) -> None:
    """The key as printed, or right and wrong, for the answers that have none."""
    from banks.importers.answer_keys import parse_keys
    from banks.sittings.paper_sitting import PaperKey
    from domain.printed.entry import numbers
    from domain.questions import LETTERS
    from domain.verdicts import Verdict

    key, numbered = PaperKey(library, sitting), _numbered(library, sitting)
    number_of = {question.id: number for number, question in numbered.items()}
    letters = parse_keys(arguments.key or "").keys if arguments.key else {}
    judged = {
        number: Verdict(name)
        for name in ("wrong", "right")
        for number in numbers(marks.get(name, ""), sorted(numbered))
    }
    for index, shown in enumerate(key.questions):
        number = number_of[shown.question.id]
        key.move(index - key.index)
        if number in letters:
            for place, letter in enumerate(letters[number]):
                if place:
                    key.add()
                key.letter(LETTERS.index(letter))
        elif number in judged or arguments.rest:
            key.judge(judged.get(number, Verdict.RIGHT))
        else:
            context.warn(f"{number} has no answer key yet")
    if key.marks:
        key.save()


def _outside(context: Context, library: "Library", arguments: Namespace) -> int:
    """Record a paper sat elsewhere."""
    from banks.views.evidence_log import evidence_log
    from banks.views.score import OutsideFigures, parse_by_subject, record_outside
    from domain.plan.parsing import parse_day

    read = evidence_log(library)
    figures = OutsideFigures(
        day=parse_day(arguments.date),
        questions=arguments.questions,
        right=arguments.right,
        wrong=arguments.wrong,
        met=arguments.met,
        by_subject=parse_by_subject(read, arguments.by),
        title=arguments.title,
    )
    recorded = record_outside(library, read, figures)
    if arguments.json:
        context.json(recorded)
    else:
        context.say(
            f"{recorded.day}: {recorded.right} right, {recorded.wrong} wrong, "
            f"{recorded.blank} blank of {recorded.questions}"
        )
    return 0


def _list(context: Context, library: "Library", arguments: Namespace) -> int:
    """The papers taken and those sat elsewhere, the newest last."""
    from banks.views.score import paper_lines

    papers = paper_lines(library)
    if arguments.json:
        context.json({"papers": papers})
        return 0
    for paper in papers:
        before = "–".join(f"{value:.0f}" for value in paper.predicted or ())
        words = f", predicted {before}" if before else ""
        context.say(f"{paper.day}  {paper.marks:g} of {paper.best:g}  {paper.title}{words}")
    return 0


def _exam_options(parser: ArgumentParser) -> None:
    add = parser.add_argument
    add("--questions", type=int, metavar="N", help="questions of the exam")
    add("--minutes", type=int, metavar="N", help="minutes allowed")
    add("--scheme", metavar="S", help='marking scheme, right/wrong, such as "+4/-1"')
    add("--sections", metavar="S", help='questions per subject: "Clouds 20; Wind 10 +2/-1"')
    add("--hour", metavar="HH:MM", help="when it begins")
    add("--target", metavar="SCORE", help='the score you want to reach; "none" drops it')
    add("--checklist", metavar="LIST", help='what to take along: "admission card; two pens"')
    add("--came", metavar="LIST", help='after it: "Clouds; 2 Direction; a question on halos"')
    add("--card", metavar="FILE", help="write the card for the morning: .txt .md .html .pdf")
    json_option(parser)


def _exam(context: Context, arguments: Namespace) -> int:
    """Show what is known of the exam, after changing what is given."""
    from banks.views.evidence_log import evidence_log
    from banks.views.exam import (
        exam_blueprint,
        exam_morning,
        keep_checklist,
        sections_text,
        tell_exam,
        tell_topics,
        told_exam,
    )
    from domain.marking.blueprint import ExamBlueprint

    given = ("questions", "minutes", "scheme", "sections", "hour", "target")
    changing = any(getattr(arguments, name) is not None for name in given)
    listing = arguments.checklist is not None
    recording = arguments.came is not None
    library = context.library(read_only=not (changing or listing or recording))
    if changing:
        tell_exam(library, _exam_given(library, arguments))
    if listing:
        keep_checklist(library, arguments.checklist)
    if arguments.came is not None:
        count = tell_topics(library, arguments.came)
        context.say(f"{counted(count, 'topic')} recorded; export --handover passes them on")
        return 0
    if arguments.card:
        return _write_card(context, library, Path(arguments.card))
    read, typed = evidence_log(library), told_exam(library)
    exam = typed or ExamBlueprint()
    paper = exam_blueprint(library, read)
    if arguments.json:
        context.json(
            {
                "told": typed is not None,
                "questions": exam.questions,
                "minutes": exam.minutes,
                "scheme": exam.scheme,
                "hour": exam.hour.strftime("%H:%M") if exam.hour else None,
                "target": exam.target,
                "sections": [
                    {
                        "subject": read.title(part.subject),
                        "questions": part.questions,
                        "scheme": part.scheme or exam.scheme,
                    }
                    for part in paper.sections
                ],
            }
        )
        return 0
    neutral = "" if typed else " (not set yet: use --questions …)"
    context.say(f"{exam.text}{neutral}")
    context.say(sections_text(read, paper))
    if checklist := exam_morning(library).checklist:
        context.say(f"To take along: {'; '.join(checklist)}")
    return 0


def _write_card(context: Context, library: "Library", path: Path) -> int:
    """The page for the exam's morning."""
    from banks.exporters.exam_card import exam_card, to_bytes
    from banks.exporters.question_rows import write_file
    from banks.views.exam import exam_morning
    from tui.score_words import guessing_words

    morning = exam_morning(library)
    if not morning.is_told:
        context.warn("nothing is set for the exam yet; the card shows a neutral one")
    guessing = guessing_words(morning.break_even, morning.random)
    card = exam_card(morning.exam, morning.day, morning.checklist, guessing)
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
        _target_text(arguments.target),
    ]
    before = told_exam(library)
    exam = parse_exam(", ".join(filter(None, parts)), before) or before or ExamBlueprint()
    if arguments.sections is None:
        # Sections that add up to another number of questions no longer say how the exam is made.
        return exam if arguments.questions is None else replace(exam, sections=())
    sections = parse_sections(evidence_log(library), arguments.sections, for_exam=True)
    return replace(exam, sections=sections, questions=sum(part.questions for part in sections))


def _target_text(given: str | None) -> str:
    """The target as the exam's line has it; "" where none was given."""
    if given is None:
        return ""
    return "no target" if given.casefold() == "none" else f"target {given}"


COMMANDS = [
    Command("exam", "Set how the exam is made and marked.", _exam_options, _exam),
    Command("mock", "Take a mock paper: set it up, answer it, see the results.", _options, _mock),
    Command(
        "paper", "Take a sample paper or a rehearsal with the printed bank.", _paper_options, _paper
    ),
]
