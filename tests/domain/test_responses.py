"""Records as they stand in a log: what format 1 wrote reads as what it meant then."""

from datetime import UTC, datetime

import msgspec
import pytest

from domain.responses import (
    AnyRecord,
    Medium,
    PaperKind,
    Purpose,
    Response,
    SittingOpened,
)
from domain.verdicts import Confidence

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
HEAD = b'{"id":"1","at":"2026-03-02T12:00:00Z",'


def decode(rest: bytes) -> AnyRecord:
    return msgspec.json.decode(HEAD + rest, type=AnyRecord)


def test_a_response_of_format_1_reads_as_it_is() -> None:
    old = decode(b'"what":"response","question":"b/1","sureness":"guess","purpose":"mock paper"}')
    assert isinstance(old, Response)
    assert (old.confidence, old.purpose) == (Confidence.GUESS, Purpose.PAPER)
    assert msgspec.to_builtins(old)["sureness"] == "guess"
    assert msgspec.to_builtins(old)["purpose"] == "paper"


@pytest.mark.parametrize(
    ("rest", "title", "medium", "kind"),
    [
        ('"title":"Paper · Force","purpose":"sweep"', "Force", Medium.PRINTED, None),
        ('"title":"Force","purpose":"sweep"', "Force", Medium.ON_SCREEN, None),
        ('"title":"Mock","purpose":"mock paper"', "Mock", Medium.ON_SCREEN, PaperKind.MOCK),
    ],
)
def test_a_sitting_of_format_1_tells_by_its_title_and_purpose(rest, title, medium, kind) -> None:
    old = decode(f'"what":"sitting-opened","questions":[],{rest}}}'.encode())
    assert isinstance(old, SittingOpened)
    assert (old.title, old.medium, old.paper_kind) == (title, medium, kind)


def test_a_title_of_format_2_is_left_as_it_is() -> None:
    drill = SittingOpened(
        id="1",
        at=NOON,
        title="Paper · 1",
        purpose=Purpose.FREE,
        questions=(),
        medium=Medium.ON_SCREEN,
    )
    again = msgspec.json.decode(msgspec.json.encode(drill), type=AnyRecord)
    assert again == drill
    assert isinstance(again, SittingOpened)
    assert (again.title, again.medium) == ("Paper · 1", Medium.ON_SCREEN)


@pytest.mark.parametrize(
    "line",
    [
        b'{"what":"note","id":"","at":"2026-03-02T12:00:00Z","question":"b/1","text":"x"}',
        b'{"what":"note","id":"1","at":"2026-03-02T12:00:00","question":"b/1","text":"x"}',
        HEAD + b'"what":"response","question":"b/1","seconds":-1}',
        HEAD + b'"what":"response","question":"b/1","seconds":1e300}',
        HEAD + b'"what":"moonbeam"}',
    ],
)
def test_what_cannot_be_judged_is_no_record(line) -> None:
    with pytest.raises(msgspec.ValidationError):
        msgspec.json.decode(line, type=AnyRecord)
