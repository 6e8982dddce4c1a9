"""Every kept picture looks as it did: text and styles at 80x24 and 120x40, on the demo.

When one is meant to look different: `python -m tests.pictures --compare FILE.html` draws both side
by side; look at them, then `--keep`.
"""

from collections.abc import Iterator

import pytest

from banks.library import Library
from banks.views.evidence import Evidence, evidence
from tests.pictures import KEPT, KEPT_NAMES, PICTURES, SIZES, Look, demo, kept_path, shown

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def library_for() -> Iterator:
    with demo() as library_for:
        yield library_for


@pytest.fixture(scope="module", autouse=True)
def evidence_once() -> Iterator[None]:
    """All pages of Progress show one library's evidence, which takes two seconds to make."""
    made: dict[int, Evidence] = {}

    def kept(library: Library) -> Evidence:
        if id(library) not in made:
            made[id(library)] = evidence(library)
        return made[id(library)]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tui.screens.progress.evidence", kept)
        yield


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("name", KEPT_NAMES)
async def test_a_screen_looks_as_it_was_kept(library_for, name, size):
    async with shown(library_for(PICTURES[name]), PICTURES[name], size) as app:
        look = Look.of(app)
    kept = kept_path(name, size).read_text(encoding="utf-8")

    assert look.lines == Look.read(kept).lines
    assert look.written() == kept


def test_nothing_is_kept_that_is_no_longer_drawn():
    drawn = {kept_path(name, size) for name in KEPT_NAMES for size in SIZES}

    assert set(KEPT.iterdir()) == drawn


def test_a_look_is_read_as_it_was_written():
    look = Look(("ab ", "é  "), (("bold #ffffff on #000000", "none", "none"), ("none",) * 3))

    assert Look.read(look.written()) == look
    assert "é" in look.svg()
