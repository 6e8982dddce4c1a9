"""Bytes in the interchange standard → drafts and findings: one item, or a package of many."""

import re

from banks.importers.archive import Archive, inner_path, open_archive
from banks.importers.common import Draft, Finding, Hints, Parsed
from banks.importers.qti.items import ItemReader, Resolve, UnsupportedItem
from banks.importers.qti.package import Package, Place
from banks.importers.qti.tree import Node, read_xml
from domain.errors import InputError
from domain.text import tidy

_VERSION = re.compile(r"v(2p1|2p2|3p0)")


def parse(data: bytes, hints: Hints | None = None) -> Parsed:
    """An item, or a zip of items. Lines in findings count items in a package, else file lines.

    Raises InputError for a damaged or unsafe file, and for one without a single item.
    """
    hints = hints or Hints()
    parsed = Parsed(format="QTI", drafts=[], skipped=[], warnings=[])
    if data[:2] == b"PK":
        with open_archive(data) as archive:
            _Packaged(archive, parsed, hints).read()
    else:
        _read_document(data, parsed, hints)
    for findings in (parsed.skipped, parsed.warnings):
        findings[:] = [Finding(found.line, tidy(found.reason)) for found in findings]
    if not parsed.drafts and not parsed.skipped:
        raise InputError(f"{hints.name or 'This file'} holds no assessmentItem to import.")
    return parsed


def _read_document(data: bytes, parsed: Parsed, hints: Hints) -> None:
    try:
        root = read_xml(data)
    except InputError as problem:
        raise InputError(f"{hints.name or 'This file'}: {problem}") from None
    for item in root.all("assessmentItem"):
        _take(parsed, ItemReader(item, lambda href: None), item.line, "")
        parsed.format = _format(item, root)


class _Packaged:
    """Reads a package's items one after another."""

    def __init__(self, archive: Archive, parsed: Parsed, hints: Hints) -> None:
        self._archive = archive
        self._parsed = parsed
        self._progress = hints.progress
        self._unpacked: dict[str, bytes | None] = {}

    def read(self) -> None:
        """Fills `parsed`; what is wrong with one item never stops the others."""
        package = Package(self._archive)
        places = list(package.places())
        for order, place in enumerate(places, start=1):
            self._read_item(place, order)
            if self._progress and order % 100 == 0:
                self._progress(order / len(places))
        self._parsed.title = package.title
        self._parsed.warnings += [Finding(0, problem) for problem in package.problems]

    def _read_item(self, place: Place, order: int) -> None:
        try:
            root = read_xml(self._archive.read(place.path))
        except InputError as problem:
            self._parsed.skipped.append(Finding(order, f"{place.path}: {problem}"))
            return
        for item in root.all("assessmentItem"):
            passages = [body for href in _shared(item) for body in self._passage(href, place.path)]
            reader = ItemReader(item, self._resolver(place.path), passages)
            draft = _take(self._parsed, reader, order, f"{place.path} line {item.line}: ")
            if draft:
                draft.line, draft.tags = order, place.tags
                draft.subject, draft.chapter = _headings(place.headings)
            self._parsed.format = _format(item, root)

    def _resolver(self, base: str) -> Resolve:
        return lambda href: self._beside(inner_path(href, base)) if href else None

    def _beside(self, path: str) -> bytes | None:
        """A file that items refer to; it is unpacked once, however many show it."""
        if path not in self._unpacked:
            try:
                self._unpacked[path] = self._archive.read(path)
            except InputError:
                self._unpacked[path] = None
        return self._unpacked[path]

    def _passage(self, href: str, base: str) -> list[Node]:
        data = self._resolver(base)(href)
        try:
            return read_xml(data).all("stimulusBody") if data else []
        except InputError:
            return []


def _take(parsed: Parsed, reader: ItemReader, line: int, where: str) -> Draft | None:
    try:
        draft = reader.draft()
    except UnsupportedItem as reason:
        parsed.skipped.append(Finding(line, f"{where}{reason}"))
        return None
    parsed.drafts.append(draft)
    parsed.warnings += [Finding(line, f"{where}{note}") for note in reader.notes]
    return draft


def _shared(item: Node) -> list[str]:
    return [node.get("href") for node in item.nodes if node.name == "assessmentStimulusRef"]


def _headings(headings: tuple[str, ...]) -> tuple[str, str]:
    """(subject, chapter): the outermost heading is the subject, a lone one the chapter."""
    if len(headings) < 2:
        return "", "".join(headings)
    return headings[0], " / ".join(filter(None, headings[1:]))


def _format(item: Node, root: Node) -> str:
    found = _VERSION.search(item.get("xmlns") or root.get("xmlns"))
    return f"QTI {found[1].replace('p', '.')}" if found else "QTI"
