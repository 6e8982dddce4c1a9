"""The app with a sitting open, whatever leads to it: `python -m tests.bench.sitting WAY STORE`.

WAY is drill, over questions that have their text, or grid, over those that have none.
"""

import sys
from functools import partial
from pathlib import Path

from banks.clock import pretend_clock
from banks.library import Library
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
    questions = [question for _, question in app.library.active_questions()]
    names = [question.id for question in questions if bool(question.stem) is (way == "drill")]
    begin(app, "Bench", Purpose.FREE, names[:QUESTIONS])


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
