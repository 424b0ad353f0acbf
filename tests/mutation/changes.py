"""Every small fault that can be put into a module: found in its tree, put in one at a time.

Left alone are annotations, decorators, imports and strings: most are sentences for a person, and
a test of their wording would be a copy of it.
"""

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass

_COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.MatMult: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
    ast.RShift: ast.LShift,
    ast.LShift: ast.RShift,
}
_NAMED = {"min": "max", "max": "min", "any": "all", "all": "any", "floor": "ceil", "ceil": "floor"}


@dataclass(frozen=True)
class Mutant:
    """One fault: where it stands, what it changes, and the module's source with it in."""

    line: int
    text: str
    change: str
    source: str


def mutants(source: str) -> list[Mutant]:
    """Return all faults of a module, in the order of its lines; each differs from the source."""
    tree = ast.parse(source)
    lines = source.splitlines()
    plain = ast.unparse(tree)
    found = []
    for place in range(sum(1 for _ in ast.walk(tree))):
        node = _at(tree, place)
        for number in range(sum(1 for _ in _changes(node))):
            mutated = copy.deepcopy(tree)
            here = _at(mutated, place)
            if not _is_open(mutated, here):
                break
            said, put = list(_changes(here))[number]
            put(_Put(mutated, here))
            text = ast.unparse(ast.fix_missing_locations(mutated))
            if text != plain:
                line = min(getattr(inner, "lineno", 10**6) for inner in ast.walk(node))
                found.append(Mutant(line, lines[line - 1].strip(), said, text))
    return sorted(found, key=lambda mutant: mutant.line)


def _at(tree: ast.AST, place: int) -> ast.AST:
    for n, node in enumerate(ast.walk(tree)):
        if n == place:
            return node
    raise IndexError(place)


class _Put:
    """Put another node in the place of one."""

    def __init__(self, tree: ast.AST, node: ast.AST) -> None:
        self._tree, self._node = tree, node

    def __call__(self, other: ast.AST) -> None:
        for parent in ast.walk(self._tree):
            for name, value in ast.iter_fields(parent):
                if value is self._node:
                    setattr(parent, name, other)
                    return
                if isinstance(value, list) and any(item is self._node for item in value):
                    value[[item is self._node for item in value].index(True)] = other
                    return


Change = tuple[str, Callable[[_Put], None]]


def _changes(node: ast.AST) -> Iterator[Change]:
    """Yield each fault of this node: what it says, and a function that puts it in."""
    match node:
        case ast.Compare():
            for n, operator in enumerate(node.ops):
                for other in _COMPARED[type(operator)]:
                    yield _said(operator, other), _set_item(node.ops, n, other())
        case ast.BinOp() if type(node.op) in _RECKONED:
            other_op = _RECKONED[type(node.op)]
            yield _said(node.op, other_op), _set(node, "op", other_op())
        case ast.AugAssign() if type(node.op) in _RECKONED:
            other_op = _RECKONED[type(node.op)]
            yield _said(node.op, other_op) + "=", _set(node, "op", other_op())
            yield "statement dropped", lambda put: put(ast.Pass())
        case ast.BoolOp():
            other_bool = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield _said(node.op, type(other_bool)), _set(node, "op", other_bool)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield f"{type(node.op).__name__} dropped", lambda put: put(node.operand)
        case ast.Constant(value=bool()):
            yield f"{node.value} to {not node.value}", _set(node, "value", not node.value)
        case ast.Constant(value=int() | float()):
            more = node.value + 1 if isinstance(node.value, int) else 1.5 * node.value or 1.0
            yield f"{node.value} to {more}", _set(node, "value", more)
        case ast.Call(func=ast.Name(id=name)) if name in _NAMED:
            yield f"{name} to {_NAMED[name]}", _set(node.func, "id", _NAMED[name])
        case ast.Call(func=ast.Name(id="abs")):
            yield "abs dropped", lambda put: put(node.args[0])
        case ast.Call(func=ast.Attribute(attr=name)) if name in _NAMED:
            yield f"{name} to {_NAMED[name]}", _set(node.func, "attr", _NAMED[name])
        case ast.Return() if not _is_nothing(node.value):
            yield "returns None", _set(node, "value", ast.Constant(None))
        case ast.Expr() if not isinstance(node.value, ast.Constant):
            yield "statement dropped", lambda put: put(ast.Pass())
        case ast.Raise() | ast.Continue() | ast.Break():
            yield f"{type(node).__name__.lower()} dropped", lambda put: put(ast.Pass())
        case ast.If() | ast.IfExp() | ast.While() if _is_plain(node.test):
            yield "condition turned", _set(node, "test", ast.UnaryOp(ast.Not(), node.test))
        case ast.comprehension():
            for n in range(len(node.ifs)):
                yield "filter dropped", _set_item(node.ifs, n, ast.Constant(True))


def _is_open(tree: ast.AST, node: ast.AST) -> bool:
    """Whether a node is code that runs for its meaning: no annotation, decorator or sentence."""
    return not any(node is shut for shut in _shut(tree))


def _shut(tree: ast.AST) -> Iterator[ast.AST]:
    for node in ast.walk(tree):
        inner: list[ast.AST | None] = []
        match node:
            case ast.FunctionDef():
                inner = [*node.decorator_list, node.returns]
            case ast.ClassDef():
                inner = [*node.decorator_list]
            case ast.arg() | ast.AnnAssign():
                inner = [node.annotation]
            case ast.If(test=ast.Name(id="TYPE_CHECKING")):
                inner = [node]
            case ast.FormattedValue(format_spec=ast.JoinedStr() as spec):
                inner = [spec]
        for part in inner:
            yield from ast.walk(part) if part is not None else ()


def _set(node: ast.AST, name: str, value: object) -> Callable[[_Put], None]:
    return lambda put: setattr(node, name, value)


def _set_item(items: list, n: int, value: ast.AST) -> Callable[[_Put], None]:
    return lambda put: items.__setitem__(n, value)


def _said(old: ast.AST, new: type) -> str:
    return f"{type(old).__name__} to {new.__name__}"


def _is_nothing(value: ast.expr | None) -> bool:
    return value is None or (isinstance(value, ast.Constant) and value.value is None)


def _is_plain(test: ast.expr) -> bool:
    """Whether no other fault turns this condition already."""
    return not isinstance(test, ast.Compare | ast.BoolOp) and not (
        isinstance(test, ast.UnaryOp) and isinstance(test.op, ast.Not)
    )
