"""Bytes in the interchange standard → drafts and findings: one item, or a package of many.

A package's items come in the order and under the headings of its test.
"""

import re
from collections.abc import Iterator

from msgspec import Struct

from banks.importers.archive import Archive, inner_path, open_archive
from banks.importers.common import Draft, Finding, Hints, Parsed
from banks.importers.qti.items import ItemReader, Resolve, UnsupportedItem
from banks.importers.qti.markup import Node, read_xml
from domain.errors import InputError
from domain.text import tidy

MANIFEST = "imsmanifest.xml"
_DEEPEST = 20


class Place(Struct, frozen=True):
    """Where an item's file is, and the headings and tags it stands under."""

    path: str
    headings: tuple[str, ...] = ()
    tags: tuple[str, ...] = ()


class Package:
    """The XML files of a content package. `problems` are what was wrong with the package itself."""

    def __init__(self, archive: Archive) -> None:
        self.title = ""
        self.problems: list[str] = []
        self._archive = archive
        self._seen: set[str] = set()

    def places(self) -> Iterator[Place]:
        """Every item once: first as the tests list them, then as the manifest does."""
        resources = self._resources()
        tags = {path: _keywords(node) for path, node in resources.items()}
        tests = [p for p, node in resources.items() if node.get("type").startswith("imsqti_test")]
        items = [p for p, node in resources.items() if node.get("type").startswith("imsqti_item")]
        listed = [place for test in tests for place in self._of_test(test)]
        for place in [*listed, *map(Place, items)]:
            if place.path not in self._seen:
                self._seen.add(place.path)
                yield Place(place.path, place.headings, tags.get(place.path, ()))

    def _resources(self) -> dict[str, Node]:
        """The manifest's resources by path; without a manifest, every XML file as an item."""
        root = self._document(MANIFEST)
        if root is None:
            paths = [path for path in self._archive.paths if path.lower().endswith(".xml")]
            return {
                path: Node("resource", {"type": "imsqti_item"})
                for path in paths
                if path != MANIFEST
            }
        named = [(inner_path(node.get("href")), node) for node in root.all("resource")]
        return {path: node for path, node in named if path}

    def _of_test(self, path: str) -> Iterator[Place]:
        root = self._document(path)
        if root is None:
            return
        self.title = self.title or tidy(root.get("title"))
        for part in root.nodes:
            if part.name == "testPart":
                yield from self._of_section(part, path, ())

    def _of_section(self, section: Node, path: str, headings: tuple[str, ...]) -> Iterator[Place]:
        for node in section.nodes:
            target = inner_path(node.get("href"), path)
            if node.name == "assessmentItemRef" and target:
                yield Place(target, headings)
            elif node.name == "assessmentItemRef":
                self.problems.append(f"{path} line {node.line}: {node.get('href')} leads outside")
            elif node.name == "assessmentSection":
                yield from self._of_section(node, path, (*headings, tidy(node.get("title"))))
            elif node.name == "assessmentSectionRef" and len(headings) < _DEEPEST:
                yield from self._of_reference(target, headings)

    def _of_reference(self, target: str, headings: tuple[str, ...]) -> Iterator[Place]:
        root = self._document(target)
        if root is not None:
            yield from self._of_section(root, target, (*headings, tidy(root.get("title"))))

    def _document(self, path: str) -> Node | None:
        try:
            return read_xml(self._archive.read(path))
        except InputError as problem:
            self.problems.append(str(problem) if path in str(problem) else f"{path}: {problem}")
            return None


def _keywords(resource: Node) -> tuple[str, ...]:
    """The keywords in a resource's learning-object metadata (IEEE LOM)."""
    keywords = [tidy(keyword.raw) for keyword in resource.all("keyword")]
    return tuple(dict.fromkeys(filter(None, keywords)))


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
        findings[:] = [Finding(finding.line, tidy(finding.reason)) for finding in findings]
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
    match = _VERSION.search(item.get("xmlns") or root.get("xmlns"))
    return f"QTI {match[1].replace('p', '.')}" if match else "QTI"
