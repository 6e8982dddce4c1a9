"""How the versions of the standard spell the same things.

Source: 1EdTech, QTI 2.2 and 3.0 specifications: namespaces, resource types and the move from
camel case to `qti-` names (from memory of the specifications).
"""

import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping

from msgspec import Struct

from banks.exporters.located import printable

_PAGE = {"p", "pre", "img"}
"""Elements of the page itself, spelled the same everywhere."""


class Version(Struct, frozen=True):
    """A version of the standard: its namespaces, resource types, and manner of spelling."""

    name: str
    items: str
    manifest: str
    schema: str
    schema_version: str
    suffix: str
    hyphens: bool

    def element(self, name: str, attributes: Mapping[str, str] | None = None) -> ET.Element:
        """A new element, given its name and attributes as 2.x spells them."""
        given = attributes or {}
        if not self.hyphens or name in _PAGE:
            return ET.Element(name, {key: printable(value) for key, value in given.items()})
        spelled = {_hyphened(key): printable(value) for key, value in given.items()}
        return ET.Element("qti-" + _hyphened(name), spelled)

    def add(self, parent: ET.Element, element: str, **attributes: str) -> ET.Element:
        """A new child element, its attributes spelled as in 2.x (`class_` for `class`)."""
        named = {key.rstrip("_"): value for key, value in attributes.items()}
        child = self.element(element, named)
        parent.append(child)
        return child

    def document(self, name: str, attributes: Mapping[str, str]) -> ET.Element:
        """A root element in the standard's namespace."""
        root = self.element(name, attributes)
        root.set("xmlns", self.items)
        return root


VERSION_2_2 = Version(
    name="2.2",
    items="http://www.imsglobal.org/xsd/imsqti_v2p2",
    manifest="http://www.imsglobal.org/xsd/imscp_v1p1",
    schema="QTIv2.2 Package",
    schema_version="1.0.0",
    suffix="xmlv2p2",
    hyphens=False,
)
VERSION_3_0 = Version(
    name="3.0",
    items="http://www.imsglobal.org/xsd/imsqtiasi_v3p0",
    manifest="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1",
    schema="QTI Package",
    schema_version="3.0.0",
    suffix="xmlv3p0",
    hyphens=True,
)


def to_bytes(root: ET.Element) -> bytes:
    """The document as UTF-8 with its declaration."""
    written: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return written


def _hyphened(name: str) -> str:
    return re.sub("[A-Z]", lambda match: "-" + match[0].lower(), name)
