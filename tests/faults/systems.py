"""Stand-ins for the operating system: one that fails on request, one that loses power."""

import errno
import os
from collections.abc import Callable, Iterator
from itertools import chain, combinations, product
from pathlib import Path
from typing import Any

from banks.store.filesystem import System

CALLS = (
    "read", "list_folder", "stamp", "stamp_of", "open", "read_at", "write", "fsync", "truncate",
    "close",
    "replace", "link", "unlink", "make_folder", "remove_folder", "fsync_folder",
)  # fmt: skip
CHANGING = ("write", "fsync", "truncate", "replace", "link", "fsync_folder")


class Watched(System):
    """Every call goes through `about_to`, which may raise; then it is done for real."""

    def about_to(self, name: str, *arguments: Any) -> None:
        """Called before each call."""


def _watched(name: str) -> Callable[..., Any]:
    def call(self: Watched, *arguments: Any) -> Any:
        self.about_to(name, *arguments)
        return getattr(super(Watched, self), name)(*arguments)

    return call


for _name in CALLS:
    setattr(Watched, _name, _watched(_name))


class Unflushed(System):
    """Without waiting for the drive, where nothing of a test depends on it."""

    def fsync(self, fd: int) -> None:
        """Nothing."""

    def fsync_folder(self, path: Path) -> None:
        """Nothing."""


class Recording(Watched):
    """Remembers the calls, in order."""

    def __init__(self) -> None:
        self.calls: list[str] = []

    def about_to(self, name: str, *arguments: Any) -> None:
        self.calls.append(name)


class Refusing(Watched):
    """The calls named fail, once each, from the moment they are named."""

    def __init__(self, *names: str) -> None:
        self.names = list(names)

    def about_to(self, name: str, *arguments: Any) -> None:
        if name in self.names:
            self.names.remove(name)
            raise OSError(errno.EIO, os.strerror(errno.EIO))


class Failing(Watched, Unflushed):
    """The call with this number fails, and, if it is to last, all that change anything after it.

    `code` 0 is a short write: half of the bytes are taken, and the write after it fails.
    """

    def __init__(self, number: int, code: int, *, lasting: bool = False) -> None:
        self.number, self.code, self.lasting = number, code, lasting
        self.count = 0
        self.has_failed = False
        self._short = False

    def about_to(self, name: str, *arguments: Any) -> None:
        self.count += 1
        due = self.count == self.number or (self._short and name == "write")
        if self.code == 0 and due and not self._short:
            self._short = name == "write"
            self.has_failed = True
            if not self._short:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return
        if due or (self.lasting and self.has_failed and name in CHANGING):
            self.has_failed, self._short = True, False
            code = self.code or errno.ENOSPC
            raise OSError(code, os.strerror(code))

    def write(self, fd: int, data: bytes | memoryview) -> int:
        self.about_to("write", fd, data)
        half = max(1, len(data) // 2) if self._short else len(data)
        return os.write(fd, data[:half])

    def close(self, fd: int) -> None:
        """One that fails lets the file go all the same, as systems do."""
        try:
            self.about_to("close", fd)
        finally:
            os.close(fd)

    def arm(self, number: int, code: int, *, lasting: bool) -> None:
        """Let the call fail that is this many from now."""
        self.number, self.code, self.lasting = self.count + number, code, lasting
        self.has_failed = False

    def heal(self) -> None:
        """From now on everything works."""
        self.number, self.lasting, self._short = 0, False, False


class Killed(BaseException):
    """The process is no more."""


class Ended(Watched, Unflushed):
    """The process is killed before the call with this number: none is made from then on."""

    def __init__(self, number: int) -> None:
        self.number, self.count = number, 0

    def about_to(self, name: str, *arguments: Any) -> None:
        self.count += 1
        if self.count >= self.number:
            raise Killed


FOLDER = -1
Names = dict[Path, int]
Image = dict[Path, bytes | None]
"""What a drive holds: files with their bytes, folders with None; paths relative to the store."""


class PowerCut(System):
    """Does everything for real, and keeps count of what a drive would still hold.

    Data is on the drive after `fsync`, a name after `fsync_folder` of its folder. Before that
    anything goes: a name's change may or may not be there, whatever came before or after it;
    data may be missing, cut anywhere, or be zeros.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self.names: Names = {}
        self.pending: list[Names] = []
        self.data: dict[int, bytes] = {}
        self.safe: dict[int, bytes] = {}
        self._open: dict[int, int] = {}
        self.after_each: Callable[[], None] = lambda: None
        for path in sorted(root.rglob("*")):
            self.names[path] = FOLDER if path.is_dir() else self._node(path.read_bytes())
        self.safe = dict(self.data)

    def _node(self, content: bytes) -> int:
        node = len(self.data)
        self.data[node], self.safe[node] = content, b""
        return node

    def _rename(self, changes: Names) -> None:
        self.pending.append(changes)
        self.after_each()

    def now(self) -> Names:
        """The names as running programs see them."""
        names = dict(self.names)
        for changes in self.pending:
            names |= changes
        return names

    def open(self, path: Path, flags: int) -> int:
        fd = super().open(path, flags)
        node = self.now().get(path, None)
        if node is None or node == FOLDER:
            node = self._node(b"")
            self._rename({path: node})
        self._open[fd] = node
        return fd

    def write(self, fd: int, data: bytes | memoryview) -> int:
        taken = super().write(fd, data)
        self.data[self._open[fd]] += bytes(data[:taken])
        self.after_each()
        return taken

    def truncate(self, fd: int, length: int) -> None:
        super().truncate(fd, length)
        node = self._open[fd]
        self.data[node] = self.data[node][:length]
        self.after_each()

    def fsync(self, fd: int) -> None:
        super().fsync(fd)
        self.safe[self._open[fd]] = self.data[self._open[fd]]
        self.after_each()

    def replace(self, source: Path, target: Path) -> None:
        super().replace(source, target)
        self._rename({target: self.now()[source], source: None})

    def link(self, source: Path, target: Path) -> None:
        super().link(source, target)
        self._rename({target: self.now()[source]})

    def unlink(self, path: Path) -> None:
        super().unlink(path)
        self._rename({path: None})

    def make_folder(self, path: Path) -> None:
        is_new = not path.exists()
        super().make_folder(path)
        if is_new:
            self._rename({path: FOLDER})

    def remove_folder(self, path: Path) -> None:
        super().remove_folder(path)
        self._rename({path: None})

    def fsync_folder(self, path: Path) -> None:
        super().fsync_folder(path)
        kept = []
        for changes in self.pending:
            if any(name.parent == path for name in changes):
                self.names |= changes
            else:
                kept.append(changes)
        self.pending = kept
        self.after_each()

    def images(self) -> Iterator[Image]:
        """Everything that the drive may hold if the power went now."""
        for subset in _subsets(self.pending):
            names = dict(self.names)
            for changes in subset:
                names |= changes
            yield from self._contents(names)

    def _contents(self, names: Names) -> Iterator[Image]:
        files = {path: node for path, node in names.items() if node is not None}
        files = {path: node for path, node in files.items() if self._is_reachable(path, files)}
        nodes = sorted({node for node in files.values() if node != FOLDER})
        choices = [list(_possible(self.safe[node], self.data[node])) for node in nodes]
        for contents in product(*choices):
            held = dict(zip(nodes, contents, strict=True))
            yield {
                path.relative_to(self.root): held.get(node) for path, node in files.items()
            }  # fmt: skip

    def _is_reachable(self, path: Path, files: Names) -> bool:
        return path.parent == self.root or (
            path.parent in files and self._is_reachable(path.parent, files)
        )


def _subsets(pending: list[Names]) -> Iterator[list[Names]]:
    """All of them while they are few, else those that lose one or all from some point on."""
    if len(pending) <= 7:
        sizes = range(len(pending) + 1)
        yield from chain.from_iterable(map(list, combinations(pending, size)) for size in sizes)
        return
    yield from (pending[:count] for count in range(len(pending) + 1))
    yield from (pending[:lost] + pending[lost + 1 :] for lost in range(len(pending)))


def _possible(safe: bytes, data: bytes) -> set[bytes]:
    if safe == data:
        return {data}
    start = next(
        (n for n, (a, b) in enumerate(zip(safe, data, strict=False)) if a != b),
        min(len(safe), len(data)),
    )
    fresh = len(data) - start
    cuts = {start + fresh * part // 4 for part in range(1, 4)} | {len(data) - 1}
    zeros = data[:start] + bytes(fresh)
    return {safe, data, zeros} | {data[:cut] for cut in cuts if cut > start}


def materialise(image: Image, folder: Path) -> None:
    """Write an image into an empty folder."""
    folder.mkdir(parents=True)
    for path, content in sorted(image.items()):
        if content is None:
            (folder / path).mkdir(parents=True, exist_ok=True)
        else:
            (folder / path).parent.mkdir(parents=True, exist_ok=True)
            (folder / path).write_bytes(content)
