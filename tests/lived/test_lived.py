"""Plans lived day by day through the library's views; long form: `python -m tests.lived`."""

from pathlib import Path

import pytest

from tests.lived.candidates import candidate
from tests.lived.living import Life


def lived(seed: int, folder: Path, *, diligent: bool, takes_offers: bool = False) -> Life:
    life = Life(candidate(seed, diligent=diligent, takes_offers=takes_offers), folder)
    try:
        return life.live()
    finally:
        life.close()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_done_on_their_days_visits_never_move_repeat_or_break_a_promise(seed, tmp_path):
    life = lived(seed, tmp_path, diligent=True)
    assert life.first_plan is not None
    assert life.judge() == []


@pytest.mark.slow
def test_a_block_that_opens_late_in_a_week_waits_as_planned(tmp_path):
    """Once it came first it took a sweep day's idle minutes, as if work had been lost."""
    life = lived(23051, tmp_path, diligent=False)
    assert life.judge() == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_nothing_is_put_up_twice_when_days_are_missed(seed, tmp_path):
    life = lived(seed, tmp_path, diligent=False)
    assert life.missed_days > 0
    assert life.judge() == []


@pytest.mark.slow
def test_passes_and_papers_ask_nothing_too_soon_nor_move_a_visit(tmp_path):
    """Once a pass asked again what the day's paper had asked."""
    life = lived(1, tmp_path, diligent=True, takes_offers=True)
    assert life.judge() == []
    assert life.papers > 0
