"""Pilot tests without waiting: a key press is over when its messages are."""

import asyncio

import pytest


@pytest.fixture(autouse=True)
def _no_idle_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    """Textual waits 40 ms after each key for an idle process; turns of the loop do."""

    async def some_turns(*_args: object, **_named: object) -> None:
        for _ in range(20):
            await asyncio.sleep(0)

    monkeypatch.setattr("textual.app.wait_for_idle", some_turns)
    monkeypatch.setattr("textual.pilot.wait_for_idle", some_turns)
