"""One assessment item → one draft, or the reason why it can't be one."""

import posixpath
from collections.abc import Callable, Sequence
from decimal import Decimal
from urllib.parse import unquote

from msgspec import Struct

from banks.importers.archive import picture_ending
from banks.importers.common import Draft, DraftOption
from banks.importers.qti.markup import HINT_BUTTON, Node, TextReader
from domain.grading import number
from domain.questions import LETTERS, Kind, slug
from domain.text import MAX_TEXT


class Declared(Struct, frozen=True):
    """One response declaration: `correct` values and `scores` by value, in the file's order."""

    identifier: str
    cardinality: str
    base_type: str
    correct: tuple[str, ...] = ()
    scores: dict[str, float] = {}

    @property
    def best(self) -> tuple[str, ...]:
        """The correct values; where none are declared, the best scored (multiple: all scored)."""
        positive = {value: score for value, score in self.scores.items() if score > 0}
        if self.correct or not positive:
            return self.correct
        if self.cardinality == "multiple":
            return tuple(positive)
        top = max(positive.values())
        return tuple(value for value, score in positive.items() if score == top)

    @property
    def says_no_more(self) -> bool:
        """Whether every score is the same whole mark: then they name keys, not partial credit."""
        return set(self.scores.values()) == {1.0}

    @property
    def accepted(self) -> tuple[str, ...]:
        """The correct values and every other value scored as high as the best of all."""
        top = max(self.scores.values(), default=0.0)
        also = [v for v, score in self.scores.items() if score == top > 0 and v not in self.best]
        return (*self.best, *also)


class Interval(Struct, frozen=True):
    """A number that is right within ±`tolerance`."""

    middle: str
    tolerance: float


def declared(item: Node) -> dict[str, Declared]:
    """The item's response declarations by identifier."""
    declarations = [_declared(node) for node in item.nodes if node.name == "responseDeclaration"]
    return {declaration.identifier: declaration for declaration in declarations}


def _declared(node: Node) -> Declared:
    correct = node.child("correctResponse")
    mapping = node.child("mapping")
    return Declared(
        identifier=node.get("identifier"),
        cardinality=node.get("cardinality", "single"),
        base_type=node.get("baseType", "identifier"),
        correct=tuple(value.raw for value in correct.nodes) if correct else (),
        scores=_scores(mapping) if mapping else {},
    )


def _scores(mapping: Node) -> dict[str, float]:
    scored = ((entry.get("mapKey"), number(entry.get("mappedValue"))) for entry in mapping.nodes)
    return {key: float(score) for key, score in scored if score is not None}


def tolerated(item: Node, response: Declared) -> Interval | None:
    """The interval that the item's rules accept around the response's value, if they say one."""
    rules = item.child("responseProcessing")
    if rules is None:
        return None
    for rule in rules.all("equal", "and"):
        about = [node.get("identifier") for node in rule.all("variable")]
        if response.identifier in about:
            interval = _equal(rule, response) if rule.name == "equal" else _between(rule)
            if interval:
                return interval
    return None


def _equal(rule: Node, response: Declared) -> Interval | None:
    values = [base.raw for base in rule.all("baseValue")] or list(response.best)
    bounds = [
        tolerance
        for text in rule.get("tolerance").split()
        if (tolerance := number(text)) is not None
    ]
    middle = number(values[0]) if values else None
    if middle is None or not bounds or rule.get("toleranceMode", "exact") == "exact":
        return None
    if rule.get("toleranceMode") == "relative":
        bounds = [abs(middle) * bound / 100 for bound in bounds]
    if bounds[0] == bounds[-1]:
        return Interval(values[0], float(bounds[0]))
    return _spanning(middle - bounds[0], middle + bounds[-1])


def _between(rule: Node) -> Interval | None:
    """A rule `low ≤ value ≤ high`, however it is put."""
    low, high = None, None
    for comparison in rule.all("gte", "gt", "lte", "lt"):
        values = comparison.all("baseValue")
        limit = number(values[0].raw) if values else None
        variable_first = bool(comparison.nodes) and comparison.nodes[0].name == "variable"
        if comparison.name.startswith("g") == variable_first:
            low = limit
        else:
            high = limit
    return None if low is None or high is None or low > high else _spanning(low, high)


def _spanning(low: Decimal, high: Decimal) -> Interval:
    middle = (low + high) / 2
    return Interval(f"{middle.normalize():f}", float((high - low) / 2))


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
        pictures = [option.text for option in options if option.text.startswith("[figure:")]
        if len(set(pictures)) < len(pictures):
            raise UnsupportedItem("its options are pictures that nothing tells apart")
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
        feedbacks = [
            node
            for node in self._item.all(*_FEEDBACK)
            if id(node) not in inside and node.get("identifier") not in names
        ]
        return "\n".join(dict.fromkeys(filter(None, map(self._text.read, feedbacks))))

    def _figures(self) -> tuple[tuple[str, str, bytes], ...]:
        figures: dict[str, tuple[str, str, bytes]] = {}
        for href, alt in self._text.figures:
            picture = self._resolve(href)
            ending = picture_ending(picture or b"")
            if picture is None:
                self.notes.append(f"the figure {href or '(without a name)'} is not in the file")
            elif not ending:
                self.notes.append(f"{href} is no picture that is safe to open; left out")
            else:
                figures.setdefault(href, (_file_name(href, ending), alt, picture))
        return tuple(figures.values())


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
    """The one thing the body asks; a button for a hint asks nothing. Raises UnsupportedItem for
    several, or for another kind.
    """
    interactions = [
        node
        for node in body.walk()
        if node.name.endswith("Interaction") and node.name != HINT_BUTTON
    ]
    if len(interactions) > 1:
        raise UnsupportedItem(f"it asks {len(interactions)} things at once")
    if interactions and interactions[0].name not in (*_CHOICES, *_TYPED):
        raise UnsupportedItem(f"questions of the kind {interactions[0].name} can't be asked here")
    return interactions[0] if interactions else None


def _choices(interaction: Node | None) -> list[Node]:
    if interaction is None or interaction.name not in _CHOICES:
        return []
    return [node for node in interaction.nodes if node.name == _CHOICES[interaction.name]]


def _kind(interaction: Node, response: Declared, options: Sequence[DraftOption]) -> Kind:
    """Cardinality decides between one and several, never maxChoices."""
    if response.cardinality == "multiple":
        return Kind.MULTIPLE
    classes = interaction.get("class").split()
    two_words = {option.text.strip(" .").lower() for option in options} in _TRUE_FALSE
    if Kind.TRUE_FALSE in classes or (two_words and Kind.BEST not in classes):
        return Kind.TRUE_FALSE
    return Kind.BEST


def _number(label: str) -> int | None:
    short = label.isascii() and label.isdecimal() and len(label) < 7
    return int(label) or None if short else None
