"""Every small way to spoil a module: its syntax tree with one node changed.

Left alone are docstrings, annotations, decorators and the words people read: a text with a
space in it. What is changed are comparisons, conditions, arithmetic, numbers, names of things,
and statements that are left out.
"""

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

OTHER_WAY = {
    ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Lt: ast.LtE, ast.LtE: ast.Lt,
    ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.And: ast.Or, ast.Or: ast.And,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.FloorDiv: ast.Mult,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.LShift: ast.RShift,
    ast.RShift: ast.LShift, ast.Mod: ast.Mult, ast.BitXor: ast.BitAnd, ast.Pow: ast.Mult,
}  # fmt: skip
UNREAD = ("annotation", "returns", "decorator_list", "type_params", "bases")


@dataclass(frozen=True, slots=True)
class Mutant:
    """A spoilt module: the line, what was there, what stands there now, the whole text."""

    line: int
    before: str
    after: str
    text: str


def mutants(text: str) -> Iterator[Mutant]:
    """Every mutant of a module's text, in the order of its lines."""
    count = sum(1 for _ in _sites(ast.parse(text)))
    for number in range(count):
        for variant in range(2):
            tree = ast.parse(text)
            holder, name, at, node = list(_sites(tree))[number]
            new = list(_spoilt(node))[variant : variant + 1]
            if not new:
                break
            _put(holder, name, at, new[0])
            made = ast.unparse(ast.fix_missing_locations(tree))
            yield Mutant(node.lineno, _short(node), _short(new[0]), made)


def _short(node: ast.AST) -> str:
    return ast.unparse(node).partition("\n")[0][:70]


def _put(holder: ast.AST, name: str, at: int | None, new: ast.AST) -> None:
    if at is None:
        setattr(holder, name, new)
    else:
        getattr(holder, name)[at] = new


def _sites(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None, ast.AST]]:
    """Each node that can be spoilt, with where it hangs."""
    for name, value in ast.iter_fields(node):
        if name in UNREAD or isinstance(node, ast.JoinedStr):
            continue
        held = value if isinstance(value, list) else [value]
        for at, child in enumerate(held):
            if not isinstance(child, ast.AST):
                continue
            if not _is_docstring(node, child) and any(True for _ in _spoilt(child)):
                yield node, name, at if isinstance(value, list) else None, child
            yield from _sites(child)


def _is_docstring(holder: ast.AST, node: ast.AST) -> bool:
    of_text = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    return of_text or (isinstance(holder, ast.Expr) and isinstance(node, ast.Constant))


def _spoilt(node: ast.AST) -> Iterator[ast.AST]:
    """The node spoilt, in one way or more; nothing for one that is left alone."""
    new = copy.deepcopy(node)
    match new:
        case ast.Compare() | ast.BoolOp() | ast.BinOp() | ast.AugAssign():
            yield from _operators(new)
        case ast.Constant():
            yield from _constants(new)
        case ast.UnaryOp(op=ast.Not()):
            yield new.operand
        case ast.If() | ast.While() | ast.IfExp():
            new.test = ast.UnaryOp(ast.Not(), new.test)
            yield new
        case _:
            yield from _statements(new)


def _statements(new: ast.AST) -> Iterator[ast.AST]:
    match new:
        case ast.Return(value=ast.AST()) if not isinstance(new.value, ast.Constant):
            new.value = ast.Constant(None)
            yield new
        case ast.Raise() | ast.Expr(value=ast.Call()):
            yield ast.Pass()
        case ast.Break():
            yield ast.Continue()
        case ast.Continue():
            yield ast.Break()


def _operators(new: ast.AST) -> Iterator[ast.AST]:
    if isinstance(new, ast.Compare):
        for at, operator in enumerate(new.ops):
            one = copy.deepcopy(new)
            one.ops[at] = OTHER_WAY[type(operator)]()
            yield one
    elif type(new.op) in OTHER_WAY:  # type: ignore[attr-defined]
        new.op = OTHER_WAY[type(new.op)]()  # type: ignore[attr-defined]
        yield new


def _constants(new: ast.Constant) -> Iterator[ast.AST]:
    match new.value:
        case bool():
            yield ast.Constant(not new.value)
        case int():
            yield ast.Constant(new.value + 1)
        case bytes():
            yield ast.Constant(new.value + b"X")
        case str() if " " not in new.value:
            yield ast.Constant(new.value + "X")
