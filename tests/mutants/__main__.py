"""`python -m tests.mutants [PART …] [--share N]`: change the code in one place, run its tests.

Every comparison, constant, operator, condition, `return` and plain call of a part is changed in
turn, in a copy of the tree; a mutant that no test notices is printed. `--share N` tries every
Nth alone. The score is the share of mutants that a test noticed.
"""

import argparse
import ast
import copy
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
STORE = [
    "tests/banks/test_checked_json_and_log.py",
    "tests/banks/test_tinydb.py",
    "tests/faults/test_underneath.py",
    "tests/faults/test_damage.py",
    "tests/faults/test_two_at_once.py",
    "tests/banks/maintenance",
    "tests/banks/test_undo.py",
]
PARTS: dict[str, tuple[list[str], list[str]]] = {
    "store": (["banks/store"], [*STORE, "tests/faults/test_power_cut.py"]),
    "maintenance": (["banks/maintenance"], STORE),
    "undo": (["banks/undo.py"], ["tests/banks/test_undo.py", "tests/banks/test_edits.py"]),
    "tiers": (["domain/tiers.py"], ["tests/domain/test_tiers.py"]),
    "grading": (["domain/grading.py"], ["tests/domain/test_grading.py"]),
    "history": (
        ["domain/history.py"],
        ["tests/domain/test_history.py", "tests/domain/test_gathering.py"],
    ),
}
"""What is changed, and the tests that should notice."""

_OPPOSITE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE,
    ast.GtE: ast.Gt, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
_OTHER: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.FloorDiv: ast.Mult,
}  # fmt: skip


def mutants(source: str) -> Iterator[tuple[int, str, str]]:
    """The line, what was done there, and the whole changed source."""
    tree = ast.parse(source)
    options = {  # frozen, gc and the like change nothing that a test could see
        id(node)
        for kind in ast.walk(tree)
        if isinstance(kind, ast.ClassDef)
        for option in (*kind.keywords, *kind.decorator_list)
        for node in ast.walk(option)
    }
    for place, node in enumerate(ast.walk(tree)):
        if id(node) in options:
            continue
        for name, change in _changes(node):
            changed = copy.deepcopy(tree)
            target = next(one for at, one in enumerate(ast.walk(changed)) if at == place)
            change(target)
            yield getattr(node, "lineno", 0), name, ast.unparse(ast.fix_missing_locations(changed))


def _changes(node: ast.AST) -> Iterator[tuple[str, "Change"]]:
    match node:
        case ast.Compare(ops=[operation]) if type(operation) in _OPPOSITE:
            other = _OPPOSITE[type(operation)]
            yield f"{type(operation).__name__} → {other.__name__}", Change("ops", [other()])
        case ast.BinOp() if type(node.op) in _OTHER:
            other_op = _OTHER[type(node.op)]
            yield f"{type(node.op).__name__} → {other_op.__name__}", Change("op", other_op())
        case ast.BoolOp():
            swapped = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield f"→ {type(swapped).__name__}", Change("op", swapped)
        case ast.UnaryOp(op=ast.Not()):
            yield "not dropped", Change("op", ast.UAdd(), is_bool=True)
        case ast.Constant(value=bool(value)):
            yield f"{value} → {not value}", Change("value", not value)
        case ast.Constant(value=int(value)):
            yield f"{value} → {value + 1}", Change("value", value + 1)
        case ast.Expr(value=ast.Call()):
            yield f"{ast.unparse(node)[:40]} left out", Change("value", ast.Constant(None))


class Change:
    """Sets one attribute of a node."""

    def __init__(self, name: str, value: object, *, is_bool: bool = False) -> None:
        self.name, self.value, self.is_bool = name, value, is_bool

    def __call__(self, node: ast.AST) -> None:
        """Do it."""
        if self.is_bool and isinstance(node, ast.UnaryOp):
            node.operand = ast.Call(ast.Name("bool", ast.Load()), [node.operand], [])
        setattr(node, self.name, self.value)


def notices(tree: Path, tests: list[str]) -> bool:
    """Whether some test fails, or the run hangs."""
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests]
    try:
        run = subprocess.run(command, cwd=tree, capture_output=True, timeout=300, check=False)
    except subprocess.TimeoutExpired:
        return True
    return run.returncode != 0


def main() -> int:
    """Try the parts named, or all; 1 where a mutant survived."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--share", type=int, default=1, metavar="N", help="every Nth mutant")
    arguments = parser.parse_args()
    survivors = 0
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        left_out = shutil.ignore_patterns(".git", "__pycache__", ".*_cache")
        shutil.copytree(ROOT, tree, ignore=left_out)
        for part in arguments.parts or PARTS:
            survivors += try_part(tree, part, arguments.share)
    return 1 if survivors else 0


def try_part(tree: Path, part: str, share: int) -> int:
    """Try a part's mutants and print its score; how many survived."""
    sources, tests = PARTS[part]
    if notices(tree, tests):
        print(f"{part}: its tests fail as it is")
        return 1
    tried = survived = 0
    for source in sources:
        held = tree / source
        for path in sorted(held.glob("*.py")) if held.is_dir() else [held]:
            original = path.read_text()
            for line, what, changed in list(mutants(original))[::share]:
                path.write_text(changed)
                tried += 1
                if not notices(tree, tests):
                    survived += 1
                    print(f"  {path.relative_to(tree)}:{line}: {what}", flush=True)
            path.write_text(original)
    if tried:
        print(f"{part}: {tried - survived} of {tried} noticed", flush=True)
    return survived


if __name__ == "__main__":
    sys.exit(main())
