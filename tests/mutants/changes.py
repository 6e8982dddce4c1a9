"""The mutants of a module: the same code, changed in one place."""

import ast
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from types import CodeType

_OPPOSITE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_OTHER: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.FloorDiv: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}


@dataclass(frozen=True)
class Mutant:
    """One change: `field` of `node` becomes `new`.

    `scope` names the function that holds it and `first_line` where that begins; "" and 0 stand
    for what is evaluated when the module is imported.
    """

    file: str
    scope: str
    first_line: int
    line: int
    words: str
    tree: ast.Module
    node: ast.AST
    field: str
    new: object

    def __str__(self) -> str:
        return f"  {self.name}  (line {self.line})"

    @property
    def name(self) -> str:
        """What tells it from others, however far its line may move."""
        return f"{self.file} {self.scope or 'module'}: {self.words}"

    def compiled(self, path: str) -> CodeType:
        """The whole module with the change."""
        old = getattr(self.node, self.field)
        setattr(self.node, self.field, self.new)
        try:
            return compile(ast.fix_missing_locations(self.tree), path, "exec")
        finally:
            setattr(self.node, self.field, old)


def mutants(file: str, source: str) -> list[Mutant]:
    """Every mutant of the module, in order of lines."""
    tree = ast.parse(source)
    mutants = [
        Mutant(file, scope, first, _line(node), words, tree, holder, field, new)
        for node, scope, first in _evaluated(tree)
        for words, holder, field, new in _changes(node)
    ]
    mutants.sort(key=lambda mutant: mutant.line)
    before = Counter[str]()
    for place, mutant in enumerate(mutants):
        before[mutant.name] += 1
        if (count := before[mutant.name]) > 1:
            mutants[place] = replace(mutant, words=f"{mutant.words} #{count}")
    return mutants


def _line(node: ast.AST) -> int:
    return node.body[0].lineno if isinstance(node, ast.match_case) else getattr(node, "lineno", 0)


def _evaluated(
    node: ast.AST, scope: str = "", first: int = 0
) -> Iterator[tuple[ast.AST, str, int]]:
    """Every node that a test could see a change of, with the outermost function around it.

    Annotations, decorators and the options of a class are left out. A function that holds a
    node's statements is the one around them, be it the node itself.
    """
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and not first:
        yield node, *_held_by(node, scope)
    else:
        yield node, scope if first else "", first
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list", "keywords") and not isinstance(
            node, ast.Call
        ):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _inside(child, node, field, scope, first)


def _inside(
    child: ast.AST, parent: ast.AST, field: str, scope: str, first: int
) -> Iterator[tuple[ast.AST, str, int]]:
    if isinstance(child, ast.If) and ast.unparse(child.test) == "TYPE_CHECKING":
        return
    if (
        first
        or field != "body"
        or not isinstance(parent, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
    ):
        yield from _evaluated(child, scope, first)
        return
    if isinstance(parent, ast.ClassDef):
        yield from _evaluated(child, _within(scope, parent.name), 0)
    else:
        yield from _evaluated(child, *_held_by(parent, scope))


def _held_by(function: ast.FunctionDef | ast.AsyncFunctionDef, scope: str) -> tuple[str, int]:
    """The function's qualified name and first line."""
    lines = [function.lineno, *(decorator.lineno for decorator in function.decorator_list)]
    return _within(scope, function.name), min(lines)


def _within(scope: str, name: str) -> str:
    return f"{scope}.{name}" if scope else name


def _changes(node: ast.AST) -> Iterator[tuple[str, ast.AST, str, object]]:
    """What can be changed there: in words, and as a field of a node and its new value."""
    match node:
        case ast.Compare():
            for place, operation in enumerate(node.ops):
                ops = [*node.ops]
                ops[place] = _OPPOSITE[type(operation)]()
                yield _words(node, "ops", ops)
        case ast.BinOp() if type(node.op) in _OTHER:
            yield _words(node, "op", _OTHER[type(node.op)]())
        case ast.BoolOp():
            yield _words(node, "op", ast.Or() if isinstance(node.op, ast.And) else ast.And())
        case ast.UnaryOp(op=ast.Not()):
            yield _words(node, "operand", ast.UnaryOp(ast.Not(), node.operand))
        case ast.If() | ast.IfExp() | ast.While() if _is_plain(node.test):
            changed = ast.UnaryOp(ast.Not(), node.test)
            words = f"if {_short(node.test)} → if {_short(changed)}"
            yield words, node, "test", changed
        case ast.Constant(value=bool(value)):
            yield f"{value} → {not value}", node, "value", not value
        case ast.Constant(value=int(value)):
            yield f"{value} → {value + 1}", node, "value", value + 1
        case ast.Return() if node.value is not None and ast.unparse(node.value) != "None":
            yield _words(node, "value", ast.Constant(None))
    for field in ("body", "orelse", "finalbody"):
        statements = getattr(node, field, None)
        if isinstance(statements, list):
            yield from _omissions(node, field, statements)


def _omissions(
    node: ast.AST, field: str, statements: list[ast.stmt]
) -> Iterator[tuple[str, ast.AST, str, object]]:
    """Calls, deletions and changes of what outlives the statement, each left out."""
    for place, statement in enumerate(statements):
        match statement:
            case ast.Expr(value=ast.Call()) | ast.AugAssign() | ast.Delete():
                pass
            case ast.Assign(targets=[*targets]) if any(
                isinstance(part, ast.Attribute) for target in targets for part in ast.walk(target)
            ):
                pass
            case _:
                continue
        new = [*statements[:place], ast.Pass(), *statements[place + 1 :]]
        yield f"without {_short(statement)}", node, field, new


def _is_plain(test: ast.expr) -> bool:
    """Whether no other change turns the condition round."""
    return not isinstance(test, ast.Compare | ast.BoolOp | ast.UnaryOp | ast.Constant)


def _words(node: ast.AST, field: str, new: object) -> tuple[str, ast.AST, str, object]:
    before, old = _short(node), getattr(node, field)
    setattr(node, field, new)
    after = _short(node)
    setattr(node, field, old)
    return f"{before} → {after}", node, field, new


def _short(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 90 else f"{text[:89]}…"
