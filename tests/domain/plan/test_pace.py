"""The candidate's own pace, whatever pauses are in the log."""

from datetime import date
from math import log
from random import Random

import pytest

from domain.plan.outlook import own_pace, time_cap

DAY = date(2027, 1, 4)


def timings(subject, seconds):
    return [(subject, DAY, second) for second in seconds]


def test_without_a_log_the_expected_pace_holds():
    pace = own_pace([], 51)
    assert pace.of("anything") == 51


def test_unmeasured_times_do_not_count():
    assert own_pace(timings("s", [0.0] * 100), 51).of("s") == 51


def test_with_many_timings_the_pace_is_the_candidates_own():
    pace = own_pace(timings("quick", [30.0] * 2000) + timings("slow", [80.0] * 2000), 51)
    assert pace.of("quick") == pytest.approx(30, abs=1)
    assert pace.of("slow") == pytest.approx(80, abs=1)
    assert pace.of("new") == pytest.approx(55, abs=1)


def test_few_timings_move_the_pace_only_a_little():
    assert 47 < own_pace(timings("s", [30.0] * 3), 51).of("s") < 51


def test_pauses_hardly_move_the_pace():
    rng = Random(1)
    calm = [rng.gammavariate(6, 8) for _ in range(1000)]
    paused = [*calm, *(rng.uniform(600, 3600) for _ in range(50))]
    undisturbed = own_pace(timings("s", calm), 51).of("s")
    assert own_pace(timings("s", paused), 51).of("s") < 1.05 * undisturbed
    assert sum(paused) / len(paused) > 2.5 * undisturbed


def test_steady_timings_without_pauses_keep_their_mean():
    rng = Random(2)
    calm = [rng.uniform(30, 70) for _ in range(500)]
    assert own_pace(timings("s", calm), 51).of("s") == pytest.approx(sum(calm) / 500, abs=0.5)


@pytest.mark.parametrize("mean", [25, 51, 70, 90])
@pytest.mark.parametrize("spread", [0.3, 0.45, 0.6])
@pytest.mark.parametrize(("share", "most"), [(0.0, 0.05), (0.1, 0.05), (0.2, 0.1)])
def test_times_at_the_cap_hardly_move_the_pace(mean, spread, share, most):
    """Response times are close to lognormal (van der Linden 2006, JEBS 31(2); from memory)."""
    rng = Random(mean)
    calm = [rng.lognormvariate(log(mean) - spread**2 / 2, spread) for _ in range(4000)]
    pauses = round(len(calm) * share)
    paused = [time_cap(calm)] * pauses + calm[pauses:]
    assert own_pace(timings("s", paused), 51).of("s") == pytest.approx(mean, rel=most)
    cut_off = [min(300.0, second) for second in paused]
    assert own_pace(timings("s", cut_off), 51).of("s") == pytest.approx(mean, rel=most)


def test_the_cap_is_six_medians_or_five_minutes():
    assert time_cap([]) == time_cap([20.0, 30.0, 40.0]) == 300
    assert time_cap([60.0, 80.0, 400.0]) == 480
