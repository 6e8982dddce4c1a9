"""The figures that take seconds: shown as they were kept, and made ahead in a process of its own.
So are the first screens of the days to come.

`python -m banks.views.figures FOLDER [DAY]` makes and keeps them. So they are there when Progress
and Sweep are opened, while neither the keys nor the memory of the app have to bear with it.
"""

import os
import subprocess
import sys
from collections.abc import Collection
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from banks import kept_history
from banks.clock import is_pretended, local_now, pretend_clock
from banks.library import Library
from banks.views.kept_views import files_of, keep_later_snapshots, keep_view, view_of_now
from domain.errors import ResieveError
from domain.tiers import Tier

if TYPE_CHECKING:
    from banks.views.confusions import Confusion
    from banks.views.evidence import Evidence
    from banks.views.sweeping import SweepView

USUAL_MINUTES = 30.0
"""Minutes that a sweep begins with."""


def evidence_of_now(library: Library) -> "Evidence":
    """As `evidence`, or as it was kept where nothing has changed since."""
    from banks.views.evidence import Evidence, evidence

    return view_of_now(library, "evidence", Evidence, evidence)


def sweep_of_now(
    library: Library, minutes: float, subject: str = "", tiers: Collection[Tier] = ()
) -> "SweepView":
    """As `sweep`, or as it was kept where nothing has changed since."""
    from banks.views.sweeping import SweepView, sweep, sweep_request

    def make(library: Library) -> SweepView:
        return sweep(library, minutes, subject, tiers)

    return view_of_now(library, "sweep", SweepView, make, sweep_request(minutes, subject, tiers))


def confusions_of_now(library: Library) -> "tuple[Confusion, ...]":
    """As `confusions`, or as they were kept where nothing has changed since."""
    from banks.views.confusions import Confusion, confusions

    return view_of_now(library, "mixed-up", tuple[Confusion, ...], confusions)


MOST_HELD = 200_000
"""Records of a log beyond which its columns are held only once they were asked for."""


def read_ahead(library: Library) -> None:
    """Make them for an open library: the log is read then, and learnt what it teaches of the full
    days before today, so that little is left to do after a response.
    """
    if kept_history.is_worth_it(library.store) and library.store.record_count <= MOST_HELD:
        evidence_of_now(library)
        sweep_of_now(library, USUAL_MINUTES)


def make_ahead(library: Library) -> subprocess.Popen[bytes] | None:
    """Have them made by another process; None where they are made as fast when they are asked for,
    or where none can be begun.
    """
    if not kept_history.is_worth_it(library.store) or library.notices:
        return None
    day = [str(library.today())] if is_pretended(library.now) else []
    with suppress(OSError):
        return subprocess.Popen(
            [sys.executable, "-m", __name__, str(library.folder.absolute()), *day],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            # Where the app is installed, only its own process knows where its packages lie.
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
    return None


def main(folder: str, day: str = "") -> None:
    """Make and keep them, giving way to whatever else runs."""
    from banks.views.sweeping import sweep_request

    if hasattr(os, "nice"):
        os.nice(10)
    clock = pretend_clock(date.fromisoformat(day)) if day else local_now
    files = files_of(Path(folder))
    with suppress(ResieveError):
        library = Library.open(Path(folder), clock, read_only=True)
        request = sweep_request(USUAL_MINUTES)
        keep_view(library, files, "evidence", evidence_of_now(library))
        keep_view(library, files, "sweep", sweep_of_now(library, USUAL_MINUTES), request)
        keep_later_snapshots(library, files)
        keep_view(library, files, "mixed-up", confusions_of_now(library))


if __name__ == "__main__":
    main(*sys.argv[1:])
