"""The app driven by keys beside a record of what was pressed; long: `python -m tests.lived`."""

import pytest

from domain.responses import Purpose
from tests.lived.driller import SHORT, Driller


@pytest.mark.slow
async def test_what_the_app_tells_is_what_was_pressed(tmp_path):
    driller = await Driller(tmp_path, month=SHORT).live()

    assert driller.differences == []
    assert {press.purpose for press in driller.record.presses} >= {
        Purpose.REVISION, Purpose.FREE, Purpose.PAPER,
    }  # fmt: skip
    assert driller.restarts
