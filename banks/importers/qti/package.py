"""A content package: the manifest's items, in the order and under the headings of its test."""

from collections.abc import Iterator

from msgspec import Struct

from banks.importers.archive import Archive, inner_path
from banks.importers.qti.tree import Node, read_xml
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
            found = [path for path in self._archive.paths if path.lower().endswith(".xml")]
            return {
                path: Node("resource", {"type": "imsqti_item"})
                for path in found
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
    said = [tidy(keyword.raw) for keyword in resource.all("keyword")]
    return tuple(dict.fromkeys(filter(None, said)))
