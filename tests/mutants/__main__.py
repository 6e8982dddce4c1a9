"""`python -m tests.mutants [PART …] [--share K/N]`: change the code in one place, run its tests.

Each condition, comparison, operator, constant, `return`, plain call and change of an attribute of
a part is changed in turn. The tests are collected once; which of them call a function is noted
once, too; then each mutant of a function is tried in a fork of that process, by those tests alone,
the quickest first, until one fails. What is evaluated at import is tried in forks that import the
project anew. A mutant that no test notices is printed; the score leaves out those of
`equivalent.py`. `--share 2/5` tries the second fifth alone.
"""

import argparse
import gc
import os
import pickle
import resource
import shutil
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from functools import partial
from importlib import import_module
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec
from importlib.util import spec_from_loader
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any, NoReturn

import pytest

from tests.mutants.changes import Mutant, mutants
from tests.mutants.equivalent import EQUIVALENT
from tests.mutants.reported import REPORTED, Reported

ROOT = Path(__file__).parents[2]
DOMAIN = [
    "tests/domain/test_tiers.py",
    "tests/domain/test_grading.py",
    "tests/domain/test_history.py",
    "tests/domain/test_history_read_on.py",
    "tests/domain/test_history_threads.py",
    "tests/domain/test_gathering.py",
    "tests/domain/test_responses.py",
    "tests/banks/test_recording.py",
    "tests/banks/test_corrections.py",
    "tests/banks/test_former_rules.py",
    "tests/banks/test_kept_history.py",
    "tests/banks/test_duplicates.py",
    "tests/banks/test_remarks.py",
    "tests/banks/test_retired_duplicates.py",
    "tests/banks/test_undo.py",
    "tests/banks/views/test_waiting.py",
]
STORE = [
    "tests/banks/maintenance",
    "tests/banks/test_bankfile.py",
    "tests/banks/test_cache.py",
    "tests/banks/test_checked_json_and_log.py",
    "tests/banks/test_corrections.py",
    "tests/banks/test_edits.py",
    "tests/banks/test_files.py",
    "tests/banks/test_filesystem.py",
    "tests/banks/test_former_rules.py",
    "tests/banks/test_log.py",
    "tests/banks/test_recording.py",
    "tests/banks/test_kept_views.py",
    "tests/banks/test_store.py",
    "tests/banks/test_tinydb.py",
    "tests/banks/test_undo.py",
    "tests/faults",
    "tests/tui/commands/test_maintenance.py",
    "tests/tui/test_background.py",
    "tests/tui/test_store_lost.py",
]
PARTS: dict[str, tuple[list[str], list[str]]] = {
    "tiers": (["domain/tiers.py"], DOMAIN),
    "grading": (["domain/grading.py"], DOMAIN),
    "history": (["domain/history.py"], DOMAIN),
    "undo": (["banks/undo.py"], STORE),
    "store": (["banks/store"], STORE),
    "maintenance": (["banks/maintenance"], STORE),
}
"""What is changed, and the tests that should notice."""

IN_PROCESSES_OF_THEIR_OWN = "tests/faults/test_kills.py"
"""Tests that start the program anew see no mutant."""

WARM = ("hypothesis.stateful", "msgspec", "pexpect", "pyte", "textual.widgets", "tinydb")
"""What tests import from elsewhere: imported once, before any fork."""

_MOST_BYTES = 3 << 30
"""Memory of a process that tries a mutant: one that never ends must not take all there is."""

_GRACE = 10.0
"""Seconds beyond twenty times its usual time after which a test hangs."""

_PYTEST = ["-qq", "-s", "--no-header", "--no-summary", "-p", "no:cacheprovider"]

Function = tuple[str, str, int]
"""A function by its file, its qualified name and its first line."""


class Noted:
    """A pytest plugin that runs every test, unchanged: which functions it calls, how long it takes.

    Threads are followed too.
    """

    def __init__(self, files: Iterable[str]) -> None:
        self._files = {str(ROOT / file) for file in files}
        self._called: set[Function] = set()
        self.calls: dict[Function, set[str]] = {}
        """The tests that call a function."""
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()

    def leave_out(self, longest: float) -> None:
        """Leave out tests that fail as the code is, and those that take longer than that."""
        too_long = {test for test, seconds in self.seconds.items() if seconds > longest}
        for tests in self.calls.values():
            tests -= too_long | self.failed

    def quickest_first(self, tests: Iterable[str]) -> list[str]:
        return sorted(tests, key=lambda test: self.seconds[test])

    def calling_any_of(self, file: str) -> list[str]:
        path = str(ROOT / file)
        callers = [tests for (held, _, _), tests in self.calls.items() if held == path]
        return self.quickest_first(set().union(*callers))

    def _note(self, frame: FrameType, event: str, argument: object) -> None:
        code = frame.f_code
        if code.co_filename in self._files:
            self._called.add((code.co_filename, code.co_qualname, code.co_firstlineno))

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Any:
        self._called.clear()
        threading.settrace(self._note)
        sys.settrace(self._note)
        began = time.perf_counter()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = time.perf_counter() - began
            sys.settrace(None)
            for function in self._called:
                self.calls.setdefault(function, set()).add(item.nodeid)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)


class Tries:
    """A pytest plugin: instead of running the collected tests, it tries mutants of functions."""

    def __init__(self, tried: Sequence[Mutant], noted: Noted) -> None:
        self._tried, self._noted = tried, noted
        self._items: dict[str, pytest.Item] = {}
        self._live: dict[Function, list[FunctionType]] = {}
        self._is_trying = False
        self.unnoticed: list[int] = []

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self._items = {item.nodeid: item for item in session.items}
        self._live = _live_functions()
        for place, mutant in enumerate(self._tried):
            if not self._is_noticed(mutant):
                self.unnoticed.append(place)
                _say(mutant)
        return True

    def _is_noticed(self, mutant: Mutant) -> bool:
        path = str(ROOT / mutant.file)
        function = (path, mutant.scope, mutant.first_line)
        tests = self._noted.quickest_first(self._noted.calls.get(function, ()))
        code = _code_of(mutant.compiled(path), function)
        return bool(tests) and _in_fork(lambda: self._try(function, code, tests)) != 0

    def _try(self, function: Function, code: CodeType, tests: Sequence[str]) -> int:
        self._is_trying = True
        for live in self._live[function]:
            live.__code__ = code
        items = [self._items[test] for test in tests]
        for item, after in zip(items, [*items[1:], None], strict=True):
            _fall_after(20 * self._noted.seconds[item.nodeid] + _GRACE)
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
        return 0

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and self._is_trying:
            os._exit(1)


class ToFirstFailure:
    """A pytest plugin: the process ends with the first test that fails; `told` names it."""

    def __init__(self, reason: str = "") -> None:
        self._told = reason

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            if self._told:
                _say(f"  {self._told}: {report.nodeid}")
            os._exit(1)


class InOrder(ToFirstFailure):
    """The tests named, in this order."""

    def __init__(self, tests: Sequence[str], seconds: dict[str, float]) -> None:
        super().__init__()
        self._places = {name: place for place, name in enumerate(tests)}
        self._seconds = seconds

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [item for item in items if item.nodeid in self._places]
        items.sort(key=lambda item: self._places[item.nodeid])

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        _fall_after(20 * self._seconds[item.nodeid] + _GRACE)


class Instead(MetaPathFinder, Loader):
    """Imports the mutant in the place of its module."""

    def __init__(self, mutant: Mutant | Reported) -> None:
        self._name = _module_name(mutant.file)
        self._path = str(ROOT / mutant.file)
        self._code = mutant.compiled(self._path)

    def find_spec(self, fullname: str, path: Any, target: Any = None) -> ModuleSpec | None:
        if fullname != self._name:
            return None
        return spec_from_loader(fullname, self, origin=self._path)

    def exec_module(self, module: ModuleType) -> None:
        module.__file__ = self._path
        exec(self._code, module.__dict__)


def _fall_after(seconds: float) -> None:
    signal.setitimer(signal.ITIMER_REAL, seconds)


def _live_functions() -> dict[Function, list[FunctionType]]:
    functions: dict[Function, list[FunctionType]] = {}
    for held in gc.get_objects():
        if isinstance(held, FunctionType):
            code = held.__code__
            key = (code.co_filename, code.co_qualname, code.co_firstlineno)
            functions.setdefault(key, []).append(held)
    return functions


def _code_of(module: CodeType, function: Function) -> CodeType:
    waiting = [module]
    while waiting:
        code = waiting.pop()
        if (code.co_qualname, code.co_firstlineno) == function[1:]:
            return code
        waiting += [held for held in code.co_consts if isinstance(held, CodeType)]
    raise LookupError(function)


def _in_fork(work: Callable[[], int]) -> int:
    """Do it in a fork of this process; what it returns, anything but 0 if it fell.

    It has a temporary folder of its own, and nothing that it started outlives it.
    """
    folder = tempfile.mkdtemp(prefix="resieve-mutant-")
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)
        tempfile.tempdir = os.environ["TMPDIR"] = folder
        resource.setrlimit(resource.RLIMIT_AS, (_MOST_BYTES, _MOST_BYTES))
        try:
            status = work()
        except BaseException:
            status = 1
        os._exit(status)
    try:
        return os.waitpid(child, 0)[1]
    except BaseException:  # we are ended: it ends its own forks first
        os.kill(child, signal.SIGTERM)
        until = time.monotonic() + _GRACE
        while os.waitpid(child, os.WNOHANG) == (0, 0) and time.monotonic() < until:
            time.sleep(0.05)
        raise
    finally:
        with suppress(ProcessLookupError):  # what the tests started and a failure left running
            os.killpg(child, signal.SIGKILL)
        shutil.rmtree(folder, ignore_errors=True)


def _end(number: int, frame: FrameType | None) -> NoReturn:
    raise SystemExit(128 + number)


def _brought_back(work: Callable[[], object]) -> Any:
    """What the work returns, done in a fork; None if it fell."""
    with tempfile.TemporaryDirectory() as folder:
        result = Path(folder) / "result"

        def do() -> int:
            result.write_bytes(pickle.dumps(work()))
            return 0

        return pickle.loads(result.read_bytes()) if _in_fork(do) == 0 else None


def _module_name(file: str) -> str:
    return file.removesuffix(".py").replace("/", ".")


def _files(sources: Iterable[str]) -> Iterator[str]:
    for source in sources:
        held = ROOT / source
        for path in sorted(held.glob("*.py")) if held.is_dir() else [held]:
            if path.stem != "__init__":
                yield path.relative_to(ROOT).as_posix()


_OUT = os.fdopen(os.dup(1), "w")


def _say(words: object) -> None:
    print(words, file=_OUT, flush=True)


def _run(plugin: object, tests: Sequence[str]) -> int:
    without = f"--ignore={IN_PROCESSES_OF_THEIR_OWN}"
    return int(pytest.main([*_PYTEST, without, *tests], plugins=[plugin]))


def _note(files: Sequence[str], tests: Sequence[str]) -> Noted:
    noted = Noted(files)
    ended = _run(noted, tests)
    if ended not in (pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED):
        raise RuntimeError(f"the tests could not be run (pytest ended with {ended})")
    return noted


def _try_functions(tried: Sequence[Mutant], noted: Noted, tests: Sequence[str]) -> list[int]:
    signal.signal(signal.SIGTERM, _end)
    for file in {mutant.file for mutant in tried}:  # also what is imported only at need
        import_module(_module_name(file))
    tries = Tries(tried, noted)
    _run(tries, tests)
    return tries.unnoticed


def _try_import(mutant: Mutant, noted: Noted) -> int:
    tests = noted.calling_any_of(mutant.file)
    sys.meta_path.insert(0, Instead(mutant))
    files = list(dict.fromkeys(name.partition("::")[0] for name in tests))
    return _run(InOrder(tests, noted.seconds), files) if tests else 0


def try_reported() -> int:
    """Put each reported fault back and say which test notices it; how many go unnoticed."""
    unnoticed = 0
    for fault in REPORTED:
        if _in_fork(partial(_try_reported, fault)) == 0:
            unnoticed += 1
            _say(f"  {fault.words}: NOT NOTICED")
    _say(f"{len(REPORTED) - unnoticed} of {len(REPORTED)} reported faults noticed")
    return unnoticed


def _try_reported(fault: Reported) -> int:
    try:
        sys.meta_path.insert(0, Instead(fault))
    except ValueError as problem:
        _say(f"  {problem}")
        return 0
    return _run(ToFirstFailure(fault.words), [fault.tests])


def try_part(
    part: str, share: tuple[int, int], longest: float, kept: Path | None
) -> tuple[int, int]:
    """Try a part's mutants; how many were tried and how many went unnoticed.

    `kept` holds what an earlier run has noted. Tests that fail as the code is are named and left
    out. Raises RuntimeError if they could not be run.
    """
    tests = PARTS[part][1] if part in PARTS else _part_with(part)[1]
    files = list(_files(PARTS[part][0] if part in PARTS else [part]))
    every = [mutant for file in files for mutant in mutants(file, (ROOT / file).read_text())]
    first, shares = share
    tried = [mutant for mutant in every[first - 1 :: shares] if mutant.name not in EQUIVALENT]
    noted = _noted(tests, kept)
    for test in sorted(noted.failed):
        _say(f"  left out, fails as the code is: {test}")
    noted.leave_out(longest)
    inside = [mutant for mutant in tried if mutant.scope]
    unnoticed = _brought_back(lambda: _try_functions(inside, noted, tests))
    if unnoticed is None:
        raise RuntimeError(f"{part}: the run fell")
    survived = len(unnoticed)
    for mutant in tried:
        if not mutant.scope and _in_fork(partial(_try_import, mutant, noted)) == 0:
            survived += 1
            _say(mutant)
    return len(tried), survived


def _noted(tests: Sequence[str], kept: Path | None) -> Noted:
    if kept and kept.exists():
        noted: Noted = pickle.loads(kept.read_bytes())
        return noted
    sources = [source for held, by in PARTS.values() if by == tests for source in held]
    made: Noted | None = _brought_back(lambda: _note(list(_files(sources)), tests))
    if made is None:
        raise RuntimeError("the tests could not be run as the code is")
    if kept:
        kept.write_bytes(pickle.dumps(made))
    return made


def _part_with(file: str) -> tuple[list[str], list[str]]:
    for sources, tests in PARTS.values():
        if file in _files(sources):
            return sources, tests
    raise ValueError(f"{file}: is neither a part nor a file of one")


def main() -> int:
    """Try the parts named, or all; 1 where a mutant survived."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument(
        "parts", nargs="*", metavar="PART", help=f"{', '.join(PARTS)}, or one of their files"
    )
    parser.add_argument("--share", default="1/1", metavar="K/N", help="the Kth of N shares")
    parser.add_argument(
        "--keep",
        type=Path,
        metavar="FILE",
        help="keep there which tests call what, for the other shares of a part",
    )
    parser.add_argument(
        "--longest",
        type=float,
        default=float("inf"),
        metavar="SECONDS",
        help="leave out the tests that take longer",
    )
    parser.add_argument(
        "--reported", action="store_true", help="put the faults of `reported.py` back instead"
    )
    arguments = parser.parse_args()
    first, shares = map(int, arguments.share.split("/"))
    os.environ["RESIEVE_UNSHRUNK"] = "1"
    for ending in (signal.SIGTERM, signal.SIGINT):
        signal.signal(ending, _end)
    for name in WARM:
        import_module(name)
    if arguments.reported:
        return 1 if try_reported() else 0
    tried = unnoticed = 0
    for part in arguments.parts or PARTS:
        began = time.perf_counter()
        count, survived = try_part(part, (first, shares), arguments.longest, arguments.keep)
        seconds = time.perf_counter() - began
        _say(f"{part}: {count - survived} of {count} noticed in {seconds:.0f} s")
        tried, unnoticed = tried + count, unnoticed + survived
    _say(f"score: {100 * (tried - unnoticed) / max(tried, 1):.1f} % of {tried}")
    return 1 if unnoticed else 0


if __name__ == "__main__":
    sys.exit(main())
