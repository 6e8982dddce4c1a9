"""The day's pass: the questions for minutes that no visit needs, chosen on its morning.

What is answered on the day itself doesn't change the choice, but for what a paper asks; nothing
does once the pass has begun.
"""

from msgspec import Struct
from msgspec.structs import astuple, replace

from banks.library import Library
from banks.planning.visits import (
    ChosenPass,
    asked_in_papers,
    chosen_pass,
    keep_chosen,
    pass_begun_on,
)
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import evidence_log
from banks.views.open_sittings import open_sittings
from banks.views.sweeping import candidates, choose_distinct, lookahead
from domain.chooser import Choice, Pool, VisitsAhead, choose
from domain.plan.answer_days import visits_ahead
from domain.plan.inputs import ONE_DAY
from domain.plan.study_plan import PassKind, PlanEntry
from domain.responses import Purpose, Reason
from domain.tiers import is_waiting

MOST_SURE_AND_WRONG = 60
"""Questions of the pass over what was sure and wrong or mixed up."""


class PassRequest(Struct, frozen=True):
    """What a pass is chosen for: its kind, its minutes and what is left to visits."""

    kind: PassKind
    minutes: float
    visits: VisitsAhead


def pass_of(
    library: Library, workload: PlanWorkload, entry: PlanEntry, *, may_choose: bool = True
) -> ChosenPass | None:
    """What the pass of today holds; the list on record once it was begun.

    None where it is still to be chosen and that is not wanted now: it takes a second or two.
    """
    today, chosen = workload.today, chosen_pass(library, workload.today)
    if begun := pass_begun_on(library, today):
        if chosen is not None and chosen.questions == begun.questions:
            return chosen
        minutes = len(begun.questions) * workload.inputs.seconds / 60
        return ChosenPass(day=today, made_from=(), questions=begun.questions, minutes=minutes)
    plan, progress = workload.plan(), workload.progress(today)
    request = PassRequest(
        entry.pass_kind or PassKind.WORTH,
        entry.minutes,
        visits_ahead(plan, progress, today),
    )
    in_papers = asked_in_papers(library, today)
    made_from = (
        request.kind.value, f"{request.minutes:g}", str(workload.tried), str(len(in_papers)),
        *(" ".join(sorted(subjects)) for subjects in astuple(request.visits)),
        *(bank.id for bank in workload.banks),
    )  # fmt: skip
    if chosen is None or chosen.made_from != made_from:
        if not may_choose:
            return None
        chosen = replace(_chosen(library, workload, request, in_papers), made_from=made_from)
        keep_chosen(library, chosen)
    return chosen


def _chosen(
    library: Library, workload: PlanWorkload, request: PassRequest, in_papers: frozenset[str]
) -> ChosenPass:
    read = evidence_log(library)
    today = workload.today.toordinal()
    ahead = lookahead(library, read)
    left_out = in_papers | _on_open_sheets(library)
    pool = candidates(library, read, this_morning=True).only(
        lambda question, subject: subject in workload.locations and question not in left_out
    )
    most = MOST_SURE_AND_WRONG if request.kind is PassKind.SURE_AND_WRONG else None
    waiting_since = _waiting_since(library, workload) if request.kind is PassKind.WAITING else 0

    def chosen_from(pool: Pool, most: int | None) -> Choice:
        return choose_distinct(
            library,
            pool,
            lambda distinct: choose(
                distinct,
                request.minutes * 60,
                today,
                ahead,
                request.visits,
                waiting_since,
                most=most,
            ),
        )

    choice = chosen_from(_sure_and_wrong(library, workload, pool) if most else pool, most)
    if most and not choice.picks:
        choice = chosen_from(pool, None)
    return ChosenPass(
        day=workload.today,
        made_from=(),
        questions=tuple(pick.question for pick in choice.picks),
        minutes=choice.seconds / 60,
        waiting=sum(_is_waiting(library, workload, pick.question) for pick in choice.picks),
        gain=choice.gain,
        left_out=choice.left_out,
    )


def _waiting_since(library: Library, workload: PlanWorkload) -> int:
    """What was last tried by this day (an ordinal) waits on the eve of the exam."""
    eve = workload.plan().exam - ONE_DAY
    return eve.toordinal() - library.history.rules.waiting_days


def _sure_and_wrong(library: Library, workload: PlanWorkload, pool: Pool) -> Pool:
    library.history.read_all()
    return pool.where(~pool.settled).only(
        lambda question, _: _was_sure_or_mixed_up(library, workload, question)
    )


def _is_waiting(library: Library, workload: PlanWorkload, question: str) -> bool:
    history = library.history
    standing = history.standing_before(question, workload.today)
    return is_waiting(standing, workload.today, history.rules.waiting_days)


def _was_sure_or_mixed_up(library: Library, workload: PlanWorkload, question: str) -> bool:
    history = library.history
    return any(
        history.is_sure_miss(response) or history.reason(response) is Reason.MIXED_UP
        for response in history.responses(question)
        if history.day(response.at) < workload.today
    )


def _on_open_sheets(library: Library) -> set[str]:
    """What waits on a printed pass to be entered."""
    sheets = (
        library.sitting(left.id).opened
        for left in open_sittings(library)
        if left.is_sheet and left.purpose is Purpose.PASS
    )
    return {question for opened in sheets for question in opened.questions}
