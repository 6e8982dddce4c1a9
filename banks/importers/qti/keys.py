"""What an item holds to be right: declared values, mapped scores, and tolerances in its rules."""

from decimal import Decimal

from msgspec import Struct

from banks.importers.qti.tree import Node
from domain.grading import number


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
    found = [_declared(node) for node in item.nodes if node.name == "responseDeclaration"]
    return {declaration.identifier: declaration for declaration in found}


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
            found = _equal(rule, response) if rule.name == "equal" else _between(rule)
            if found:
                return found
    return None


def _equal(rule: Node, response: Declared) -> Interval | None:
    values = [base.raw for base in rule.all("baseValue")] or list(response.best)
    bounds = [
        found for text in rule.get("tolerance").split() if (found := number(text)) is not None
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
