"""Banks made by hypothesis, and what their questions should look like when read back."""

from hypothesis import strategies as st

from banks.exporters.question_rows import LocatedQuestion, book_order
from banks.importers.common import Draft, DraftOption
from domain.questions import (
    LETTERS,
    Bank,
    Chapter,
    Kind,
    Option,
    Question,
    Subject,
    normal_text,
)
from domain.text import tidy

_SIGNS = "aeB7 \n\t,;|\"'=+-@<>&[]{}()#*_`\\/:.?\u00a0\u0085\u2028éβ漢😀₂𝛼"
texts = st.text(st.sampled_from(_SIGNS), max_size=24).map(tidy)
sayings = texts.filter(bool)
titles = sayings.map(lambda text: " ".join(text.split())).filter(bool)
marks = st.floats(-5, 5, allow_nan=False).map(lambda mark: round(mark, 3))


@st.composite
def _choices(draw: st.DrawFn, kind: Kind) -> dict:
    count = 2 if kind is Kind.TRUE_FALSE else draw(st.integers(2, 8))
    distinct = st.lists(sayings, min_size=count, max_size=count, unique_by=normal_text)
    options = tuple(
        Option(letter, text, fixed=draw(st.booleans()), explanation=draw(texts))
        for letter, text in zip(LETTERS, draw(distinct), strict=False)
    )
    letters = [option.id for option in options]
    most = 1 if kind is Kind.TRUE_FALSE else count
    key = draw(st.lists(st.sampled_from(letters), max_size=most, unique=True).map(sorted))
    credit = draw(st.dictionaries(st.sampled_from(letters), marks, max_size=3))
    if not key or set(credit.values()) == {1.0}:  # says the key, or no more than the key does
        credit = {}
    return {
        "options": options,
        "answer_key": tuple(key),
        "credit": credit,
        "shuffle": draw(st.booleans()),
    }


@st.composite
def _full(draw: st.DrawFn) -> dict:
    kind = draw(st.sampled_from(list(Kind)))
    common = {
        "kind": kind,
        "stem": draw(sayings),
        "explanation": draw(texts),
        "reference": draw(texts),
        "tags": tuple(
            draw(st.lists(st.sampled_from(["wind", "β blocker", "to ask"]), unique=True))
        ),
    }
    if kind is Kind.TEXT:
        key = draw(st.lists(sayings, min_size=1, max_size=3, unique=True))
        return common | {"answer_key": tuple(key)}
    if kind is Kind.NUMERIC:
        key = draw(st.decimals(-1000, 1000, places=2, allow_nan=False))
        return common | {"answer_key": (str(key),), "tolerance": abs(draw(marks))}
    return common | draw(_choices(kind))


_keyed = st.builds(
    lambda letters, kind: {"answer_key": tuple(sorted(letters)), "kind": kind},
    st.sets(st.sampled_from("abcd"), min_size=1),
    st.sampled_from([Kind.BEST, Kind.MULTIPLE]),
)
_bare = st.just({})


@st.composite
def banks(draw: st.DrawFn) -> Bank:
    """A bank of one or two subjects, with full, keyed and bare questions."""
    subjects, questions = [], {}
    for subject in draw(st.lists(titles, min_size=1, max_size=2, unique=True)):
        chapters = []
        for chapter in draw(st.lists(titles, min_size=1, max_size=2, unique=True)):
            place = f"c{len(subjects)}-{len(chapters)}"
            chapters.append(Chapter(place, chapter))
            numbers = draw(st.sets(st.integers(1, 999), min_size=1, max_size=2))
            for number in sorted(numbers):
                held = draw(st.one_of(_full(), _keyed, _bare))
                question = Question(id=f"b/{place}/{number}", chapter=place, number=number, **held)
                questions[question.id] = question
        subjects.append(Subject(f"s{len(subjects)}", subject, tuple(chapters)))
    return Bank(id="b", title=draw(titles), subjects=tuple(subjects), questions=questions)


def as_draft(placed: LocatedQuestion) -> Draft:
    """What an importer should make of the question (the line apart)."""
    question = placed.question
    places = {option.id: place for place, option in enumerate(question.options)}
    return Draft(
        line=0,
        subject=placed.subject.title,
        chapter=placed.chapter.title,
        number=question.number,
        kind=question.kind,
        stem=question.stem,
        options=tuple(DraftOption(o.text, o.fixed, o.explanation) for o in question.options),
        key=tuple(places.get(key, key) for key in question.answer_key),
        tolerance=question.tolerance,
        explanation=question.explanation,
        reference=question.reference,
        tags=question.tags,
        credit=tuple(sorted((places[key], mark) for key, mark in question.credit.items())),
        shuffle=question.shuffle,
    )


def expected(bank: Bank) -> list[Draft]:
    """All of the bank's living questions as drafts, in the order of the book."""
    return [as_draft(placed) for placed in book_order(bank)]


def found(drafts: list[Draft]) -> list[Draft]:
    """Drafts without what a file adds: lines, and the order of credits."""
    for draft in drafts:
        draft.line, draft.credit = 0, tuple(sorted(draft.credit))
    return drafts
