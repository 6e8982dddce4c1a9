"""A bank → a content package: manifest, a test with the bank's headings, an item a question."""

import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Mapping, Sequence
from io import BytesIO
from itertools import groupby

from banks.exporters.qti.item_writer import VERSION_2_2, ItemWriter, Version, to_bytes
from banks.exporters.question_rows import LocatedQuestion, chosen, printable
from domain.questions import Bank

_LOM = "http://ltsc.ieee.org/xsd/LOM"
_TEST = "test.xml"
_DAY = (1980, 1, 1, 0, 0, 0)


def to_package(
    bank: Bank,
    version: Version = VERSION_2_2,
    figures: Mapping[str, bytes] | None = None,
    subjects: Sequence[str] = (),
) -> bytes:
    """The bank's active questions as a zip. `figures` are the pictures' bytes by file name.

    Raises InputError when there is no question.
    """
    placed = chosen(bank, subjects)
    pictures = {f"images/{name}": content for name, content in (figures or {}).items()}
    places = {name: f"../images/{name}" for name in figures or {}}
    names = _identifiers(placed)
    files = {"imsmanifest.xml": to_bytes(_manifest(bank, placed, names, version, list(pictures)))}
    files[_TEST] = to_bytes(_test(bank, placed, names, version))
    for each, name in zip(placed, names, strict=True):
        files[f"items/{name}.xml"] = to_bytes(ItemWriter(each, name, version, places).item())
    return _zipped(files | pictures)


def _identifiers(placed: Sequence[LocatedQuestion]) -> list[str]:
    """An identifier for each item, made from the question's own id and always the same for it."""
    taken: dict[str, int] = {}
    names = []
    for each in placed:
        name = "q_" + re.sub(r"[^\w.-]", "_", each.question.id, flags=re.ASCII)
        taken[name] = taken.get(name, 0) + 1
        names.append(name if taken[name] == 1 else f"{name}_.{taken[name]}")
    return names


def _test(
    bank: Bank, placed: Sequence[LocatedQuestion], names: Sequence[str], version: Version
) -> ET.Element:
    root = version.document("assessmentTest", {"identifier": "bank", "title": bank.title})
    modes = {"navigationMode": "nonlinear", "submissionMode": "individual"}
    part = version.add(root, "testPart", identifier="part", **modes)
    by_subject = groupby(zip(placed, names, strict=True), key=lambda pair: pair[0].subject.id)
    for at, (_, of_subject) in enumerate(by_subject, start=1):
        pairs = list(of_subject)
        section = _section(version, part, f"subject_{at}", pairs[0][0].subject.title)
        by_chapter = groupby(pairs, key=lambda pair: pair[0].chapter.id)
        for place, (_, of_chapter) in enumerate(by_chapter, start=1):
            items = list(of_chapter)
            title = items[0][0].chapter.title
            inner = _section(version, section, f"chapter_{at}_{place}", title)
            for _, name in items:
                href = f"items/{name}.xml"
                version.add(inner, "assessmentItemRef", identifier=name, href=href)
    return root


def _section(version: Version, parent: ET.Element, identifier: str, title: str) -> ET.Element:
    shape = {"identifier": identifier, "title": title, "visible": "true"}
    return version.add(parent, "assessmentSection", **shape)


def _manifest(
    bank: Bank,
    placed: Sequence[LocatedQuestion],
    names: Sequence[str],
    version: Version,
    pictures: Sequence[str],
) -> ET.Element:
    root = ET.Element("manifest", {"xmlns": version.manifest, "identifier": "manifest"})
    about = ET.SubElement(root, "metadata")
    ET.SubElement(about, "schema").text = version.schema
    ET.SubElement(about, "schemaversion").text = version.schema_version
    ET.SubElement(root, "organizations")
    resources = ET.SubElement(root, "resources")
    test = _resource(resources, "test", f"imsqti_test_{version.suffix}", _TEST)
    for each, name in zip(placed, names, strict=True):
        href = f"items/{name}.xml"
        item = _resource(resources, name, f"imsqti_item_{version.suffix}", href)
        _keywords(item, each.question.tags)
        shown = {f"images/{figure.file}" for figure in each.question.figures}
        for path in sorted(shown & set(pictures)):
            ET.SubElement(item, "file", href=path)
        ET.SubElement(test, "dependency", identifierref=name)
    return root


def _resource(parent: ET.Element, identifier: str, kind: str, href: str) -> ET.Element:
    shape = {"identifier": identifier, "type": kind, "href": href}
    resource = ET.SubElement(parent, "resource", shape)
    ET.SubElement(resource, "file", href=href)
    return resource


def _keywords(resource: ET.Element, tags: Sequence[str]) -> None:
    if tags:
        about = ET.Element("metadata")
        resource.insert(0, about)
        general = ET.SubElement(ET.SubElement(about, "lom", xmlns=_LOM), "general")
        for tag in tags:
            ET.SubElement(ET.SubElement(general, "keyword"), "string").text = printable(tag)


def _zipped(files: Mapping[str, bytes]) -> bytes:
    """The files as a zip that is the same bytes for the same content."""
    stream = BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
        for path, content in files.items():
            packed.writestr(zipfile.ZipInfo(path, _DAY), content, zipfile.ZIP_DEFLATED)
    return stream.getvalue()
