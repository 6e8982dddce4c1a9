import random

import pytest

from domain.sweep import NEXT_SECONDS, Sweepable, choose_sweep, worth_of_time
from domain.tiers import Tier


def _question(name: str, **changes) -> Sweepable:
    usual = {
        "subject": "wind", "tier": Tier.HARD, "missed_days": 1, "chance": 0.5, "mends": 0.5,
        "worth": 0.04, "seconds": 60.0,
    }  # fmt: skip
    return Sweepable(question=name, **(usual | changes))


def _names(picks) -> list[str]:
    return [pick.question for pick in picks]


def test_the_gain_is_the_product_of_miss_mend_and_worth():
    assert _question("a", chance=0.25, mends=0.4, worth=0.1).gain == pytest.approx(0.03)


def test_the_time_is_kept_and_the_most_gaining_are_in():
    pool = [_question(str(n), chance=n / 20) for n in range(20)]

    sweep = choose_sweep(pool, 300)

    assert _names(sweep.picks) == ["0", "1", "2", "3", "4"]
    assert sweep.seconds == 300
    assert sweep.gain == pytest.approx(sum(pick.gain for pick in sweep.picks))


def test_among_equals_the_hardest_come_first():
    pool = [_question(tier.word, tier=tier) for tier in (Tier.HARD, Tier.HARDEST, Tier.HARDER)]

    assert _names(choose_sweep(pool, 120).picks) == ["hardest", "harder"]


def test_of_near_duplicates_only_the_better_is_in():
    pool = [
        _question("plain"),
        _question("twin", duplicates="t"),
        _question("better twin", duplicates="t", chance=0.2),
    ]

    assert set(_names(choose_sweep(pool, 600).picks)) == {"plain", "better twin"}


def test_the_next_ten_minutes_say_what_they_would_add():
    pool = [_question(str(n)) for n in range(30)]

    sweep = choose_sweep(pool, 300)

    assert len(sweep.picks) == 5
    assert len(sweep.more) == NEXT_SECONDS / 60
    assert sweep.more_gain == pytest.approx(10 * pool[0].gain)
    assert not set(_names(sweep.more)) & set(_names(sweep.picks))


def test_no_time_or_nothing_to_gain_gives_no_picks():
    assert choose_sweep([_question("a")], 0).picks == ()
    assert choose_sweep([_question("a", chance=1.0)], 600).picks == ()
    assert choose_sweep([], 600).gain == 0


def test_each_pick_says_why_in_words():
    why = _question("a", tier=Tier.HARDEST, missed_days=3, chance=0.3, mends=0.4).why

    assert why == (
        "hardest, missed on 3 days",
        "70% likely to be missed in the exam",
        "a look mends 40% of such misses",
        "0.011 marks in 60 s",
    )


def test_an_hour_is_worth_most_where_most_is_missed():
    rng = random.Random(4)
    weak = [_question(f"w{n}", chance=rng.uniform(0, 0.4)) for n in range(200)]
    strong = [_question(f"s{n}", subject="maps", chance=rng.uniform(0.6, 1)) for n in range(200)]

    worth = worth_of_time(weak + strong, 3600)

    assert worth["wind"] > 2 * worth["maps"] > 0
