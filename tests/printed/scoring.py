"""How well a page was read: complete with its key, told, or wrong and not told."""

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher

from banks.importers.common import Draft, Parsed
from tests.printed.generator import Noise, Page, Truth


@dataclass
class Score:
    """Counts of questions. `wrong` names those that are wrong and not told."""

    questions: int = 0
    complete: int = 0
    flagged: int = 0
    plausible: int = 0
    wrong: list[str] = field(default_factory=list)

    def add(self, other: "Score") -> None:
        """Add another page's counts."""
        self.questions += other.questions
        self.complete += other.complete
        self.flagged += other.flagged
        self.plausible += other.plausible
        self.wrong += other.wrong


def score(
    page: Page,
    parsed: Parsed,
    *,
    only_keys: bool = False,
    misread: bool = False,
    noise: Sequence[Noise] = (),
) -> Score:
    """Compare what was read with the truth. `only_keys`: texts may have changed by noise.

    Where `noise` changed a sign in a question's own lines or on a line of a table that names it,
    a wrong key may be what the page now says: it is counted apart, as plausible.

    `misread`: the whole file was refused, which tells every question.
    """
    result = Score(questions=len(page.truths))
    if misread:
        result.flagged = result.questions
        return result
    by_name: dict[tuple[int | None, str], list[Draft]] = {}
    for draft in parsed.drafts:
        by_name.setdefault((None if draft.code else draft.number, draft.code), []).append(draft)
    known = Counter((truth.number, truth.code) for truth in page.truths)
    for truth, draft in _counterparts(page.truths, by_name):
        before = len(result.wrong)
        _judge(truth, draft, result, only_keys)
        if draft is not None and len(result.wrong) > before and _is_touched(draft, parsed, noise):
            result.wrong.pop()
            result.plausible += 1
    surplus = sum(len(drafts) for drafts in by_name.values()) - sum(
        min(len(by_name.get(name, [])), count) for name, count in known.items()
    )
    if surplus > 0 and not only_keys:
        junk = [
            draft
            for name, drafts in by_name.items()
            for draft in drafts[known.get(name, 0) :]
            if not draft.to_check
        ]
        result.wrong += [
            f"question {draft.number} that is none: {draft.stem[:50]}" for draft in junk
        ]
    return result


def _counterparts(
    truths: Sequence[Truth], by_name: dict[tuple[int | None, str], list[Draft]]
) -> Iterator[tuple[Truth, Draft | None]]:
    """Each question with the draft of its number; None where there is none.

    They follow one another as printed; where one is missing, the stems tell which.
    """
    alike: dict[tuple[int | None, str], list[Truth]] = {}
    for truth in truths:
        alike.setdefault((truth.number, truth.code), []).append(truth)
    for name, several in alike.items():
        drafts = by_name.get(name, [])
        if len(drafts) >= len(several):
            yield from zip(several, drafts, strict=False)
            continue
        taken: dict[int, Draft] = {}
        for draft in drafts:
            likes = [SequenceMatcher(None, draft.stem, each.stem).ratio() for each in several]
            taken.setdefault(likes.index(max(likes)), draft)
        yield from ((truth, taken.get(at)) for at, truth in enumerate(several))


def _is_touched(draft: Draft, parsed: Parsed, noise: Sequence[Noise]) -> bool:
    later = [each.line for each in parsed.drafts if each.line > draft.line]
    end = min(later, default=1 << 60)
    name = re.compile(rf"(?<!\d){draft.number}(?!\d)")
    return any(
        draft.line <= each.line < end or name.search(each.before) or name.search(each.after)
        for each in noise
    )


def _judge(truth: Truth, draft: Draft | None, result: Score, only_keys: bool) -> None:
    if draft is None:
        result.flagged += 1
        return
    wrong = _difference(truth, draft, only_keys)
    is_keyless = not draft.key
    if not wrong and not is_keyless:
        result.complete += 1
    elif draft.to_check or not wrong or (is_keyless and wrong.startswith("key")):
        result.flagged += 1  # a question without a key is told as such
    else:
        result.wrong.append(f"{truth.number or truth.code}: {wrong}")


def _difference(truth: Truth, draft: Draft, only_keys: bool) -> str:
    if tuple(draft.key) != tuple(truth.answer_key):
        return f"key {draft.key} for {truth.answer_key}"
    if only_keys:
        return ""
    options = [_flat(option.text) for option in draft.options]
    if options != [_flat(option) for option in truth.options]:
        return f"options {options} for {truth.options}"
    stem = f"{truth.shared} {truth.stem}" if truth.shared else truth.stem
    if _flat(draft.stem) != _flat(stem):
        return f"stem {draft.stem!r} for {stem!r}"
    return ""


def _flat(text: str) -> str:
    # A word that the printer broke and that stands nowhere else in one piece keeps its hyphen.
    return re.sub(r"\s+", "", text).replace("-", "")
