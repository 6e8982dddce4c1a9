"""A strict reader of content packages: order, attributes and references as the standard has them.

Source: 1EdTech, QTI 2.2 and 3.0 ASI information models, the parts that our exports use (from
memory of the specifications; where the schemas are at hand, `XSD_DIR` validates by them too).
"""

import posixpath
import re
import xml.etree.ElementTree as ET

IDENTIFIER = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*")
FLOW = ["p", "pre", "div", "img", "choiceInteraction", "rubricBlock"]
INLINE = ["img", "textEntryInteraction"]
EXPRESSIONS = ["match", "equal", "variable", "correct", "baseValue", "mapResponse"]

CHILDREN = {
    "assessmentItem": [
        *("responseDeclaration*", "outcomeDeclaration*", "itemBody?", "responseProcessing?"),
        "modalFeedback*",
    ],
    "responseDeclaration": ["correctResponse?", "mapping?"],
    "correctResponse": ["value+"],
    "mapping": ["mapEntry+"],
    "responseProcessing": [["responseCondition", "setOutcomeValue"]],
    "responseCondition": ["responseIf", "responseElse?"],
    "responseIf": [EXPRESSIONS, "setOutcomeValue*"],
    "setOutcomeValue": [EXPRESSIONS],
    "itemBody": [FLOW],
    "choiceInteraction": ["prompt?", "simpleChoice+"],
    "simpleChoice": [["p", "pre"]],
    "modalFeedback": [["p", "pre", "contentBody"]],
    "rubricBlock": [["p", "pre", "contentBody"]],
    "contentBody": [FLOW],
    "p": [INLINE],
    "pre": [INLINE],
    "match": [EXPRESSIONS],
    "equal": [EXPRESSIONS],
    "assessmentTest": ["testPart+"],
    "testPart": ["assessmentSection+"],
    "assessmentSection": [["assessmentSection", "assessmentItemRef"]],
    "manifest": ["metadata?", "organizations", "resources"],
    "resource": ["metadata?", "file*", "dependency*"],
}
NEEDED = {
    "assessmentItem": {"identifier", "title", "adaptive", "timeDependent"},
    "responseDeclaration": {"identifier", "cardinality", "baseType"},
    "outcomeDeclaration": {"identifier", "cardinality", "baseType"},
    "mapEntry": {"mapKey", "mappedValue"},
    "choiceInteraction": {"responseIdentifier", "shuffle", "maxChoices"},
    "textEntryInteraction": {"responseIdentifier"},
    "simpleChoice": {"identifier"},
    "modalFeedback": {"outcomeIdentifier", "identifier", "showHide"},
    "rubricBlock": {"view"},
    "equal": {"toleranceMode", "tolerance"},
    "setOutcomeValue": {"identifier"},
    "baseValue": {"baseType"},
    "img": {"src", "alt"},
    "testPart": {"identifier", "navigationMode", "submissionMode"},
    "assessmentTest": {"identifier", "title"},
    "assessmentSection": {"identifier", "title", "visible"},
    "assessmentItemRef": {"identifier", "href"},
    "resource": {"identifier", "type", "href"},
    "dependency": {"identifierref"},
    "file": {"href"},
}
PAGE = {"p", "pre", "img", "div"}


def problems_of(package: dict[str, bytes], *, hyphens: bool) -> list[str]:
    """What is wrong with a package given as path → bytes; `hyphens` for version 3.0's names."""
    problems = []
    manifest = ET.fromstring(package["imsmanifest.xml"])
    listed = [node.get("href") for node in manifest.iter() if local(node) == "file"]
    problems += [f"{href} is not packed" for href in listed if href not in package]
    problems += [f"{p} not listed" for p in package if p not in listed and p != "imsmanifest.xml"]
    names = [node.get("identifier") for node in manifest.iter() if local(node) == "resource"]
    problems += ["an identifier is used twice"] if len(set(names)) < len(names) else []
    problems += _element(manifest, hyphens=False)
    for path, content in package.items():
        if path.endswith(".xml") and path != "imsmanifest.xml":
            root = ET.fromstring(content)
            problems += [f"{path}: {each}" for each in _element(root, hyphens=hyphens)]
            problems += [f"{path}: {each}" for each in _references(root, path, package)]
    return problems


def local(node: ET.Element) -> str:
    """The name without namespace, `qti-` and hyphens."""
    name = node.tag.rpartition("}")[2].removeprefix("qti-")
    return re.sub("-([a-z])", lambda match: match[1].upper(), name)


def _plain(attribute: str) -> str:
    return re.sub("-([a-z])", lambda match: match[1].upper(), attribute)


def _element(node: ET.Element, *, hyphens: bool) -> list[str]:
    name, problems = local(node), []
    spelled = node.tag.rpartition("}")[2]
    if hyphens and name not in PAGE and not re.fullmatch("qti-[a-z-]+", spelled):
        problems.append(f"{spelled} is not spelled as in 3.0")
    attributes = {_plain(key) for key in node.attrib}
    missing = NEEDED.get(name, set()) - attributes
    problems += [f"{name} lacks {sorted(missing)}"] if missing else []
    identifier = node.get("identifier", "x")
    problems += [] if IDENTIFIER.fullmatch(identifier) else [f"{identifier} is no identifier"]
    if name in CHILDREN:
        problems += _order(name, [local(child) for child in node])
    for child in node:
        problems += _element(child, hyphens=hyphens)
    return problems


def _order(name: str, children: list[str]) -> list[str]:
    pattern = ""
    for part in CHILDREN[name]:
        if isinstance(part, list):
            pattern += "(" + "|".join(f"{each};" for each in part) + ")*"
        else:
            pattern += f"({part.rstrip('*+?')};){part[len(part.rstrip('*+?')) :]}"
    held = "".join(f"{child};" for child in children)
    return [] if re.fullmatch(pattern, held) else [f"{name} holds {held}"]


def _references(root: ET.Element, path: str, package: dict[str, bytes]) -> list[str]:
    """Files, responses and outcomes that are spoken of are there."""
    nodes = list(root.iter())
    hrefs = [node.get("href") or node.get("src") for node in nodes]
    inside = [posixpath.normpath(posixpath.join(posixpath.dirname(path), h)) for h in hrefs if h]
    missing = [f"{target} is not there" for target in inside if target not in package]
    declared = {node.get("identifier") for node in nodes if local(node).endswith("Declaration")}
    spoken = [
        node.get(key) if key != "identifier" else node.get("identifier")
        for node in nodes
        for key in _speaking(local(node))
        if node.get(key)
    ]
    return missing + [f"{name} is not declared" for name in spoken if name not in declared]


def _speaking(name: str) -> tuple[str, ...]:
    if name in ("variable", "correct", "mapResponse", "setOutcomeValue"):
        return ("identifier",)
    if name.endswith("Interaction"):
        return ("responseIdentifier", "response-identifier")
    return ("outcomeIdentifier", "outcome-identifier") if name == "modalFeedback" else ()
