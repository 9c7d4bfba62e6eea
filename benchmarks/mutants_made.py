"""Mutants of the referee and the distances: what is changed, and which of them are drawn."""

from __future__ import annotations

import ast
import hashlib
import random
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator, operator_names

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ROOMS = ("router/check", "router/geometry")
TAKEN = re.compile(
    r"core/("
    r"ReplaceBinaryOperator_(Add_Sub|Sub_Add|Mul_Div|Div_Mul|FloorDiv_Div|Mod_Mul|Pow_Mul|BitOr_BitAnd|BitAnd_BitOr)"
    r"|ReplaceComparisonOperator_(Eq_NotEq|NotEq_Eq|Lt_LtE|Lt_GtE|LtE_Lt|LtE_Gt|Gt_GtE|Gt_LtE|GtE_Gt|GtE_Lt"
    r"|Is_IsNot|IsNot_Is)"
    r"|ReplaceUnaryOperator_(Delete_USub|Delete_Not|Delete_Invert)"
    r"|AddNot|ReplaceTrueWithFalse|ReplaceFalseWithTrue|ReplaceAndWithOr|ReplaceOrWithAnd"
    r"|ReplaceBreakWithContinue|ReplaceContinueWithBreak|NumberReplacer|ZeroIterationForLoop)"
)
"""Of cosmic-ray's operators: what could be a slip of the pen. Left out is what nearly always raises
(float shifts), what changes annotations, and renaming of variables and exceptions."""

SWAPS = {"min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum", "maximum": "minimum"}


@dataclass(frozen=True)
class Mutant:
    """One change: where, what, and the module's whole text with it."""

    module: str
    operator: str
    first_line: int
    last_line: int
    line: int
    before: str
    after: str
    at_import: bool
    text: str

    @property
    def id(self) -> str:
        """Name that stays while the module does: it goes by the changed text."""
        digest = hashlib.sha256(f"{self.module}\n{self.text}".encode()).hexdigest()[:10]
        return f"{self.module}:{digest}"

    def record(self) -> dict[str, object]:
        """Everything but the text, for a file of results."""
        return {
            "id": self.id,
            "module": self.module,
            "line": self.line,
            "operator": self.operator,
            "before": self.before,
            "after": self.after,
        }


Place = tuple[int, int]
Span = tuple[Place, Place]


@dataclass(frozen=True)
class Change:
    """A change that can be made: a span of text and what replaces it, or cosmic-ray's number of it."""

    operator: str
    span: Span
    how: str | int


def _span(node: ast.expr | ast.stmt) -> Span:
    return (node.lineno, node.col_offset), (node.end_lineno or 0, node.end_col_offset or 0)


def left_out(tree: ast.Module) -> list[Span]:
    """Return what is never changed: annotations, message texts (f-strings), imports for types."""
    spans = []
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            spans.append(_span(node))
        elif isinstance(node, (ast.AnnAssign, ast.arg)) and node.annotation:
            spans.append(_span(node.annotation))
        elif isinstance(node, ast.FunctionDef) and node.returns:
            spans.append(_span(node.returns))
        elif isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            spans.append(_span(node))
    return spans


def _replaced(text: str, span: Span, new: str) -> str:
    lines = text.splitlines(keepends=True)
    (l0, c0), (l1, c1) = span
    head, tail = lines[l0 - 1].encode()[:c0].decode(), lines[l1 - 1].encode()[c1:].decode()
    return "".join([*lines[: l0 - 1], head + new + tail, *lines[l1:]])


def own_changes(text: str, tree: ast.Module) -> Iterator[Change]:
    """Yield what cosmic-ray has not: a statement dropped, nothing returned, min for max, any for all."""
    for node in ast.walk(tree):
        if isinstance(node, (ast.Expr, ast.AugAssign)):
            if not (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)):  # a docstring
                yield Change("own/DropStatement", _span(node), "pass")
        elif isinstance(node, ast.Return) and node.value is not None:
            if not (isinstance(node.value, ast.Constant) and node.value.value is None):
                yield Change("own/ReturnNone", _span(node), "return None")
        elif isinstance(node, ast.Call):
            name = node.func
            if isinstance(name, ast.Name) and name.id in SWAPS:
                yield Change("own/Swap", _span(name), SWAPS[name.id])
            elif isinstance(name, ast.Attribute) and name.attr in SWAPS:
                new = f"{ast.get_source_segment(text, name.value)}.{SWAPS[name.attr]}"
                yield Change("own/Swap", _span(name), new)


def changes_of(text: str) -> list[Change]:
    """Return every change of a module that may be drawn: cosmic-ray's, then our own."""
    nodes, tree = list(ast_nodes(get_ast(text))), ast.parse(text)
    spare = left_out(tree)
    found = []
    for name in sorted(operator_names()):
        if TAKEN.fullmatch(name):
            operator = get_operator(name)()
            spans = [span for node in nodes for span in operator.mutation_positions(node)]
            found += [Change(name, span, k) for k, span in enumerate(spans)]
    found += own_changes(text, tree)
    return [c for c in found if not any(a <= c.span[0] and c.span[1] <= b for a, b in spare)]


def applied(text: str, change: Change) -> str | None:
    """Return a module's text with a change, ``None`` where it makes none that can be read."""
    if isinstance(change.how, str):
        changed = _replaced(text, change.span, change.how)
    else:
        changed = mutate_code(text, get_operator(change.operator)(), change.how)
    try:
        same = changed is None or ast.dump(ast.parse(changed)) == ast.dump(ast.parse(text))
    except SyntaxError:
        return None
    return None if same else changed


def _mutant(module: str, text: str, change: Change, changed: str) -> Mutant:
    start, end = change.span
    functions = [n for n in ast.walk(ast.parse(text)) if isinstance(n, ast.FunctionDef)]
    inside = any(f.body[0].lineno <= start[0] <= (f.end_lineno or 0) for f in functions)
    old, new = text.splitlines(), changed.splitlines()
    at = next(k for k, (a, b) in enumerate(zip(old, new, strict=False)) if a != b)
    return Mutant(
        module=module,
        operator=change.operator,
        first_line=min(start[0], at + 1),
        last_line=max(end[0], at + 1),
        line=at + 1,
        before=old[at].strip(),
        after=new[at].strip(),
        at_import=not inside,
        text=changed,
    )


def sample(root: Path, count: int, seed: int, only: str = "") -> list[Mutant]:
    """Draw ``count`` mutants: of each module in proportion to what it offers, at least three, at random.

    ``only``: give those of modules whose path holds this.
    """
    paths = sorted(p for room in ROOMS for p in (root / room).rglob("*.py"))
    texts = {str(p.relative_to(root)): p.read_text() for p in paths}
    offered = {module: changes_of(text) for module, text in texts.items()}
    total = sum(len(changes) for changes in offered.values())
    drawn: list[Mutant] = []
    for module, changes in offered.items():
        if only not in module:
            continue
        share = max(3, round(count * len(changes) / total))
        random.Random(f"{seed} {module}").shuffle(changes)
        of_module: dict[str, Mutant] = {}
        for change in changes:
            if len(of_module) < share and (changed := applied(texts[module], change)):
                of_module.setdefault(changed, _mutant(module, texts[module], change, changed))
        drawn += sorted(of_module.values(), key=lambda m: (m.line, m.operator, m.after))
    return drawn
