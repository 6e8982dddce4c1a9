"""Content packages in the open interchange standard, 1EdTech QTI 2.2 and 3.0.

An item per question, a test with the bank's headings, and the manifest.
"""

import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Mapping, Sequence
from io import BytesIO
from itertools import groupby

from msgspec import Struct

from banks.exporters.question_rows import LocatedQuestion, chosen, printable
from domain.questions import LETTERS, Bank, Kind, Option, Question

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


RESPONSE, SCORE, CHOSEN, FEEDBACK = "RESPONSE", "SCORE", "CHOSEN", "FEEDBACK"
_TOLD = "EXPLANATION"
_IDENTIFIER = re.compile(r"[A-Za-z_][\w.-]{0,31}", re.ASCII)
_FOLDED = re.compile(r"[^ \t\n]+(?:[ \n][^ \t\n]+)*")
"""Text whose white space survives the folding of a page: single spaces and line ends only."""


class ItemWriter:
    """Writes one item. `figures` maps the figures that are at hand to their place in the zip."""

    def __init__(
        self,
        located: LocatedQuestion,
        identifier: str,
        version: Version,
        figures: Mapping[str, str],
    ) -> None:
        self._version = version
        self._add = version.add
        self._question = located.question
        self._figures = figures
        self._names = _choice_names(self._choices)
        headings = f"{located.subject.title} – {located.chapter.title} – {located.question.number}"
        self._item = version.document(
            "assessmentItem",
            {
                "identifier": identifier,
                "title": headings,
                "label": str(located.question.number),
                "adaptive": "false",
                "timeDependent": "false",
            },
        )

    def item(self) -> ET.Element:
        """The whole item; a bare question has a body in which nothing is asked."""
        asked = bool(self._question.stem or self._question.answer_key or self._question.options)
        if asked:
            self._declare()
        self._body(asked=asked)
        if asked:
            self._process()
        for identifier, outcome, text in self._told():
            attributes = {"outcomeIdentifier": outcome, "identifier": identifier}
            feedback = self._add(self._item, "modalFeedback", **attributes, showHide="show")
            inner = self._add(feedback, "contentBody") if self._version.hyphens else feedback
            self._write(inner, text)
        return self._item

    @property
    def _is_choice(self) -> bool:
        return self._question.kind not in (Kind.TEXT, Kind.NUMERIC)

    @property
    def _choices(self) -> tuple[Option, ...]:
        """The options; those that only the printed bank has are letters without a text."""
        question = self._question
        if question.options or not self._is_choice:
            return question.options
        needed = max([LETTERS.index(key) for key in question.answer_key if key in LETTERS] + [3])
        return tuple(Option(id=letter, text="") for letter in LETTERS[: needed + 1])

    @property
    def _base_type(self) -> str:
        kinds = {Kind.TEXT: "string", Kind.NUMERIC: "float"}
        return kinds.get(self._question.kind, "identifier")

    @property
    def _scores(self) -> dict[str, float]:
        """Marks by value, where the key alone does not say them."""
        question = self._question
        if self._is_choice and question.credit:
            return {self._names[key]: score for key, score in question.credit.items()}
        keys = question.answer_key if self._names_the_key else ()
        return dict.fromkeys(map(self._value, keys), 1.0)

    @property
    def _names_the_key(self) -> bool:
        """Whether any one of several values is right: the first is the key, all score 1."""
        question = self._question
        several = len(question.answer_key) > 1 and question.kind is not Kind.MULTIPLE
        return several and not question.credit

    def _value(self, key: str) -> str:
        return self._names.get(key, key) if self._is_choice else key

    def _declare(self) -> None:
        question = self._question
        cardinality = "multiple" if question.kind is Kind.MULTIPLE else "single"
        response = self._outcome("responseDeclaration", RESPONSE, cardinality, self._base_type)
        if question.answer_key:
            correct = self._add(response, "correctResponse")
            for key in question.answer_key[:1] if self._names_the_key else question.answer_key:
                self._add(correct, "value").text = printable(self._value(key))
        if self._scores:
            mapping = self._add(response, "mapping", defaultValue="0")
            for value, score in self._scores.items():
                self._add(mapping, "mapEntry", mapKey=value, mappedValue=repr(score))
        self._outcome("outcomeDeclaration", SCORE, "single", "float")
        if self._is_choice:
            self._outcome("outcomeDeclaration", CHOSEN, cardinality, "identifier")
        self._outcome("outcomeDeclaration", FEEDBACK, "single", "identifier")

    def _outcome(self, element: str, name: str, cardinality: str, base_type: str) -> ET.Element:
        shape = {"identifier": name, "cardinality": cardinality, "baseType": base_type}
        return self._add(self._item, element, **shape)

    def _body(self, *, asked: bool) -> None:
        body = self._add(self._item, "itemBody")
        self._write(body, self._question.stem)
        if asked and self._is_choice:
            self._choice_interaction(body)
        elif asked:
            line = self._add(body, "p")
            self._add(line, "textEntryInteraction", responseIdentifier=RESPONSE)
        if self._question.reference:
            block = self._add(body, "rubricBlock", view="author", class_="reference")
            if self._version.hyphens:
                block.set("use", "ext:reference")
                block = self._add(block, "contentBody")
            self._write(block, self._question.reference)

    def _choice_interaction(self, body: ET.Element) -> None:
        question = self._question
        interaction = self._add(
            body,
            "choiceInteraction",
            responseIdentifier=RESPONSE,
            shuffle=str(question.shuffle).lower(),
            maxChoices="0" if question.kind is Kind.MULTIPLE else "1",
            class_=question.kind,
        )
        for option in self._choices:
            name = self._names[option.id]
            choice = self._add(interaction, "simpleChoice", identifier=name)
            if option.fixed:
                choice.set("fixed", "true")
            self._write(choice, option.text)

    def _process(self) -> None:
        rules = self._add(self._item, "responseProcessing")
        if self._scores:
            points = self._add(rules, "setOutcomeValue", identifier=SCORE)
            self._add(points, "mapResponse", identifier=RESPONSE)
        elif self._question.answer_key:
            self._score_the_key(rules)
        if self._is_choice:
            chosen = self._add(rules, "setOutcomeValue", identifier=CHOSEN)
            self._add(chosen, "variable", identifier=RESPONSE)
        outcome = self._add(rules, "setOutcomeValue", identifier=FEEDBACK)
        self._add(outcome, "baseValue", baseType="identifier").text = _TOLD

    def _score_the_key(self, rules: ET.Element) -> None:
        condition = self._add(rules, "responseCondition")
        right = self._add(condition, "responseIf")
        if self._question.kind is Kind.NUMERIC:
            bound = repr(self._question.tolerance)
            mode = {"toleranceMode": "absolute", "tolerance": f"{bound} {bound}"}
            test = self._add(right, "equal", **mode)
        else:
            test = self._add(right, "match")
        self._add(test, "variable", identifier=RESPONSE)
        self._add(test, "correct", identifier=RESPONSE)
        points = self._add(right, "setOutcomeValue", identifier=SCORE)
        self._add(points, "baseValue", baseType="float").text = "1"

    def _told(self) -> list[tuple[str, str, str]]:
        """(identifier, outcome, text) of every explanation."""
        of_options = [(self._names[o.id], CHOSEN, o.explanation) for o in self._choices]
        feedbacks = [*of_options, (_TOLD, FEEDBACK, self._question.explanation)]
        return [each for each in feedbacks if each[2]]

    def _write(self, parent: ET.Element, text: str) -> None:
        """Paragraphs, a line each; preformatted where folding the white space would lose some."""
        text = printable(text)
        if text and not _FOLDED.fullmatch(text):
            self._write_line(self._add(parent, "pre"), text)
        elif text:
            for line in text.split("\n"):
                self._write_line(self._add(parent, "p"), line)

    def _write_line(self, parent: ET.Element, line: str) -> None:
        """Text with its figures in their places."""
        last: ET.Element | None = None
        for part in _split_figures(line, self._question, self._figures):
            if not isinstance(part, str):
                last = self._add(parent, "img", src=part[0], alt=part[1])
            elif last is None:
                parent.text = part
            else:
                last.tail = part


def _split_figures(
    text: str, question: Question, figures: Mapping[str, str]
) -> list[str | tuple[str, str]]:
    """The text in pieces: words, and (place, alternative text) where a figure stands."""
    places = {
        printable(f"[figure: {figure.alt}]"): (figures[figure.file], figure.alt)
        for figure in question.figures
        if figure.file in figures
    }
    if not places:
        return [text]
    pieces = re.split("(" + "|".join(map(re.escape, places)) + ")", text)
    return [places.get(piece, piece) for piece in pieces if piece]


def _choice_names(options: tuple[Option, ...]) -> dict[str, str]:
    """Option id → an identifier that the standard allows; all their own or none."""
    if all(_IDENTIFIER.fullmatch(option.id) and option.id != _TOLD for option in options):
        return {option.id: option.id for option in options}
    return {option.id: f"option_{place}" for place, option in enumerate(options, start=1)}


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
    located = chosen(bank, subjects)
    pictures = {f"images/{name}": content for name, content in (figures or {}).items()}
    places = {name: f"../images/{name}" for name in figures or {}}
    names = _identifiers(located)
    files = {"imsmanifest.xml": to_bytes(_manifest(bank, located, names, version, list(pictures)))}
    files[_TEST] = to_bytes(_test(bank, located, names, version))
    for each, name in zip(located, names, strict=True):
        files[f"items/{name}.xml"] = to_bytes(ItemWriter(each, name, version, places).item())
    return _zipped(files | pictures)


def _identifiers(located: Sequence[LocatedQuestion]) -> list[str]:
    """An identifier for each item, made from the question's own id and always the same for it."""
    taken: dict[str, int] = {}
    names = []
    for each in located:
        name = "q_" + re.sub(r"[^\w.-]", "_", each.question.id, flags=re.ASCII)
        taken[name] = taken.get(name, 0) + 1
        names.append(name if taken[name] == 1 else f"{name}_.{taken[name]}")
    return names


def _test(
    bank: Bank, located: Sequence[LocatedQuestion], names: Sequence[str], version: Version
) -> ET.Element:
    root = version.document("assessmentTest", {"identifier": "bank", "title": bank.title})
    modes = {"navigationMode": "nonlinear", "submissionMode": "individual"}
    part = version.add(root, "testPart", identifier="part", **modes)
    by_subject = groupby(zip(located, names, strict=True), key=lambda pair: pair[0].subject.id)
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
    located: Sequence[LocatedQuestion],
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
    for each, name in zip(located, names, strict=True):
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
