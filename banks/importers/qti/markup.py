"""QTI markup: XML as a small tree with names alike in all versions, and what it says as plain text.

Paragraphs, lists, tables, ruby, formulas and figures become lines.
"""

import posixpath
import re
import xml.sax
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from io import BytesIO
from urllib.parse import unquote

from domain.errors import InputError
from domain.text import tidy

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


_SUPERSCRIPTS = str.maketrans("0123456789+-−=()ni", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁻⁼⁽⁾ⁿⁱ")
_SUBSCRIPTS = str.maketrans("0123456789+-−=()aexn", "₀₁₂₃₄₅₆₇₈₉₊₋₋₌₍₎ₐₑₓₙ")
_INVISIBLE = dict.fromkeys(range(0x2061, 0x2065), "")
_SIGNS = set("=<>≤≥≠≈→⇌±×÷∈")
HINT_BUTTON = "endAttemptInteraction"
"""What an item may hold beside its question; it asks nothing."""
_LEFT_OUT = {"annotation", "annotationXml", "annotation-xml", "mphantom"}


def math_text(node: Node) -> str:
    """The formula in one line: `x²`, `(a+b)/2`, `√(x)`; its `alttext` when it holds nothing."""
    return _row(node) or node.get("alttext")


def superscript(text: str) -> str:
    """Raised text: with Unicode's superscripts where they exist, else `^(…)`."""
    return _script(text, _SUPERSCRIPTS, "^")


def subscript(text: str) -> str:
    """Lowered text: with Unicode's subscripts where they exist, else `_(…)`."""
    return _script(text, _SUBSCRIPTS, "_")


def _script(text: str, table: dict[int, int], sign: str) -> str:
    if not text:
        return ""
    if all(ord(character) in table for character in text):
        return text.translate(table)
    return sign + (text if len(text) == 1 else f"({text})")


def _row(node: Node) -> str:
    return "".join(_element(child) for child in node.nodes if child.name not in _LEFT_OUT)


def _element(node: Node) -> str:
    match node.name:
        case "mi" | "mn" | "ms":
            return node.raw
        case "mo":
            return _operator(node.raw)
        case "mtext":
            return f" {node.raw} " if node.raw else " "
        case "mspace":
            return " "
        case "mfenced":
            inner = node.get("separators", ",")[:1].join(map(_element, node.nodes))
            return node.get("open", "(") + inner + node.get("close", ")")
        case "mtable":
            return "[" + "; ".join(map(_element, node.nodes)) + "]"
        case "mtr" | "mlabeledtr":
            return ", ".join(map(_row, node.nodes))
        case _:
            return _layout(node)


def _layout(node: Node) -> str:
    parts = [_element(child) for child in node.nodes if child.name not in _LEFT_OUT]
    match node.name, parts:
        case "mfrac", [above, below]:
            return f"{_grouped(above)}/{_grouped(below)}"
        case "msqrt", _:
            return f"√({''.join(parts)})"
        case "mroot", [radicand, index]:
            return f"{superscript(index)}√({radicand})"
        case "msup" | "mover", [base, raised]:
            return base + superscript(raised)
        case "msub" | "munder", [base, lowered]:
            return base + subscript(lowered)
        case "msubsup" | "munderover", [base, lowered, raised]:
            return base + subscript(lowered) + superscript(raised)
        case _:
            return "".join(parts)


def _operator(sign: str) -> str:
    visible = sign.translate(_INVISIBLE)
    return f" {visible} " if visible in _SIGNS else visible


def _grouped(text: str) -> str:
    return text if re.fullmatch(r"[\w.√]+|\(.*\)", text) else f"({text})"


BLANK = "\x00"
"""Stands where the candidate types or picks; XML can't hold this character itself."""

_BLOCKS = {
    *("p", "div", "itemBody", "prompt", "blockquote", "contentBody", "stimulusBody", "rubricBlock"),
    *("h1", "h2", "h3", "h4", "h5", "h6", "dl", "dt", "dd", "figure", "figcaption", "address"),
    *("section", "article", "caption", "modalFeedback", "feedbackBlock", "templateBlock", "pre"),
    *("ul", "ol", "table", "simpleChoice"),
}
_INTERACTION = re.compile(r"\w+Interaction$")
_UNSEEN = {"feedbackInline", "feedbackBlock", "script", "style", "rp", "stylesheet", "cardEntry"}
_PICTURES = {"img", "object", "image"}
_SPACE = " \t\r\n"
_KEPT_SPACE = {" ": "\x01", "\t": "\x02", "\n": "\x03", "\r": ""}


class TextReader:
    """Turns elements into text. `figures` collects (href, alternative text) on the way.

    `leave_out` says which elements are not part of the text (the interaction, feedback).
    """

    def __init__(self, leave_out: Callable[[Node], bool] = lambda node: False) -> None:
        self.figures: list[tuple[str, str]] = []
        self._leave_out = leave_out

    def read(self, *nodes: Node) -> str:
        """The text of the nodes, each in a line of its own, without space around it."""
        return tidy(_folded("\n".join(self._block(node) for node in nodes)))

    def _block(self, node: Node) -> str:
        return self._element(node) if node.name in ("table", "pre") else self._inside(node)

    def _inside(self, node: Node) -> str:
        return "".join(
            re.sub(f"[{_SPACE}]+", " ", child) if isinstance(child, str) else self._element(child)
            for child in node.children
        )

    def _element(self, node: Node) -> str:
        if node.name in _UNSEEN or node.name == HINT_BUTTON or self._leave_out(node):
            return ""
        if _INTERACTION.match(node.name):
            return BLANK
        special = _SPECIAL.get(node.name)
        text = special(self, node) if special else self._inside(node)
        return f"\n{text}\n" if node.name in _BLOCKS else text

    def _picture(self, node: Node) -> str:
        href = node.get("src") or node.get("data") or node.get("href")
        alt = node.get("alt") or self._inside(node).strip() or node.get("label")
        if node.name == "object" and not node.get("type", "image/").startswith("image/"):
            return f"[media: {alt}]"
        self.figures.append((href, alt))
        return f"[figure: {alt or posixpath.basename(unquote(href))}]"

    def _table(self, node: Node) -> str:
        caption = [self._inside(child) for child in node.nodes if child.name == "caption"]
        rows = [
            " | ".join(self.read(cell).replace("\n", " ") for cell in row.nodes)
            for row in _rows(node)
        ]
        return "\n".join(caption + rows)

    def _ruby(self, node: Node) -> str:
        base = "".join(
            self._element(child) if isinstance(child, Node) else child.strip(_SPACE)
            for child in node.children
            if not (isinstance(child, Node) and child.name in ("rt", "rtc", "rp"))
        )
        reading = "".join(self._inside(child).strip() for child in node.nodes if child.name == "rt")
        return f"{base.strip()}({reading})" if reading else base

    def _list(self, node: Node) -> str:
        items = [self.read(child) for child in node.nodes if child.name == "li"]
        marks = [f"{i}. " if node.name == "ol" else "- " for i in range(1, len(items) + 1)]
        return "\n".join(map("".join, zip(marks, items, strict=True)))

    def _preformatted(self, node: Node) -> str:
        return "".join(_KEPT_SPACE.get(character, character) for character in self._plain(node))

    def _plain(self, node: Node) -> str:
        return "".join(
            child if isinstance(child, str) else self._element(child) for child in node.children
        )


_SPECIAL: dict[str, Callable[[TextReader, Node], str]] = {
    **dict.fromkeys(_PICTURES, TextReader._picture),
    "math": lambda reader, node: math_text(node),
    "br": lambda reader, node: "\n",
    "sup": lambda reader, node: superscript(reader._inside(node).strip(_SPACE)),
    "sub": lambda reader, node: subscript(reader._inside(node).strip(_SPACE)),
    "q": lambda reader, node: f"“{reader._inside(node)}”",
    "table": TextReader._table,
    "ruby": TextReader._ruby,
    "ul": TextReader._list,
    "ol": TextReader._list,
    "pre": TextReader._preformatted,
    "audio": lambda reader, node: f"[media: {reader._inside(node).strip()}]",
    "video": lambda reader, node: f"[media: {reader._inside(node).strip()}]",
}


def _rows(table: Node) -> Iterator[Node]:
    """The table's own rows; those of tables inside its cells belong to the cells."""
    for child in table.nodes:
        if child.name == "tr":
            yield child
        elif child.name in ("thead", "tbody", "tfoot"):
            yield from (row for row in child.nodes if row.name == "tr")


def _folded(text: str) -> str:
    """One line a paragraph: space folded, empty lines and lone blanks to fill in dropped."""
    lines: Iterable[str] = (re.sub(" +", " ", line).strip(_SPACE) for line in text.split("\n"))
    kept = "\n".join(line for line in lines if line and line != BLANK)
    for character, stand_in in _KEPT_SPACE.items():
        kept = kept.replace(stand_in, character) if stand_in else kept
    return kept.replace(BLANK, "____")
