"""A store with a plan that is kept, and the clock by which it is lived."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from banks.library import Library
from tests.banks.planned import Clock, planned_library


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def library(tmp_path: Path, clock: Clock) -> Iterator[Library]:
    opened = planned_library(tmp_path, clock)
    yield opened
    opened.close()
