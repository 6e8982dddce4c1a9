"""The tier rules, by worked tables and by properties."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from domain.tiers import HandSet, Judged, Tier, TierRules, fold, trail
from domain.verdicts import Confidence, Verdict

RULES = TierRules()
FIRST = date(2026, 1, 1)
MARKS = {
    "r": (Verdict.RIGHT, Confidence.SURE),
    "u": (Verdict.RIGHT, Confidence.UNSURE),
    "g": (Verdict.RIGHT, Confidence.GUESS),
    "w": (Verdict.WRONG, Confidence.SURE),
    "b": (Verdict.BLANK, Confidence.SURE),
}


def history(text: str) -> list[Judged]:
    """A day a word, a response a letter; "-" is a day without any."""
    return [
        Judged(FIRST + timedelta(days=day), *MARKS[letter])
        for day, word in enumerate(text.split())
        for letter in word
        if letter != "-"
    ]


@pytest.mark.parametrize(
    ("text", "tier"),
    [
        ("", Tier.UNTRIED),
        ("r", Tier.CLEAR),
        ("u", Tier.HARD),
        ("g", Tier.HARD),
        ("w", Tier.HARD),
        ("b", Tier.HARD),
        ("r r r", Tier.CLEAR),
        ("r u", Tier.HARD),
        ("r w", Tier.HARD),
        ("w w", Tier.HARDER),
        ("w w w", Tier.HARDEST),
        ("w w w w", Tier.HARDEST),
        ("www", Tier.HARD),  # one step a day, however often it is missed
        ("wr", Tier.HARD),  # a later right does not mend the day
        ("rw", Tier.HARD),
        ("w u", Tier.HARD),
        ("w r", Tier.HARD),
        ("w r r", Tier.CLEAR),
        ("w r u r", Tier.HARD),  # a doubt starts the count again
        ("w r u r r", Tier.CLEAR),
        ("w w r r", Tier.HARDER),
        ("w w r r r", Tier.HARD),
        ("w w w r r r", Tier.HARDEST),  # too close together: only two of three count
        ("w w w r - r - r", Tier.HARDER),
        ("w w w r r - r r - r", Tier.HARDER),
        ("w w r r w", Tier.HARDEST),
    ],
)
def test_a_history_leads_to_its_tier(text: str, tier: Tier) -> None:
    assert fold(history(text), RULES).tier is tier


def test_the_counts_behind_a_standing_are_days_not_responses() -> None:
    standing = fold(history("ww r - wr u"), RULES)

    assert (standing.missed_days, standing.clean_days, standing.days) == (2, 1, 4)
    assert standing.last == FIRST + timedelta(days=4)


def test_a_miss_in_hardest_still_grows_its_count() -> None:
    assert fold(history("w w w w w"), RULES).missed_days == 5


def test_the_trail_says_in_words_what_each_day_did() -> None:
    steps = trail(history("w w r r r"), RULES)

    assert [step.why for step in steps] == [
        "missed: up to hard",
        "missed: up to harder",
        "clean 1 of 3",
        "clean 2 of 3",
        "clean 3 of 3: released to hard",
    ]
    assert [(step.before, step.after) for step in steps][-1] == (Tier.HARDER, Tier.HARD)


def test_the_fold_goes_on_from_a_tier_set_by_hand() -> None:
    by_hand = HandSet(FIRST + timedelta(days=1), Tier.HARDEST, "muddled the whole family")
    after = Judged(FIRST + timedelta(days=2), Verdict.WRONG, Confidence.SURE)

    assert fold([*history("r"), by_hand], RULES).tier is Tier.HARDEST
    assert fold([*history("r"), by_hand, after], RULES).tier is Tier.HARDEST
    assert "muddled" in trail([*history("r"), by_hand], RULES)[-1].why


def test_a_clock_set_back_does_not_make_a_day_come_twice() -> None:
    late, early = FIRST + timedelta(days=1), FIRST
    days = [Judged(day, Verdict.WRONG, Confidence.SURE) for day in (late, early, late)]

    assert fold(days, RULES).tier is Tier.HARD


def test_rules_that_get_easier_higher_up_are_refused_in_words() -> None:
    assert TierRules(release=(3, 2, 3)).problems() == [
        "release must not get easier higher up: hard ≤ harder ≤ hardest"
    ]
    assert RULES.problems() == []


# Published rule: three correct recalls in spaced sessions before an item is dropped.
# K. A. Rawson and J. Dunlosky, JEP: General 140 (2011), 283-302 (read from memory).
def test_hardest_is_released_after_three_spaced_successes() -> None:
    assert RULES.release[2] == 3
    assert RULES.spacing[2] >= 2
    assert fold(history("w w w r - r - r"), RULES).tier is Tier.HARDER
    assert fold(history("w w w r - r - -"), RULES).tier is Tier.HARDEST


days = st.lists(
    st.tuples(
        st.integers(0, 40),
        st.sampled_from(sorted(MARKS)),
    ),
    max_size=60,
).map(
    lambda found: [
        Judged(FIRST + timedelta(days=day), *MARKS[letter]) for day, letter in sorted(found)
    ]
)


@given(days)
def test_there_is_at_most_one_step_a_day(found: list[Judged]) -> None:
    steps = trail(found, RULES)

    assert len({step.day for step in steps}) == len(steps)
    for step in steps:
        assert abs(max(step.after, Tier.CLEAR) - max(step.before, Tier.CLEAR)) <= 1


@given(days)
def test_a_clean_day_never_promotes_and_a_miss_never_lowers(found: list[Judged]) -> None:
    worst = {}
    for response in found:
        is_miss = response.verdict is not Verdict.RIGHT
        is_doubt = response.confidence is not Confidence.SURE
        worst[response.day] = max(worst.get(response.day, 0), 2 if is_miss else int(is_doubt))
    for step in trail(found, RULES):
        before, after = max(step.before, Tier.CLEAR), max(step.after, Tier.CLEAR)
        if worst[step.day] == 0:
            assert after <= before
        if worst[step.day] == 2:
            assert after == min(before + 1, Tier.HARDEST)


@given(days)
def test_the_trail_ends_where_the_fold_does(found: list[Judged]) -> None:
    steps = trail(found, RULES)
    standing = fold(found, RULES)

    assert standing.tier is (steps[-1].after if steps else Tier.UNTRIED)
    assert standing.days == len(steps)


@given(days, st.integers(1, 5))
def test_a_longer_way_out_never_leaves_a_question_lower(found: list[Judged], more: int) -> None:
    stricter = TierRules(release=tuple(days + more for days in RULES.release))

    assert fold(found, stricter).tier >= fold(found, RULES).tier


@pytest.mark.parametrize(
    ("before", "after", "counts"),
    [("w", "w", (1, 0, 1)), ("r", "w", (1, 0, 1)), ("w", "r", (1, 0, 1)), ("r", "r", (0, 1, 1)),
     ("u", "r", (0, 0, 1)), ("r", "u", (0, 0, 1))],
)  # fmt: skip
def test_a_day_that_a_hand_set_tier_splits_counts_once_as_its_worse_part(
    before: str, after: str, counts: tuple[int, int, int]
) -> None:
    by_hand = HandSet(FIRST, Tier.HARDEST, "a trap")
    standing = fold([*history(before), by_hand, *history(after)], RULES)

    assert (standing.missed_days, standing.clean_days, standing.days) == counts
