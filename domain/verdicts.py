"""Right, wrong or blank; sure, unsure or guess: the words a response is judged by."""

from enum import StrEnum


class Verdict(StrEnum):
    """What a response was worth."""

    RIGHT = "right"
    WRONG = "wrong"
    BLANK = "blank"


class Confidence(StrEnum):
    """How sure the candidate said they were."""

    SURE = "sure"
    UNSURE = "unsure"
    GUESS = "guess"
