"""Names tell what they stand for: one thing each, and no variable named `one` or `found`."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
LAYERS = ("domain", "banks", "tui")
MEANINGLESS = {"found", "one", "put", "said", "told", "wanted"}


def repeated(named: list[tuple[object, Path]]) -> dict[object, list[str]]:
    """The names that stand for more than one thing, with where."""
    places = defaultdict(list)
    for name, path in named:
        places[name].append(path.relative_to(ROOT).as_posix())
    return {name: where for name, where in places.items() if len(where) > 1}


def modules() -> list[tuple[str, Path]]:
    return [
        (layer, path)
        for layer in LAYERS
        for path in sorted((ROOT / layer).rglob("*.py"))
        if path.name != "__init__.py"
    ]


def test_public_class_names_are_unique() -> None:
    classes = [
        (node.name, path)
        for _, path in modules()
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    ]
    assert repeated(classes) == {}


def test_module_names_are_unique_within_a_layer() -> None:
    assert repeated([((layer, path.stem), path) for layer, path in modules()]) == {}


def test_variables_are_named_for_what_they_hold() -> None:
    nameless = [
        f"{path.relative_to(ROOT).as_posix()}:{line} {name}"
        for folder in (*LAYERS, "tests")
        for path in sorted((ROOT / folder).rglob("*.py"))
        for name, line in _bound(ast.parse(path.read_text("utf-8")))
        if name in MEANINGLESS
    ]
    assert nameless == []


def _bound(tree: ast.Module) -> Iterator[tuple[str | None, int]]:
    """Every variable and parameter that is given a value, with its line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            yield node.id, node.lineno
        elif isinstance(node, ast.arg):
            yield node.arg, node.lineno
        elif isinstance(node, ast.MatchAs | ast.MatchStar | ast.ExceptHandler):
            yield node.name, node.lineno
