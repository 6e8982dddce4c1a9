"""How long learning from the log, the whole evidence and the choice of a sweep take."""

import random
from datetime import date, timedelta

from domain.chooser import Choosable, Lookahead, Pool, choose
from domain.evidence.memory.learning import learn
from domain.evidence.memory.logistic import fit
from domain.evidence.memory.practice import Practice, Trial, read
from domain.tiers import Judged, TierRules, fold
from domain.verdicts import Confidence, Verdict
from tests.bench.table import Row, milliseconds
from tests.builders import MORNING

QUESTIONS, SUBJECTS, DAYS = 11_000, 21, 180
TODAY = MORNING.date().toordinal() + DAYS
_MOST_TIMES = 5.0
"""What the tier rules may take beside telling the days apart; the former rule took 4.5."""


def rows() -> list[Row]:
    """The figures of the evidence, in milliseconds (median of several runs)."""
    histories = _histories(random.Random(1))
    trials = _read(histories)
    pool = _pool(random.Random(2))
    ahead = Lookahead(fit(trials), TODAY, TODAY + 60)
    rules, days = TierRules(), [history for _, history in histories]
    alone = milliseconds(lambda: [_days_alone(history) for history in days], 5)
    folded = milliseconds(lambda: [fold(history, rules) for history in days], 5)
    return [
        (f"tiers folded anew, {sum(map(len, days)):,} responses", folded, "ms", None),
        ("the same ÷ the days told apart without rules", folded / alone, "×", _MOST_TIMES),
        (f"histories read, {len(trials):,} tries", milliseconds(lambda: _read(histories), 3), "ms",
         None),
        ("memory model learnt and checked on them", milliseconds(lambda: learn(trials), 3), "ms",
         2000),
        ("choice for 30 minutes of 11,000, by the model",
         milliseconds(lambda: choose(pool, 1800, TODAY, ahead), 3), "ms", 100),
        ("choice for 5 hours of 11,000, by the rule",
         milliseconds(lambda: choose(pool, 18_000, TODAY), 3), "ms", 100),
    ]  # fmt: skip


def _days_alone(history: list[Judged]) -> dict[date, bool]:
    """Whether each day had a miss or a doubt: what any rule has to find out first."""
    unclean: dict[date, bool] = {}
    for response in history:
        is_clean = response.verdict is Verdict.RIGHT and response.confidence is Confidence.SURE
        unclean[response.day] = unclean.get(response.day, False) or not is_clean
    return unclean


def _histories(dice: random.Random) -> list[tuple[str, list[Judged]]]:
    return [(f"subject {n % SUBJECTS}", _history(dice)) for n in range(QUESTIONS)]


def _history(dice: random.Random) -> list[Judged]:
    """Three to eight tries on random days, two in three right."""
    days = sorted(dice.sample(range(DAYS), dice.randint(3, 8)))
    return [
        Judged(
            MORNING.date() + timedelta(days=day),
            Verdict.RIGHT if dice.random() < 2 / 3 else Verdict.WRONG,
            Confidence.SURE if dice.random() < 3 / 4 else Confidence.UNSURE,
        )
        for day in days
    ]


def _read(histories: list[tuple[str, list[Judged]]]) -> list[Trial]:
    rules = TierRules()
    return [trial for subject, history in histories for trial in read(subject, history, rules)[0]]


def _pool(dice: random.Random) -> Pool:
    return Pool.of(_choosable(str(n), f"subject {n % SUBJECTS}", dice) for n in range(QUESTIONS))


def _choosable(name: str, subject: str, dice: random.Random) -> Choosable:
    misses, last = dice.randint(0, 4), TODAY - dice.randint(0, 120)
    practice = Practice(
        dice.randint(0, 5), misses, dice.randint(0, 3), dice.random() < 0.5, min(misses, 3),
        last - dice.randint(0, 120), last,
    )  # fmt: skip
    return Choosable(
        question=name, subject=subject, worth=0.04 * dice.random(), seconds=dice.uniform(30, 80),
        since=last, practice=practice, signs=misses, settled=dice.random() < 0.3,
    )  # fmt: skip
