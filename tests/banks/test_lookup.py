"""Finding by name: what else could have been meant is said, and nothing is guessed at."""

import pytest

from banks.lookup import find_bank, find_subject
from domain.errors import InputError
from tests.builders import bank, bares, library


def test_without_any_bank_it_is_said_how_one_comes(tmp_path):
    with pytest.raises(InputError, match="no bank yet; create one with `resieve outline`"):
        find_bank(library(tmp_path), None)


def test_a_near_miss_is_offered_and_otherwise_what_there_is():
    book = bank("Book", {f"Subject {n}": {"One": bares(1)} for n in range(1, 9)})

    with pytest.raises(InputError, match=r"did you mean: Subject \d"):
        find_subject(book, "Subjcet 12")
    with pytest.raises(InputError, match=r"'Wind': not found; there are: Subject 1, .*Subject 6…$"):
        find_subject(book, "Wind")
