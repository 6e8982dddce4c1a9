"""The day's pass: the questions for minutes that no visit needs, chosen on its morning.

What is answered on the day itself doesn't change the choice, nor does it once the pass has begun.
"""

from msgspec import Struct
from msgspec.structs import replace

from banks.library import Library
from banks.planning.visits import ChosenPass, chosen_pass, keep_chosen, pass_begun_on
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import evidence_log
from banks.views.open_sittings import open_sittings
from banks.views.sweeping import candidates, choose_distinct, lookahead
from domain.chooser import Choice, Pool, choose
from domain.plan.study_plan import PassKind, PlanEntry, closed_to_passes
from domain.responses import Purpose, Reason
from domain.tiers import is_waiting

MOST_SURE_AND_WRONG = 60
"""Questions of the pass over what was sure and wrong or mixed up."""


class PassRequest(Struct, frozen=True):
    """What a pass is chosen for: its kind, its minutes and the subjects that take none."""

    kind: PassKind
    minutes: float
    closed: frozenset[str]


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
        closed_to_passes(plan, progress, today),
    )
    made_from = (
        request.kind.value, f"{request.minutes:g}", str(workload.tried), *sorted(request.closed),
        *(bank.id for bank in workload.banks),
    )  # fmt: skip
    if chosen is None or chosen.made_from != made_from:
        if not may_choose:
            return None
        chosen = replace(_chosen(library, workload, request), made_from=made_from)
        keep_chosen(library, chosen)
    return chosen


def _chosen(library: Library, workload: PlanWorkload, request: PassRequest) -> ChosenPass:
    read = evidence_log(library)
    today = workload.today.toordinal()
    ahead = lookahead(library, read)
    printed = _on_open_sheets(library)
    pool = candidates(library, read, this_morning=True).only(
        lambda question, subject: subject in workload.locations and question not in printed
    )
    most = MOST_SURE_AND_WRONG if request.kind is PassKind.SURE_AND_WRONG else None

    def chosen_from(pool: Pool, most: int | None) -> Choice:
        return choose_distinct(
            library,
            pool,
            lambda distinct: choose(
                distinct, request.minutes * 60, today, ahead, request.closed, most=most
            ),
        )

    choice = chosen_from(_of_kind(library, workload, pool, request.kind), most)
    if not choice.picks and request.kind is not PassKind.WORTH:
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


def _of_kind(library: Library, workload: PlanWorkload, pool: Pool, kind: PassKind) -> Pool:
    match kind:
        case PassKind.WAITING:
            return pool.only(lambda question, _: _is_waiting(library, workload, question))
        case PassKind.SURE_AND_WRONG:
            library.history.read_all()
            return pool.where(~pool.settled).only(
                lambda question, _: _was_sure_or_mixed_up(library, workload, question)
            )
        case _:
            return pool


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
