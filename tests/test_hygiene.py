"""Which part of the house may know which, and what a plain command may not drag in."""

import ast
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DOMAIN = [
    ".".join(path.relative_to(ROOT).with_suffix("").parts)
    for path in sorted((ROOT / "domain").rglob("*.py"))
    if path.name != "__init__.py"
]
BLOCK = """
import sys
class Block:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in {names!r}:
            raise ImportError(f"blocked: {{name}}")
sys.meta_path.insert(0, Block())
"""
IMPURE = (
    "datetime.now", "date.today", "time.time", "random.random", "random.choice", "random.shuffle",
)  # fmt: skip
HEAVY = ("openpyxl", "pypdf", "fpdf", "icalendar", "rapidfuzz", "defusedxml", "numpy", "scipy")


def run(code: str, *words: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)}, check=False,
    )  # fmt: skip


def test_the_domain_needs_no_screen_no_store_and_no_other_room() -> None:
    code = BLOCK.format(names=("textual", "rich", "tinydb", "banks", "tui"))
    done = run(code + "".join(f"import {module}\n" for module in DOMAIN))
    assert done.returncode == 0, done.stderr


def test_the_domain_has_no_clock_no_files_and_no_dice_of_its_own() -> None:
    for path in (ROOT / "domain").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                reached = f"{node.value.id}.{node.attr}"
                assert reached not in IMPURE, f"{path}: {reached}"
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id not in ("open", "print", "input"), f"{path}: {node.func.id}"


def imported_by(tmp_path: Path, *words: str) -> set[str]:
    code = (
        "import sys\nfrom tui.cli import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit:\n    pass\n"
        "print('\\nIMPORTED', *sys.modules)\n"
    )
    done = run(code, "--store", str(tmp_path / "store"), *words)
    assert "Traceback" not in done.stderr, done.stderr
    return {name.split(".")[0] for name in done.stdout.rpartition("IMPORTED")[2].split()}


@pytest.mark.parametrize("words", [
    ("--help",), ("--version",), ("triage",), ("triage", "--json"), ("check",), ("today",),
    ("mark", "--subject", "S", "--chapter", "C", "--rest", "right"),
    ("sweep", "--minutes", "10"), ("plan",),
])  # fmt: skip
def test_plain_commands_import_nothing_of_the_screen(tmp_path: Path, words: tuple) -> None:
    assert not {"textual", "rich"} & imported_by(tmp_path, *words)


@pytest.mark.parametrize("words", [("--help",), ("--version",)])
def test_asking_for_help_imports_no_store_and_nothing_heavy(tmp_path: Path, words: tuple) -> None:
    assert not {"tinydb", "filelock", "asyncio", *HEAVY} & imported_by(tmp_path, *words)


def test_the_app_imports_nothing_heavy_before_it_is_needed() -> None:
    done = run("import sys, tui.app, tui.screens.today, banks.library\nprint(*sys.modules)")
    assert done.returncode == 0, done.stderr
    assert not set(HEAVY) & {name.split(".")[0] for name in done.stdout.split()}


REACHES = {
    "tui": 2,
    "tui/commands": 4,
    "tui/screens": 6,
}
"""How often each folder still reaches through the library; the numbers only ever fall."""
PARTS = {"history", "store", "banks", "settings", "edits"}


def reaches(path: Path) -> int:
    """How often a file asks the library for one of its parts."""
    return sum(
        isinstance(node, ast.Attribute)
        and node.attr in PARTS
        and (
            (isinstance(node.value, ast.Attribute) and node.value.attr == "library")
            or (isinstance(node.value, ast.Name) and node.value.id == "library")
        )
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
    )


def test_screens_reach_the_library_only_through_views_and_intents() -> None:
    counts = Counter[str]()
    for path in (ROOT / "tui").rglob("*.py"):
        counts[path.parent.relative_to(ROOT).as_posix()] += reaches(path)
    assert {name: n for name, n in counts.items() if n > REACHES.get(name, 0)} == {}


def private_names() -> set[str]:
    """Every name with one underscore that the project gives to a function, class or attribute."""
    names = set()
    for package in ("domain", "banks", "tui"):
        for path in (ROOT / package).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                match node:
                    case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name):
                        names.add(name)
                    case ast.ClassDef(name=name) | ast.Name(id=name, ctx=ast.Store()):
                        names.add(name)
                    case ast.Attribute(attr=name, value=ast.Name(id="self"), ctx=ast.Store()):
                        names.add(name)
    return {name for name in names if name.startswith("_") and not name.startswith("__")}


TINYDB = {"_update_table", "_read_table"}
"""Methods of TinyDB's that our tables override; a test looks whether it still has them."""


def test_tests_reach_into_no_private_part_of_the_project() -> None:
    private = private_names() - TINYDB
    reached = []
    for path in sorted((ROOT / "tests").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            match node:
                case ast.Attribute(value=ast.Name(id="self" | "cls")):
                    pass
                case ast.Attribute(attr=name) if name in private:
                    reached.append(f"{path.name}:{node.lineno} {name}")
                case ast.ImportFrom(module=module, names=aliases) if module:
                    reached += [
                        f"{path.name}:{node.lineno} {alias.name}"
                        for alias in aliases
                        if module.split(".")[0] in ("domain", "banks", "tui")
                        and alias.name in private
                    ]
    assert reached == []
