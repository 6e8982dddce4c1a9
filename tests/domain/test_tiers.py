"""The tier rules: worked tables, an independent reading of them, and properties."""

import random
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from domain.tiers import (
    Counts,
    DayKind,
    HandSet,
    Judged,
    Standing,
    Tier,
    TierRules,
    fold,
    is_waiting,
    trail,
    translated,
    waiting_mornings,
)
from domain.verdicts import Confidence, Verdict

RULES = TierRules()
STRICT = TierRules(strict=True)
FIRST = date(2026, 1, 1)
MARKS = {
    "r": (Verdict.RIGHT, Confidence.SURE),
    "u": (Verdict.RIGHT, Confidence.UNSURE),
    "g": (Verdict.RIGHT, Confidence.GUESS),
    "w": (Verdict.WRONG, Confidence.SURE),
    "b": (Verdict.BLANK, Confidence.SURE),
}
TIERS = {"U": Tier.UNTRIED, "C": Tier.CLEAR, "1": Tier.HARD, "2": Tier.HARDER, "3": Tier.HARDEST}
Event = Judged | HandSet


def history(text: str) -> list[Event]:
    """A word per study day, a letter per response; C 1 2 3 set a tier by hand, "-" is empty.

    A number with a plus is so many empty days: "w +6 r".
    """
    day, events = FIRST, list[Event]()
    for word in text.split():
        if word.startswith("+"):
            day += timedelta(days=int(word))
            continue
        for letter in word.replace("-", ""):
            is_by_hand = letter in TIERS
            events.append(
                HandSet(day, TIERS[letter], "so") if is_by_hand else Judged(day, *MARKS[letter])
            )
        day += timedelta(days=1)
    return events


def after(text: str, rules: TierRules = RULES) -> Standing:
    return fold(history(text), rules)


@pytest.mark.parametrize(
    ("text", "tier", "signs", "settled"),
    [
        ("", Tier.UNTRIED, 0, False),
        ("r", Tier.CLEAR, 0, False),
        ("r r", Tier.CLEAR, 0, False),  # less than 3 days apart
        ("r +2 r", Tier.CLEAR, 0, True),  # without signs: the proof of hard
        ("u", Tier.HARD, 1, False),
        ("g", Tier.HARD, 1, False),
        ("w", Tier.HARD, 1, False),
        ("b", Tier.HARD, 1, False),
        ("www", Tier.HARD, 1, False),  # one sign per day, however often it is missed
        ("wr", Tier.HARD, 1, False),  # a later right does not mend the day
        ("rw", Tier.HARD, 1, False),
        ("w u", Tier.HARD, 1, False),  # a doubt adds a sign only where there is none
        ("u u u", Tier.HARD, 1, False),
        ("u w", Tier.HARDER, 2, False),
        ("w w", Tier.HARDER, 2, False),
        ("w w w", Tier.HARDEST, 3, False),
        ("w w w w", Tier.HARDEST, 4, False),
        ("w r", Tier.HARD, 1, False),
        ("w r r r", Tier.HARD, 1, False),  # 2 days apart at most
        ("w r +2 r", Tier.CLEAR, 1, True),
        ("w r r r r", Tier.CLEAR, 1, True),  # the fourth is 3 days after the first
        ("w r u +2 r", Tier.HARD, 1, False),  # a doubt starts the proof again
        ("w r u +2 r +2 r", Tier.CLEAR, 1, True),
        ("w r w +2 r", Tier.HARDER, 2, False),  # so does a miss
        ("w w r +6 r", Tier.CLEAR, 2, True),
        ("w w r +5 r", Tier.HARDER, 2, False),
        ("w w w r +6 r", Tier.HARDEST, 3, False),
        ("w w w r +6 r +6 r", Tier.CLEAR, 3, True),
        ("w w w r +6 r r +6 r", Tier.CLEAR, 3, True),
        ("w w w r +6 r +5 r", Tier.HARDEST, 3, False),
        ("w r +2 r w", Tier.HARDER, 2, False),  # settled, then missed: one sign higher
        ("w w r +6 r u", Tier.HARDER, 2, False),  # settled, then a doubt: at the signs it has
        ("r +2 r u", Tier.HARD, 1, False),
        ("w r +2 r r r", Tier.CLEAR, 1, True),
        ("w w w C", Tier.CLEAR, 0, False),
        ("w C w", Tier.HARD, 1, False),
        ("r 3", Tier.HARDEST, 3, False),
        ("3 r +6 r +6 r", Tier.CLEAR, 3, True),
        ("3 w", Tier.HARDEST, 4, False),
        ("2 u", Tier.HARDER, 2, False),
        ("w r 1 +2 r", Tier.HARD, 1, False),  # setting it by hand starts the proof
        ("r C +2 r", Tier.CLEAR, 0, False),
        ("r +2 r C", Tier.CLEAR, 0, False),
        ("w1w", Tier.HARDER, 2, False),  # it splits its day in two
        ("wCw", Tier.HARD, 1, False),
        ("wC", Tier.CLEAR, 0, False),
        ("Cw", Tier.HARD, 1, False),
        ("r1r +2 r", Tier.CLEAR, 1, True),  # the clean part after it counts as a day
        ("C", Tier.CLEAR, 0, False),
        ("w w U", Tier.UNTRIED, 0, False),
        ("w U r", Tier.CLEAR, 0, False),
    ],
)
def test_a_history_leads_to_its_standing(text: str, tier: Tier, signs: int, settled: bool) -> None:
    standing = after(text)

    assert (standing.tier, standing.signs, standing.settled) == (tier, signs, settled)
    assert standing.open is (tier > Tier.CLEAR)


@pytest.mark.parametrize(
    ("text", "settled"),
    [
        ("r +2 r", False),
        ("r +2 r +2 r", True),
        ("w r +2 r", False),
        ("w r +2 r +2 r", True),
        ("w w r +6 r", False),
        ("w w r +6 r +6 r", True),
        ("w w w r +6 r +6 r", False),
        ("w w w r +6 r +6 r +6 r", True),
    ],
)
def test_strict_asks_for_one_clean_day_more(text: str, settled: bool) -> None:
    assert after(text, STRICT).settled is settled


@pytest.mark.parametrize("text", ["w r +4 w r r", "w w r +4 w r +3 r +6 r", "1 r +3 2 r +5 r"])
def test_what_counted_before_a_sign_says_nothing_of_the_gap_after_it(text: str) -> None:
    """A clean day counts right after the sign, however near the one that counted before it."""
    events = history(text)
    last_sign = max(
        place
        for place, event in enumerate(events)
        if isinstance(event, HandSet) or event.verdict is not Verdict.RIGHT
    )
    clean = fold(events[: last_sign + 2], RULES)

    assert clean.proof == 1


def test_the_counts_behind_a_standing_are_days_not_responses() -> None:
    standing = after("ww r - wr u")

    assert (standing.missed_days, standing.clean_days, standing.days) == (2, 1, 4)
    assert standing.last == FIRST + timedelta(days=4)
    assert standing.sign_days == (FIRST, FIRST + timedelta(days=3))


def test_the_next_clean_day_counts_from_a_known_day() -> None:
    assert after("w w").next_counts_from is None
    assert after("w w r").next_counts_from == FIRST + timedelta(days=2 + 7)
    assert after("r").next_counts_from == FIRST + timedelta(days=3)
    assert after("w w r u").next_counts_from is None
    assert after("r +2 r").next_counts_from is None


@pytest.mark.parametrize(("part", "counts"), [
    ("w1w", (2, 0, 2)), ("r1w", (1, 1, 2)), ("w1r", (1, 1, 2)), ("r1r", (0, 2, 2)),
    ("u1r", (0, 1, 2)), ("w1", (1, 0, 1)), ("1", (0, 0, 0)),
])  # fmt: skip
def test_a_day_that_a_hand_set_tier_splits_counts_as_two(
    part: str, counts: tuple[int, int, int]
) -> None:
    standing = after(part)

    assert (standing.missed_days, standing.clean_days, standing.days) == counts


def test_an_unsure_right_may_be_set_to_leave_no_first_sign() -> None:
    lenient = TierRules(unsure_signs=False)

    assert after("u", lenient) == Standing(Tier.CLEAR, days=1, last=FIRST)
    assert after("r +2 ru +2 r", lenient).settled is False
    assert after("w r +2 r u", lenient).tier is Tier.HARD


def test_a_clock_set_back_does_not_make_a_day_come_twice() -> None:
    late, early = FIRST + timedelta(days=1), FIRST
    wrong = [Judged(day, Verdict.WRONG, Confidence.SURE) for day in (late, early, late)]

    assert fold(wrong, RULES).signs == 1
    assert fold([HandSet(late, Tier.HARD, "so"), *wrong[1:]], RULES).last == late
    assert fold([wrong[0], HandSet(early, Tier.HARD, "so")], RULES).sign_days == (late,)


@pytest.mark.parametrize(
    ("text", "days_later", "waiting"),
    [("r", 59, False), ("r", 60, True), ("w w", 60, True), ("r +2 r", 90, False), ("", 90, False),
     ("3", 90, False)],
)  # fmt: skip
def test_waiting_is_tried_not_settled_and_long_unseen(
    text: str, days_later: int, waiting: bool
) -> None:
    standing = after(text)
    today = (standing.last or FIRST) + timedelta(days=days_later)

    assert is_waiting(standing, today, RULES.waiting_days) is waiting


def test_a_tier_set_by_hand_is_no_try() -> None:
    """Whoever waits still waits."""
    today = FIRST + timedelta(days=60)

    assert is_waiting(after("w +58 3"), today, 60)
    assert after("w +58 3").last == FIRST


def test_mornings_are_waiting_ones_where_the_standing_before_them_was() -> None:
    """Each once, and also that of the very day on which the question is tried again."""
    exact = 0
    for seed in range(100):
        dice = random.Random(seed)
        events, rules = random_history(dice), replace(random_rules(dice), waiting_days=7)
        waiting, end = list[date](), (events[-1].day if events else FIRST) + timedelta(days=20)
        for first, last in waiting_mornings(events, rules):
            exact += first == last
            waiting += _mornings(first, last or end)
        expected = [
            morning
            for morning in _mornings(FIRST, end)
            if is_waiting(fold([e for e in events if e.day < morning], rules), morning, 7)
        ]
        assert waiting == expected, (seed, events, rules)
    assert exact > 0


def _mornings(first: date, last: date) -> Iterator[date]:
    return (first + timedelta(days=n) for n in range((last - first).days + 1))


def test_rules_that_cannot_be_used_are_refused_in_words() -> None:
    assert RULES.problems() == STRICT.problems() == []
    assert TierRules(proof=(3, 2, 3)).problems() == [
        "clean days must not get fewer higher up: hard ≤ harder ≤ hardest"
    ]
    assert TierRules(gaps=(0, 7, 70)).problems() == [
        "days between clean days in hard: 1 to 60, not 0",
        "days between clean days in hardest: 1 to 60, not 70",
    ]
    assert TierRules(waiting_days=44).problems() == ["waiting begins after 45 to 90 days, not 44"]
    assert TierRules(proof=(0, 20, 21)).problems() == [
        "clean days that settle hard: 1 to 20, not 0",
        "clean days that settle hardest: 1 to 20, not 21",
    ]
    assert [len(TierRules(waiting_days=days).problems()) for days in (45, 90, 91)] == [0, 0, 1]
    assert TierRules(proof=(1, 20, 20), gaps=(1, 60, 60)).problems() == []
    assert len(TierRules(gaps=(1, 60, 61)).problems()) == 1


@pytest.mark.parametrize(
    ("former", "is_strict"),
    [
        ({}, False),
        ({"release": [2, 3, 3], "spacing": [1, 1, 2]}, False),  # what they were by default
        ({"release": [3, 3, 3]}, True),
        ({"release": [2, 4, 3]}, True),
        ({"release": [2, 3, 4]}, True),
        ({"spacing": [2, 1, 2]}, True),
        ({"spacing": [1, 2, 2]}, True),
        ({"spacing": [1, 1, 3]}, True),
        ({"release": [1], "spacing": "none"}, False),
    ],
)
def test_former_rules_become_strict_where_they_asked_for_more(
    former: dict[str, object], is_strict: bool
) -> None:
    assert translated(former) == TierRules(strict=is_strict)
    assert not translated(former | {"doubt_promotes": False}).unsure_signs


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("", "·"), ("r", "o"), ("w", "!"), ("w w", "!!"), ("w w w w", "!!!"),
        ("r +2 r", "●"), ("w r +2 r", "●!"), ("w w r +6 r", "●!!"),
        ("w w w r +6 r +6 r", "●3!"), ("w " * 9 + "r +6 r +6 r", "●9!"),
        ("w " * 11 + "r +6 r +6 r", "●9!"),
    ],
)  # fmt: skip
def test_a_standing_has_a_mark_of_three_letters_at_most(text: str, mark: str) -> None:
    assert after(text).mark == mark


def test_a_tier_is_stored_as_its_number() -> None:
    stored = {tier.word: tier.value for tier in Tier}
    assert stored == {"untried": -1, "clear": 0, "hard": 1, "harder": 2, "hardest": 3}


# Published rule: three correct recalls in spaced sessions before an item is dropped.
# K. A. Rawson and J. Dunlosky, JEP: General 140 (2011), 283-302 (read from memory).
def test_hardest_settles_after_three_spaced_successes() -> None:
    assert RULES.proof_of(3)[0] == RULES.proof_of(7)[0] == 3
    assert all(gap > 1 for gap in RULES.gaps)


# An independent reading: the whole history as a list of days, looked at from its end, instead of
# a fold from its beginning.


def read_again(events: Sequence[Event], rules: TierRules) -> Standing:
    days = _days_of(events)
    restarts = [place for place, (_, kind) in enumerate(days) if kind != "clean"]
    by_hand = [place for place, (_, kind) in enumerate(days) if isinstance(kind, Tier)]
    ground = by_hand[-1] if by_hand else -1
    signs = list[date]()
    if by_hand:
        day, tier = days[ground]
        signs = [day] * max(0, tier)
    for day, kind in days[ground + 1 :]:
        if kind == "miss" or (kind == "doubt" and not signs and rules.unsure_signs):
            signs.append(day)
    clean = [day for day, _ in days[restarts[-1] + 1 if restarts else 0 :]]
    row = max(0, min(len(signs), 3) - 1)
    need, gap = rules.proof[row] + (1 if rules.strict else 0), rules.gaps[row]
    counted = list[date]()
    for day in clean:
        if len(counted) < need and (not counted or day >= counted[-1] + timedelta(days=gap)):
            counted.append(day)
    settled = len(counted) == need
    tried = [(day, kind) for day, kind in days if not isinstance(kind, Tier)]
    is_untried = (
        not tried if not by_hand else days[ground][1] is Tier.UNTRIED and (ground == len(days) - 1)
    )
    if is_untried:
        tier = Tier.UNTRIED
    elif settled or not signs:
        tier = Tier.CLEAR
    else:
        tier = Tier(min(3, len(signs)))
    return Standing(
        tier=tier, signs=len(signs), settled=settled, proof=len(counted),
        missed_days=sum(kind == "miss" for _, kind in tried),
        clean_days=sum(kind == "clean" for _, kind in tried),
        days=len(tried), last=tried[-1][0] if tried else None,
        next_counts_from=None if settled or not counted else counted[-1] + timedelta(days=gap),
        sign_days=tuple(signs),
    )  # fmt: skip


def _days_of(events: Sequence[Event]) -> list[tuple[date, str | Tier]]:
    """Each study day, or part of one before or after a tier set by hand, and what it came to."""
    groups: list[list[Event]] = [[]]
    for event in events:
        if isinstance(event, HandSet):
            groups += [[event], []]
        elif groups[-1] and event.day != groups[-1][-1].day:
            groups.append([event])
        else:
            groups[-1].append(event)
    return [(group[0].day, _kind(group)) for group in groups if group]


def _kind(group: list[Event]) -> str | Tier:
    if isinstance(group[0], HandSet):
        return group[0].tier
    if any(event.verdict is not Verdict.RIGHT for event in group):
        return "miss"
    return "doubt" if any(event.confidence is not Confidence.SURE for event in group) else "clean"


def random_history(dice: random.Random) -> list[Event]:
    """Up to 25 events with gaps as lived: some on one day, some days, some weeks apart."""
    day, events = FIRST, list[Event]()
    marks = "rrrrruwwgb" if dice.random() < 0.5 else "rrrrrrrrrw"
    for _ in range(dice.randint(0, 25)):
        day += timedelta(days=dice.choice((0, 0, 1, 2, 3, 4, 6, 7, 8, 20)))
        if dice.random() < 0.06:
            events.append(HandSet(day, dice.choice(list(Tier)), "so"))
        else:
            events.append(Judged(day, *MARKS[dice.choice(marks)]))
    return events


def random_rules(dice: random.Random) -> TierRules:
    if dice.random() < 0.5:
        return TierRules(strict=dice.random() < 0.5)
    return TierRules(
        proof=tuple(sorted(dice.choices(range(1, 5), k=3))),
        gaps=tuple(sorted(dice.choices(range(1, 15), k=3))),
        strict=dice.random() < 0.3,
        unsure_signs=dice.random() < 0.5,
    )


def test_5000_random_histories_read_as_they_do_from_their_end() -> None:
    seen = set()
    for seed in range(5000):
        dice = random.Random(seed)
        events, rules = random_history(dice), random_rules(dice)
        standing = fold(events, rules)
        assert standing == read_again(events, rules), (seed, events, rules)
        seen.add((standing.tier, standing.settled))

    assert seen == {(tier, False) for tier in Tier} | {(Tier.CLEAR, True)}


# properties

days = st.lists(
    st.tuples(st.integers(0, 60), st.sampled_from([*sorted(MARKS), "r", "r"])), max_size=40
).map(
    lambda drawn: [
        Judged(FIRST + timedelta(days=day), *MARKS[letter]) for day, letter in sorted(drawn)
    ]
)
rules_used = st.sampled_from([RULES, STRICT, TierRules(unsure_signs=False)])
WORST_LAST = sorted(MARKS, key="rugwb".index)


@given(days, rules_used)
def test_signs_never_fall_and_rise_by_one_per_day_at_most(
    events: list[Judged], rules: TierRules
) -> None:
    steps = trail(events, rules)

    assert len({step.day for step in steps}) == len(steps)
    for step in steps:
        assert 0 <= step.after.signs - step.before.signs <= 1
        assert step.after.signs > step.before.signs or step.event is not DayKind.MISS


@given(days, rules_used)
def test_settled_implies_the_proof(events: list[Judged], rules: TierRules) -> None:
    """Enough clean days since the last one that was not, each far enough from the one before."""
    standing = fold(events, rules)
    if not standing.settled:
        return
    need, gap = rules.proof_of(standing.signs)
    unclean = [event.day for event in events if (event.verdict, event.confidence) != MARKS["r"]]
    clean = sorted({event.day for event in events if not unclean or event.day > max(unclean)})
    spaced = [clean[0]]
    for day in clean:
        if (day - spaced[-1]).days >= gap:
            spaced.append(day)
    assert len(spaced) >= need


@given(days, rules_used)
def test_the_tier_of_an_open_question_is_by_its_signs(
    events: list[Judged], rules: TierRules
) -> None:
    standing = fold(events, rules)

    assert standing.open is (standing.signs > 0 and not standing.settled)
    if standing.open:
        assert standing.tier == min(standing.signs, 3)
    assert len(standing.sign_days) == standing.signs


@given(days, rules_used, st.data())
def test_a_worse_response_never_gives_fewer_signs(
    events: list[Judged], rules: TierRules, data: st.DataObject
) -> None:
    if not events:
        return
    place = data.draw(st.integers(0, len(events) - 1))
    now = next(
        k for k, v in MARKS.items() if v == (events[place].verdict, events[place].confidence)
    )
    worse = data.draw(st.sampled_from(WORST_LAST[WORST_LAST.index(now) :]))
    changed = [*events]
    changed[place] = Judged(events[place].day, *MARKS[worse])
    before, after_ = fold(events, rules), fold(changed, rules)

    assert after_.signs >= before.signs
    assert before.settled or not after_.settled


@given(days, rules_used, st.integers(0, 60))
def test_an_extra_clean_day_never_harms(
    events: list[Judged], rules: TierRules, offset: int
) -> None:
    day = FIRST + timedelta(days=offset)
    extra = Judged(day, *MARKS["r"])
    before = fold(events, rules)
    more = fold(sorted([*events, extra], key=lambda event: event.day), rules)

    assert more.signs == before.signs
    assert more.settled or not before.settled
    assert more.tier <= before.tier or before.tier is Tier.UNTRIED


@given(days)
def test_the_trail_ends_where_the_fold_does(events: list[Judged]) -> None:
    steps = trail(events, RULES)
    standing = fold(events, RULES)

    assert standing == (steps[-1].after if steps else Standing())
    assert standing.days == len(steps)
    assert all(step.after == two.before for step, two in pairwise(steps))


@given(days)
def test_strict_never_settles_what_the_usual_rules_leave_open(events: list[Judged]) -> None:
    usual, strict = fold(events, RULES), fold(events, STRICT)

    assert usual.settled or not strict.settled
    assert usual.signs == strict.signs


def test_every_tier_counts_and_nothing_is_counted_unless_told() -> None:
    assert Counts() == Counts(0, 0, 0, 0, 0, settled=0, waiting=0)
    counts = Counts(untried=1, clear=2, hard=4, harder=8, hardest=16, settled=32, waiting=64)
    assert counts.total == 31
