"""Questions that are there twice: exactly, or nearly; with a proposal which of them stays.

Small things make two questions different: a digit, a sign (`J << a`, `J >> a`), a single letter
or numeral (type I, type II), a word that turns the sense (not, except, least). Two questions are
compared only where all of these agree.
"""

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from enum import StrEnum
from itertools import combinations, islice

from msgspec import Struct
from msgspec.structs import replace

from domain.questions import Bank, Question, normal_text

_NEAR = 92.0
"""Likeness from which two stems are nearly the same, in per cent of the longer one."""
MOST_NEAR = 5_000
"""Near pairs that are told; a bank with more is all of one pattern."""
_BLOCK = 40
_RARE = 4
_STEP = 2_000

_TURNING = """
not no non never none neither nor cannot without except excluding but incorrect false untrue true
correct least most more less fewer greater smaller larger higher lower highest lowest maximum
minimum first last before after above below left right increase increased increases decrease
decreased decreases always only all any both either upper male female anterior posterior medial
lateral north south east west hot cold
"""
_TURNS = frozenset(_TURNING.split())
_TOKEN = re.compile(r"\d+|[^\W\d_]+(?:['’]t)?|[^\w\s]|_+")
_PLAIN_SIGNS = frozenset(".,;:?!\"'“”‘’()[]{}-–—…*_")
_NUMERAL = re.compile(r"[ivx]+")


class Likeness(StrEnum):
    """How alike two questions are."""

    EXACT = "exact"
    NEAR = "near"


class Pair(Struct, frozen=True, kw_only=True):
    """Two questions that are perhaps one. Proposal: `keep` stays, `drop` is retired into it.

    `percent` is how alike the stems are. `conflict`: their keys name different texts, so one of
    the two is wrong.
    """

    likeness: Likeness
    keep: Question
    drop: Question
    percent: float
    conflict: bool


class _Folded(Struct, gc=False):
    """A question as it is compared."""

    question: Question
    order: int
    stem: str
    options: tuple[str, ...]
    sense: str
    words: tuple[str, ...]


def find_duplicates(
    bank: Bank,
    responses: Mapping[str, int] | None = None,
    progress: Callable[[float], None] | None = None,
) -> list[Pair]:
    """The pairs of active questions that are exactly or nearly the same, exact ones first.

    `responses`: how often each question id was responded to, to propose the better known one.
    Time grows with the number of questions, not with its square: only questions that share a
    rare word and all that turns the sense are compared, and of a crowd only neighbours.
    """
    folded = [_fold(question, at) for at, question in enumerate(_in_book_order(bank))]
    exact = list(_exact(folded))
    copies = {copy.order for _, copy in exact}
    singles = [entry for entry in folded if entry.order not in copies]
    near = list(islice(_near(singles, progress), MOST_NEAR))
    counts = responses or {}
    pairs = [_pair(Likeness.EXACT, entry, other, 100.0, counts) for entry, other in exact]
    near.sort(key=lambda pair: (-pair[2], pair[0].order))
    return pairs + [_pair(Likeness.NEAR, *pair, counts) for pair in near]


def merge(bank: Bank, pairs: Iterable[Pair]) -> Bank:
    """The bank with each pair's `drop` retired into its `keep`, whose history is then both's.

    What `keep` lacks (explanation, reference, figures) it takes over; tags are joined. A chain
    of pairs ends in one question.
    """
    changed: dict[str, Question] = {}
    into: dict[str, str] = {
        duplicate.id: duplicate.same_as
        for duplicate in bank.questions.values()
        if duplicate.same_as
    }

    def stays(question_id: str) -> str:
        while question_id in into:
            question_id = into[question_id]
        return question_id

    def now(question_id: str) -> Question:
        return changed.get(question_id) or bank.questions[question_id]

    for pair in pairs:
        keep, drop = stays(pair.keep.id), stays(pair.drop.id)
        if keep != drop:
            changed[keep] = _completed(now(keep), now(drop))
            into[drop] = keep
    for duplicate in into:
        changed[duplicate] = replace(now(duplicate), retired=True, same_as=stays(duplicate))
    return bank.with_questions(changed.values())


def _pair_id(folded: _Folded, other: _Folded) -> tuple[int, int]:
    """The same for a pair whichever comes first."""
    return min(folded.order, other.order), max(folded.order, other.order)


def _in_book_order(bank: Bank) -> Iterator[Question]:
    for subject in bank.subjects:
        for chapter in subject.chapters:
            for question in bank.in_chapter(chapter.id):
                if question.stem:
                    yield question


def _fold(question: Question, order: int) -> _Folded:
    stem = normal_text(question.stem).casefold()
    options = sorted(normal_text(option.text).casefold() for option in question.options)
    tokens = _TOKEN.findall(stem)
    sense = [token for token in tokens if _turns(token)] + _short_forms(question.stem)
    for option in options:
        sense += ["|", *filter(_turns, _TOKEN.findall(option))]
    words = [token for token in tokens if len(token) > 3 and token.isalpha()]
    return _Folded(
        question, order, stem, tuple(options), " ".join(sense), tuple(dict.fromkeys(words))
    )


def _short_forms(stem: str) -> list[str]:
    """Abbreviations in capitals (HDL is not VLDL), where the stem is not all in capitals."""
    if stem.isupper():
        return []
    words = [word.casefold() for word in re.findall(r"\b[A-Z]{2,5}\b", stem)]
    return [word for word in words if word not in _TURNS]


def _turns(token: str) -> bool:
    """Whether a token makes another question of an otherwise equal text."""
    if len(token) == 1 and not token.isalnum():
        return token not in _PLAIN_SIGNS
    if token.isdigit() or len(token) == 1 or token in _TURNS or token.endswith(("'t", "’t")):
        return True
    return bool(_NUMERAL.fullmatch(token))


def _exact(folded: Iterable[_Folded]) -> Iterator[tuple[_Folded, _Folded]]:
    """Each later copy beside the first one."""
    first: dict[tuple[str, tuple[str, ...]], _Folded] = {}
    for entry in folded:
        known = first.setdefault((entry.stem, entry.options), entry)
        if known is not entry:
            yield known, entry


def _near(
    folded: list[_Folded], progress: Callable[[float], None] | None
) -> Iterator[tuple[_Folded, _Folded, float]]:
    from rapidfuzz.fuzz import ratio

    seen: set[tuple[int, int]] = set()
    blocks = _blocks(folded)
    for count, block in enumerate(blocks):
        if progress and count % _STEP == 0:
            progress(count / len(blocks))
        for entry, other in _neighbours(block):
            if (name := _pair_id(entry, other)) in seen:
                continue
            seen.add(name)
            percent = ratio(entry.stem, other.stem, score_cutoff=_NEAR)
            if percent and _options_alike(entry, other, ratio):
                yield entry, other, percent


def _options_alike(folded: _Folded, other: _Folded, ratio: Callable[..., float]) -> bool:
    """Whether the options are nearly the same, or one of the two has none."""
    if not folded.options or not other.options:
        return True
    texts = "\n".join(folded.options), "\n".join(other.options)
    return bool(ratio(*texts, score_cutoff=_NEAR))


def _blocks(folded: list[_Folded]) -> list[list[_Folded]]:
    """Questions that agree in all that turns the sense and share one of their rarest words."""
    common = Counter(word for entry in folded for word in entry.words)
    blocks: dict[tuple[str, str], list[_Folded]] = defaultdict(list)
    for entry in folded:
        rarest = sorted(entry.words, key=lambda word: (common[word], word))[: _RARE + 1]
        for word in rarest or ("",):
            blocks[entry.sense, word].append(entry)
    return [block for block in blocks.values() if len(block) > 1]


def _neighbours(block: list[_Folded]) -> Iterator[tuple[_Folded, _Folded]]:
    """All pairs of a block; in a crowded one each with the next ones in alphabetical order."""
    if len(block) <= _BLOCK:
        yield from combinations(block, 2)
        return
    block = sorted(block, key=lambda entry: entry.stem)
    for at, entry in enumerate(block):
        for other in block[at + 1 : at + 1 + _RARE]:
            yield entry, other


def _pair(
    likeness: Likeness,
    entry: _Folded,
    other: _Folded,
    percent: float,
    responses: Mapping[str, int],
) -> Pair:
    def worth(folded: _Folded) -> tuple[int, ...]:
        """A key before none, the longer explanation, the longer history, the earlier place."""
        question = folded.question
        known = responses.get(question.id, 0)
        return bool(question.answer_key), len(question.explanation), known, -folded.order

    keep, drop = sorted((entry, other), key=worth, reverse=True)
    return Pair(
        likeness=likeness,
        keep=keep.question,
        drop=drop.question,
        percent=percent,
        conflict=_keys_differ(keep.question, drop.question),
    )


def _keys_differ(question: Question, other: Question) -> bool:
    return bool(question.answer_key and other.answer_key) and _key_texts(question) != _key_texts(
        other
    )


def _key_texts(question: Question) -> frozenset[str]:
    texts = {option.id: normal_text(option.text).casefold() for option in question.options}
    return frozenset(texts.get(part, part) for part in question.answer_key)


def _completed(keep: Question, drop: Question) -> Question:
    return replace(
        keep,
        explanation=keep.explanation or drop.explanation,
        reference=keep.reference or drop.reference,
        figures=keep.figures or drop.figures,
        tags=tuple(dict.fromkeys(keep.tags + drop.tags)),
    )
