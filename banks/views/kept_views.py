"""Views kept from the last time: the first screen, and what the commands show.

Only what was made from exactly the files there are now is shown again, and only on its own study
day. Of the first screen those of the days to come are kept too.
"""

from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from copy import copy
from datetime import date, timedelta
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, TypeVar, cast
from weakref import WeakKeyDictionary

import msgspec
from msgspec import Struct

from banks.clock import Clock
from banks.store.cache import Cache
from banks.store.filesystem import System
from banks.views.open_sittings import OpenSitting, is_of_line, open_sittings
from banks.views.today import TodayView
from domain.plan.inputs import Use
from domain.responses import study_day
from domain.tiers import SubjectCounts

if TYPE_CHECKING:
    from banks.library import Library
    from banks.planning.workload import PlanWorkload

DAYS_KEPT = 15
"""For so many days, today's among them, the first screen is kept."""

View = TypeVar("View")

Files = dict[str, tuple[int, int]]
"""Each file with the time it was changed and its size."""


class _KeptView(Struct, frozen=True):
    """A view with all that it was made from. `request` is what was asked for, in words."""

    files: Files
    turn_hour: int
    today: date
    request: str
    view: msgspec.Raw


def recall_view(
    folder: Path, clock: Clock, name: str, shape: type[View], request: str = ""
) -> View | None:
    """The view kept under that name for this request, if everything is as it was then."""
    kept = Cache(folder, System()).load_packed(name, _KeptView)
    if (
        kept is None
        or kept.request != request
        or kept.today != study_day(clock(), kept.turn_hour)
        or kept.files != files_of(folder)
    ):
        return None
    return msgspec.msgpack.decode(kept.view, type=shape)


def keep_view(library: "Library", files: Files, name: str, view: object, request: str = "") -> None:
    """Keep a view for `recall_view`.

    `files` are those there were before the library was opened: nothing newer than they tell can
    have been read. Where the store had something to say, it will say it again: nothing is kept.
    """
    if library.notices or not library.is_of_now or files_of(library.store.folder) != files:
        return
    with suppress(OverflowError):  # a number beyond 64 bits, as a bank's file may hold
        packed = msgspec.Raw(msgspec.msgpack.encode(view))
        kept = _KeptView(files, library.settings.turn_hour, library.today(), request, packed)
        library.store.cache.save_packed(name, kept)


_making = Lock()
_made: "WeakKeyDictionary[Library, dict[str, tuple[object, object]]]" = WeakKeyDictionary()
"""The newest view of each name, and all that it was made from."""


def view_of_now(
    library: "Library",
    name: str,
    shape: type[View],
    make: "Callable[[Library], View]",
    request: str = "",
) -> View:
    """A view of an open library: as it was made or kept, where nothing has changed since, else made
    now. Of several threads that ask at once one makes it.

    It is not kept in a file, which would take longer than making it: `keep_view` does that.
    """
    from banks.library import paused_collector

    with _making:
        made_from = (files_of(library.folder), library.version, library.today(), request)
        views = _made.setdefault(library, {})
        if not library.is_of_now:
            views.clear()
        elif name in views and views[name][0] == made_from:
            return cast("View", views[name][1])
        else:
            kept = recall_view(library.folder, library.now, name, shape, request)
            if kept is not None:
                views[name] = made_from, kept
                return kept
        with paused_collector():
            made = make(library)
        views[name] = made_from, made
        return made


def files_of(folder: Path) -> Files:
    """The files that a view depends on."""
    states: Files = {}
    for path in _sources(folder):
        with suppress(OSError):  # gone again
            state = path.stat()
            states[path.name] = state.st_mtime_ns, state.st_size
    return states


def _sources(folder: Path) -> Iterable[Path]:
    yield from folder.glob("store.json")
    yield from folder.glob("banks/*.json")
    yield from folder.glob("log/*.jsonl")


# the first screen


class WeekDay(Struct, frozen=True):
    """A day of this week: questions answered on it so far, and those its visits still hold."""

    day: date
    role: Use
    done: int = 0
    left: int = 0


class StartupSnapshot(Struct, frozen=True):
    """All that the first screen shows: the day, and the sittings that were left open, without
    those that one of the day's lines goes on with.

    `week` is this week from Monday on, `subjects` where the questions of the plan's banks stand;
    both are empty without a plan.
    """

    view: TodayView
    left: tuple[OpenSitting, ...]
    week: tuple[WeekDay, ...] = ()
    subjects: tuple[SubjectCounts, ...] = ()


class _Kept(Struct, frozen=True):
    files: Files
    turn_hour: int
    glances: dict[date, msgspec.Raw]


def startup_snapshot(
    library: "Library",
    workload: "PlanWorkload | None" = None,
    *,
    ahead: bool = False,
    may_choose: bool = True,
) -> StartupSnapshot:
    """What Today shows, or with `ahead` the next day with work; see `today_view`.

    The workload is read where it was not before. Raises InputError.
    """
    from banks.planning.workload import PlanWorkload
    from banks.views.today import today_view
    from banks.views.triage import subject_counts

    if workload is None and library.settings.plan.is_set_up:
        workload = PlanWorkload(library)
    view = today_view(library, workload, ahead=ahead, may_choose=may_choose)
    left = [
        sitting
        for sitting in open_sittings(library)
        if not any(
            is_of_line(library, sitting, line.purpose, line.questions) for line in view.lines
        )
    ]
    if workload is None or view.days_to_exam <= 0:
        return StartupSnapshot(view, tuple(left))
    subjects = subject_counts(library, {bank.id for bank in workload.banks})
    return StartupSnapshot(view, tuple(left), _week(library, workload, view), tuple(subjects))


def _week(library: "Library", workload: "PlanWorkload", view: TodayView) -> tuple[WeekDay, ...]:
    """What was done on the days of this week, and what the plan holds for those to come."""
    today = workload.today
    monday = today - timedelta(days=today.weekday())
    plan = workload.plan()
    week = []
    for day in (monday + timedelta(days=n) for n in range(7)):
        done = len(library.history.answered_on(day)) if day <= today else 0
        planned = plan.on(day) if day >= today else ()
        left = sum(entry.questions for entry in planned if entry.is_visit and day > today)
        if day == today and not view.is_ahead:
            left = view.count - view.done
        week.append(WeekDay(day, planned[0].role if planned else Use.REST, done, left))
    return tuple(week)


def recall_snapshot(folder: Path, clock: Clock) -> StartupSnapshot | None:
    """The glance kept for today, if everything is as it was then."""
    kept = Cache(folder, System()).load("glance", _Kept)
    if kept is None or kept.files != files_of(folder):
        return None
    glance = kept.glances.get(study_day(clock(), kept.turn_hour))
    with suppress(msgspec.DecodeError):
        return msgspec.json.decode(glance, type=StartupSnapshot) if glance else None
    return None


def keep_snapshots(library: "Library", files: Files, today: StartupSnapshot) -> None:
    """Keep today's glance, made from these files, and tomorrow's."""
    _add_snapshots(library, files, {}, [today, _snapshot_in(library, 1)])


def keep_later_snapshots(library: "Library", files: Files) -> None:
    """Keep those of the days after tomorrow too, should the candidate come back on one of them."""
    kept = library.store.cache.load("glance", _Kept)
    if kept is not None and kept.files == files and library.settings.plan.is_set_up:
        later = [_snapshot_in(library, days) for days in range(2, DAYS_KEPT)]
        _add_snapshots(library, files, kept.glances, later)


def _snapshot_in(library: "Library", days: int) -> StartupSnapshot:
    """The glance on a later day, if nothing is recorded until then."""
    later = copy(library)
    later.now = lambda: library.now() + timedelta(days=days)
    later.mornings, later.history_basis = dict(library.mornings), None  # nothing of it is kept
    return startup_snapshot(later, may_choose=False)


def _add_snapshots(
    library: "Library",
    files: Files,
    known: Mapping[date, msgspec.Raw],
    made: Iterable[StartupSnapshot],
) -> None:
    if library.is_of_now and files_of(library.folder) == files:
        raw = {glance.view.today: msgspec.Raw(msgspec.json.encode(glance)) for glance in made}
        kept = _Kept(files, library.settings.turn_hour, {**known, **raw})
        library.store.cache.save("glance", kept)
