"""One name for one thing: public classes and modules are told apart by their names alone."""

import ast
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).parent.parent
LAYERS = ("domain", "banks", "tui")


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
