"""MathML as one readable line. Source: W3C MathML 3.0, presentation elements."""

import re

from banks.importers.qti.tree import Node

_SUPERSCRIPTS = str.maketrans("0123456789+-−=()ni", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁻⁼⁽⁾ⁿⁱ")
_SUBSCRIPTS = str.maketrans("0123456789+-−=()aexn", "₀₁₂₃₄₅₆₇₈₉₊₋₋₌₍₎ₐₑₓₙ")
_INVISIBLE = dict.fromkeys(range(0x2061, 0x2065), "")
_SIGNS = set("=<>≤≥≠≈→⇌±×÷∈")
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
