"""The size of the house in numbers: `python -m tests.house` prints them.

Modules without `__init__`; those that exactly one other module imports; median and 90th
percentile of lines per module and per function.
"""

import ast
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median, quantiles

ROOT = Path(__file__).parents[1]
PACKAGES = ("domain", "banks", "tui")


def name_of(path: Path) -> str:
    """The dotted name of a module."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imports(tree: ast.Module) -> Iterator[str]:
    """Whatever the module imports, at its head or within a function."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def spread(values: Sequence[int]) -> str:
    """Median and 90th percentile."""
    return f"median {median(values):g}, 90 % {quantiles(values, n=10)[-1]:g}"


def figures() -> dict[str, str]:
    """What is printed, by name."""
    paths = [path for package in PACKAGES for path in sorted((ROOT / package).rglob("*.py"))]
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in paths}
    names = {name_of(path) for path in paths}
    importers = Counter(name for tree in trees.values() for name in set(imports(tree)) & names)
    modules = [path for path in paths if path.name != "__init__.py"]
    lines = [len(path.read_text(encoding="utf-8").splitlines()) for path in modules]
    functions = [
        (node.end_lineno or node.lineno) - node.lineno + 1
        for tree in trees.values()
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    single = sum(importers[name_of(path)] == 1 for path in modules)
    return {
        "modules": f"{len(modules)}",
        "imported by one other": f"{single}",
        "lines": f"{sum(lines):,}",
        "lines per module": spread(lines),
        "lines per function": spread(functions),
    }


if __name__ == "__main__":
    for label, value in figures().items():
        print(f"{label:<24}{value}")
