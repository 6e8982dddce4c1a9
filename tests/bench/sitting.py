"""The app with a sitting open, whatever leads to it: `python -m tests.bench.sitting WAY STORE`.

WAY is drill, over questions that have their text, or grid, over those that have none.
"""

import sys
from functools import partial
from itertools import islice
from pathlib import Path

from banks.clock import pretend_clock
from banks.library import Library
from domain.questions import Trait
from domain.responses import Purpose
from tests.bench.sizes import TODAY
from tui.app import Resieve
from tui.screens.launch import begin

QUESTIONS = 200


def main(way: str, folder: Path) -> None:
    """Open the app and begin the sitting as soon as the store is read."""
    app = Resieve(lambda read_only: Library.open(folder, pretend_clock(TODAY)))
    app.when_ready(lambda: app.call_after_refresh(partial(_begin, app, way)))
    app.run()


def _begin(app: Resieve, way: str) -> None:
    (bank,) = app.library.banks.values()
    with_text = set(bank.index.ids_with(Trait.HAS_TEXT))
    names = (
        name for _, name in app.library.active_ids() if (name in with_text) is (way == "drill")
    )
    begin(app, "Bench", Purpose.FREE, list(islice(names, QUESTIONS)))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
