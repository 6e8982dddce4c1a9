"""One question → one assessment item, and the names of the two versions of the format."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping

from msgspec import Struct

from banks.exporters.question_rows import LocatedQuestion, printable
from domain.questions import LETTERS, Kind, Option, Question

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
        self, placed: LocatedQuestion, identifier: str, version: Version, figures: Mapping[str, str]
    ) -> None:
        self._version = version
        self._add = version.add
        self._question = placed.question
        self._figures = figures
        self._names = _choice_names(self._choices)
        headings = f"{placed.subject.title} – {placed.chapter.title} – {placed.question.number}"
        self._item = version.document(
            "assessmentItem",
            {
                "identifier": identifier,
                "title": headings,
                "label": str(placed.question.number),
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
        told = self._add(rules, "setOutcomeValue", identifier=FEEDBACK)
        self._add(told, "baseValue", baseType="identifier").text = _TOLD

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
        told = [*of_options, (_TOLD, FEEDBACK, self._question.explanation)]
        return [each for each in told if each[2]]

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
