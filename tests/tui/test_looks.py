"""Every picture looks as it was kept: text and styles at 80x24 and 120x40, on the demo.

When one is meant to look different: `python -m tests.pictures --compare FILE.html` draws both side
by side; look at them, then `--keep`.
"""

from collections.abc import Iterator

import pytest

from banks.library import Library
from banks.views.evidence import Evidence, evidence
from tests.pictures import KEPT, KEPT_NAMES, SIZES, Look, looks

pytestmark = pytest.mark.slow


@pytest.fixture(autouse=True)
def evidence_once() -> Iterator[None]:
    """All pages of Progress show one library's evidence, which takes two seconds to make."""
    made: dict[int, Evidence] = {}

    def kept(library: Library) -> Evidence:
        if id(library) not in made:
            made[id(library)] = evidence(library)
        return made[id(library)]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tui.screens.progress.evidence_of_now", kept)
        yield


async def test_every_screen_looks_as_it_was_kept():
    drawn = await looks(())
    different = [
        path.name for path, look in drawn.items() if look.written() != path.read_text("utf-8")
    ]

    assert not different
    assert set(drawn) == set(KEPT.iterdir())
    assert len(drawn) == len(KEPT_NAMES) * len(SIZES)


def test_a_look_is_read_as_it_was_written():
    look = Look(("ab ", "é  "), (("bold #ffffff on #000000", "none", "none"), ("none",) * 3))

    assert Look.read(look.written()) == look
    assert "é" in look.svg()
