"""XML as a small tree with names that are the same in all versions of the standard."""

import re
import xml.sax
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from io import BytesIO

from domain.errors import InputError

MOST_DEPTH = 120
MOST_NODES = 500_000


@dataclass(slots=True)
class Node:
    """An element: its plain name, attributes, children (text in between) and line in the file."""

    name: str
    attributes: dict[str, str] = field(default_factory=dict)
    children: "list[Node | str]" = field(default_factory=list)
    line: int = 0

    def get(self, attribute: str, default: str = "") -> str:
        """The attribute's value."""
        return self.attributes.get(attribute, default)

    @property
    def nodes(self) -> "list[Node]":
        """The child elements."""
        return [child for child in self.children if isinstance(child, Node)]

    def walk(self) -> "Iterator[Node]":
        """The node and every element below it, in the order of the document."""
        waiting = [self]
        while waiting:
            node = waiting.pop()
            yield node
            waiting.extend(reversed(node.nodes))

    def all(self, *names: str) -> "list[Node]":
        """Every element of these names, itself included."""
        return [node for node in self.walk() if node.name in names]

    def first(self, *names: str) -> "Node | None":
        """The first element of these names, itself included."""
        return next((node for node in self.walk() if node.name in names), None)

    def child(self, name: str) -> "Node | None":
        """The first child element of that name."""
        return next((node for node in self.nodes if node.name == name), None)

    @property
    def raw(self) -> str:
        """All text below, as it stands, without space around it."""
        parts = (c if isinstance(c, str) else c.raw for c in self.children)
        return "".join(parts).strip(" \t\r\n")


@lru_cache(maxsize=4096)
def plain_name(name: str) -> str:
    """`qti:assessmentItem`, `qti-assessment-item` and `assessmentItem` are the same name."""
    local = name.rpartition(":")[2].removeprefix("qti-")
    if local.startswith("data-"):
        return local
    return re.sub(r"-([a-z])", lambda match: match[1].upper(), local)


def read_xml(data: bytes) -> Node:
    """The document's root. Raises InputError for broken XML, entities, and trees out of bounds."""
    from defusedxml import DefusedXmlException
    from defusedxml.sax import make_parser

    builder = _Builder()
    parser = make_parser()
    parser.forbid_entities = parser.forbid_external = True
    parser.setContentHandler(builder)
    try:
        parser.parse(BytesIO(data))
    except xml.sax.SAXParseException as problem:
        line = problem.getLineNumber()
        raise InputError(f"line {line}: this is not XML ({problem.getMessage()}).") from None
    except DefusedXmlException:
        raise InputError("it declares its own entities, which is not safe to read.") from None
    except (LookupError, ValueError, xml.sax.SAXException) as problem:
        raise InputError(f"this is not XML ({problem}).") from None
    return builder.root.nodes[0]


class _Builder(xml.sax.ContentHandler):
    """Collects the tree while the parser runs."""

    def __init__(self) -> None:
        super().__init__()
        self.root = Node("")
        self._open = [self.root]
        self._count = 0
        self._line: Callable[[], int] = lambda: 0

    def setDocumentLocator(self, locator: xml.sax.xmlreader.Locator) -> None:  # noqa: N802
        self._line = lambda: locator.getLineNumber() or 0

    def startElement(self, name: str, attrs: xml.sax.xmlreader.AttributesImpl) -> None:  # noqa: N802
        self._count += 1
        if len(self._open) > MOST_DEPTH or self._count > MOST_NODES:
            raise InputError("its elements are nested too deep or are too many to be questions.")
        node = Node(plain_name(name), _attributes(attrs), line=self._line())
        self._open[-1].children.append(node)
        self._open.append(node)

    def endElement(self, name: str) -> None:  # noqa: N802
        self._open.pop()

    def characters(self, content: str) -> None:
        self._open[-1].children.append(content)


def _attributes(given: xml.sax.xmlreader.AttributesImpl) -> dict[str, str]:
    """The attributes by plain name; of the namespaces only the standard's own, as `xmlns`."""
    spaces = [value for key, value in given.items() if key.startswith("xmlns") and "qti" in value]
    named = {plain_name(k): v for k, v in given.items() if not k.startswith("xmlns")}
    return named | ({"xmlns": spaces[0]} if spaces else {})
