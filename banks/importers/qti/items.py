"""One assessment item → one draft, or the reason why it can't be one."""

import posixpath
from collections.abc import Callable, Sequence
from urllib.parse import unquote

from banks.importers.common import Draft, DraftOption
from banks.importers.pictures import picture_ending
from banks.importers.qti.keys import Declared, declared, tolerated
from banks.importers.qti.text import TextReader
from banks.importers.qti.tree import Node
from domain.questions import LETTERS, Kind, slug
from domain.text import MAX_TEXT

_CHOICES = {"choiceInteraction": "simpleChoice", "inlineChoiceInteraction": "inlineChoice"}
_TYPED = ("textEntryInteraction", "extendedTextInteraction")
_NUMBERS = ("integer", "float")
_FEEDBACK = ("modalFeedback", "feedbackBlock", "feedbackInline")
_TRUE_FALSE = ({"true", "false"}, {"right", "wrong"}, {"correct", "incorrect"}, {"yes", "no"})

Resolve = Callable[[str], bytes | None]
"""The bytes that a reference from within the item means, or None when they aren't there."""


class UnsupportedItem(Exception):
    """The item asks for something that a question of a bank can't be; the message says what."""


class ItemReader:
    """Reads one item. `notes` are the things about it that the candidate should know.

    `passages` are the bodies of texts that the item shares with others; they come first.
    """

    def __init__(self, item: Node, resolve: Resolve, passages: Sequence[Node] = ()) -> None:
        self.notes: list[str] = []
        self._item = item
        self._resolve = resolve
        self._passages = passages
        self._text = TextReader(_is_not_for_the_candidate)

    def draft(self) -> Draft:
        """The item as a question. Raises UnsupportedItem."""
        body = self._item.child("itemBody")
        if self._item.child("templateDeclaration"):
            raise UnsupportedItem("its values are drawn at random each time")
        if body is None:
            raise UnsupportedItem("it has no body")
        draft = Draft(line=self._item.line, number=_number(self._item.get("label")))
        draft.stem = self._text.read(*self._passages, body)
        interaction = _only_interaction(body)
        if interaction:
            self._ask(draft, interaction)
        elif draft.stem or draft.number is None:
            raise UnsupportedItem("nothing is asked in it")
        draft.explanation = self._explanation(interaction)
        draft.reference = self._text.read(*_references(body))
        draft.figures = self._figures()
        texts = [draft.stem, draft.explanation, *(option.text for option in draft.options)]
        if max(map(len, texts)) > MAX_TEXT:
            raise UnsupportedItem(f"it holds a text of more than {MAX_TEXT:,} characters")
        return draft

    def _ask(self, draft: Draft, interaction: Node) -> None:
        response = declared(self._item).get(interaction.get("responseIdentifier"))
        if response is None:
            raise UnsupportedItem("the response of its interaction is not declared")
        prompt = interaction.child("prompt")
        if prompt:
            draft.stem = "\n".join(filter(None, [draft.stem, self._text.read(prompt)]))
        if interaction.name in _CHOICES:
            self._choose(draft, interaction, response)
        else:
            self._type(draft, interaction, response)
        if draft.stem and not draft.key:
            self.notes.append("the file says no key")

    def _choose(self, draft: Draft, interaction: Node, response: Declared) -> None:
        choices = _choices(interaction)
        if response.cardinality not in ("single", "multiple"):
            raise UnsupportedItem(f"its options are to be put in order ({response.cardinality})")
        if not 0 < len(choices) <= len(LETTERS):
            raise UnsupportedItem(f"it has {len(choices)} options, not 1 to {len(LETTERS)}")
        places = {choice.get("identifier"): place for place, choice in enumerate(choices)}
        options = tuple(self._option(choice) for choice in choices)
        any_of = response.says_no_more and response.cardinality == "single"
        right = response.accepted if any_of else response.best
        key = [places[value] for value in right if value in places]
        draft.kind = _kind(interaction, response, options)
        if not response.says_no_more:
            scores = response.scores.items()
            draft.credit = tuple((places[v], score) for v, score in scores if v in places)
        if any(option.text for option in options):
            draft.options, draft.key = options, tuple(key)
            draft.shuffle = interaction.get("shuffle") == "true"
        else:
            draft.key = tuple(LETTERS[place] for place in key)

    def _option(self, choice: Node) -> DraftOption:
        identifier = choice.get("identifier")
        own = [part for part in choice.walk() if part.name == "feedbackInline"]
        shown = [n for n in self._modal if identifier and n.get("identifier") == identifier]
        texts = map(self._text.read, [*own, *shown])
        return DraftOption(
            text=self._text.read(choice),
            fixed=choice.get("fixed") == "true",
            explanation="\n".join(dict.fromkeys(filter(None, texts))),
        )

    def _type(self, draft: Draft, interaction: Node, response: Declared) -> None:
        if interaction.name == "extendedTextInteraction" and not response.accepted:
            raise UnsupportedItem("it asks for an essay")
        interval = tolerated(self._item, response)
        numeric = interval or response.base_type in _NUMBERS
        draft.kind = Kind.NUMERIC if numeric else Kind.TEXT
        draft.key = (interval.middle,) if interval else response.accepted
        draft.tolerance = interval.tolerance if interval else 0.0
        lesser = set(response.scores) - set(response.accepted)
        if lesser:
            self.notes.append(f"partial credit for typed text is not kept ({len(lesser)} values)")

    @property
    def _modal(self) -> list[Node]:
        return [node for node in self._item.nodes if node.name == "modalFeedback"]

    def _explanation(self, interaction: Node | None) -> str:
        choices = _choices(interaction)
        inside = {id(node) for choice in choices for node in choice.walk()}
        names = {choice.get("identifier") for choice in choices}
        told = [
            node
            for node in self._item.all(*_FEEDBACK)
            if id(node) not in inside and node.get("identifier") not in names
        ]
        return "\n".join(dict.fromkeys(filter(None, map(self._text.read, told))))

    def _figures(self) -> tuple[tuple[str, str, bytes], ...]:
        found: dict[str, tuple[str, str, bytes]] = {}
        for href, alt in self._text.figures:
            picture = self._resolve(href)
            ending = picture_ending(picture or b"")
            if picture is None:
                self.notes.append(f"the figure {href or '(without a name)'} is not in the file")
            elif not ending:
                self.notes.append(f"{href} is no picture that is safe to open; left out")
            else:
                found.setdefault(href, (_file_name(href, ending), alt, picture))
        return tuple(found.values())


def _file_name(href: str, ending: str) -> str:
    """A short plain name for the picture's file; its ending says what it is."""
    name = posixpath.basename(unquote(href).replace("\\", "/"))
    return f"{slug(name.rpartition('.')[0] or name)}.{ending}"


def _is_not_for_the_candidate(node: Node) -> bool:
    return node.name == "rubricBlock" and "candidate" not in node.get("view").split()


def _references(body: Node) -> list[Node]:
    blocks = [node for node in body.nodes if node.name == "rubricBlock"]
    return [block for block in blocks if "reference" in block.get("class").split()]


def _only_interaction(body: Node) -> Node | None:
    """The one thing the body asks. Raises UnsupportedItem for several, or for another kind."""
    found = [node for node in body.walk() if node.name.endswith("Interaction")]
    if len(found) > 1:
        raise UnsupportedItem(f"it asks {len(found)} things at once")
    if found and found[0].name not in (*_CHOICES, *_TYPED):
        raise UnsupportedItem(f"questions of the kind {found[0].name} can't be asked here")
    return found[0] if found else None


def _choices(interaction: Node | None) -> list[Node]:
    if interaction is None or interaction.name not in _CHOICES:
        return []
    return [node for node in interaction.nodes if node.name == _CHOICES[interaction.name]]


def _kind(interaction: Node, response: Declared, options: Sequence[DraftOption]) -> Kind:
    """Cardinality decides between one and several, never maxChoices."""
    if response.cardinality == "multiple":
        return Kind.MULTIPLE
    said = interaction.get("class").split()
    two_words = {option.text.strip(" .").lower() for option in options} in _TRUE_FALSE
    if Kind.TRUE_FALSE in said or (two_words and Kind.BEST not in said):
        return Kind.TRUE_FALSE
    return Kind.BEST


def _number(label: str) -> int | None:
    short = label.isascii() and label.isdecimal() and len(label) < 7
    return int(label) or None if short else None
