"""Small faults that a source text could have: another number, sign, comparison, side, end.

In comes a module's text, out come :class:`Fault` objects: where, what stands there, what would
stand there instead. Texts, annotations and docstrings are left alone.
"""

import ast
from dataclasses import dataclass

OPERATORS: dict[type[ast.AST], tuple[str, tuple[str, ...]]] = {
    ast.Lt: ("<", (">=",)),
    ast.LtE: ("<=", (">",)),
    ast.Gt: (">", ("<=",)),
    ast.GtE: (">=", ("<",)),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
    ast.Is: ("is", ("is not",)),
    ast.IsNot: ("is not", ("is",)),
    ast.In: ("in", ("not in",)),
    ast.NotIn: ("not in", ("in",)),
    ast.Add: ("+", ("-",)),
    ast.Sub: ("-", ("+",)),
    ast.Mult: ("*", ("/",)),
    ast.Div: ("/", ("*",)),
    ast.FloorDiv: ("//", ("*",)),
    ast.And: ("and", ("or",)),
    ast.Or: ("or", ("and",)),
    ast.BitAnd: ("&", ("|",)),
    ast.BitOr: ("|", ("&",)),
}
AT_THE_EDGE = {"<": "<=", "<=": "<", ">": ">=", ">=": ">"}
"""Only where things are counted: measured numbers are never equal."""
NAMES = {
    **{"min": "max", "any": "all", "argmin": "argmax", "minimum": "maximum", "first": "last"},
    **{"fmin": "fmax", "nanmin": "nanmax", "mean": "median", "floor": "ceil", "notna": "isna"},
}
WORDS = {"left": "right", "initial_contact": "toe_off", "min": "max", "first": "last"}
SAYS_NOTHING = ("strict", "repr", "init")
"""Keywords whose value changes no result of what is right."""
SWAPPED = {**NAMES, **{other: name for name, other in NAMES.items()}}
SWAPPED_WORDS = {**WORDS, **{other: word for word, other in WORDS.items()}}


@dataclass(frozen=True, order=True)
class Fault:
    """One change of a module's text.

    Attributes
    ----------
    start, end : int
        Of what is replaced, in characters of the text.
    line : int
        From 1.
    """

    start: int
    end: int
    line: int
    old: str
    new: str
    context: str

    def planted(self, text: str) -> str:
        """Return the text with the fault in it."""
        return text[: self.start] + self.new + text[self.end :]


def faults_in(text: str) -> list[Fault]:
    """Return every fault that can be planted in a module, in the order of the text."""
    return sorted(fault for fault in _Finder(text).found if _is_code(fault.planted(text)))


def _is_code(text: str) -> bool:
    try:
        ast.parse(text)
    except SyntaxError:
        return False
    return True


def _counts(side: ast.expr) -> bool:
    """Whether one side of a comparison is a whole number by the look of it."""
    if isinstance(side, ast.Call):
        return ast.unparse(side.func) in ("len", "sum", "int", "round")
    name = getattr(side, "attr", getattr(side, "id", ""))
    is_whole = isinstance(side, ast.Constant) and isinstance(side.value, int) and side.value > 0
    return is_whole or name in ("size", "n") or name.startswith("n_")


def _asks_what_is_hidden(call: ast.Call) -> bool:
    """Whether a call asks one coordinate of places whether it is NaN: ``isnan(place[:, 0])``."""
    is_asked = isinstance(call.func, ast.Attribute) and call.func.attr == "isnan"
    return is_asked and isinstance(call.args[0], ast.Subscript) and _is_plain(call.args[0].slice)


def _is_plain(place: ast.expr) -> bool:
    """Whether a place in an array is written in numbers alone."""
    parts = place.elts if isinstance(place, ast.Tuple) else [place]
    return all(isinstance(each, (ast.Constant, ast.Slice)) for each in parts) and len(parts) > 1


class _Finder(ast.NodeVisitor):
    def __init__(self, text: str) -> None:
        self.text = text
        self.lines = text.splitlines(keepends=True)
        self.starts = [0]
        for line in self.lines:
            self.starts.append(self.starts[-1] + len(line))
        self.found: set[Fault] = set()
        self.visit(ast.parse(text))

    def at(self, line: int, column: int) -> int:
        """Return the place in the text of a line and its column in bytes."""
        before = self.lines[line - 1].encode()[:column].decode()
        return self.starts[line - 1] + len(before)

    def span(self, node: ast.expr) -> tuple[int, int]:
        assert node.end_lineno is not None and node.end_col_offset is not None
        return self.at(node.lineno, node.col_offset), self.at(node.end_lineno, node.end_col_offset)

    def add(self, start: int, end: int, *news: str) -> None:
        line = self.text.count("\n", 0, start)
        for new in news:
            fault = Fault(start, end, line + 1, self.text[start:end], new, self.lines[line].strip())
            self.found.add(fault)

    def between(
        self, left: ast.expr, right: ast.expr, operator: ast.AST, *, counts: bool = False
    ) -> None:
        """Add the faults of the operator that stands between two expressions."""
        word, news = OPERATORS.get(type(operator), ("", ()))
        if counts and word in AT_THE_EDGE:
            news = (*news, AT_THE_EDGE[word])
        if word:
            gap_start, gap_end = self.span(left)[1], self.span(right)[0]
            start = self.text.find(word, gap_start, gap_end)
            if start >= 0:
                self.add(start, start + len(word), *news)

    def visit_Compare(self, node: ast.Compare) -> None:
        for left, operator, right in zip(
            (node.left, *node.comparators), node.ops, node.comparators, strict=False
        ):
            self.between(left, right, operator, counts=_counts(left) or _counts(right))
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        self.between(node.left, node.right, node.op)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        for left, right in zip(node.values, node.values[1:], strict=False):
            self.between(left, right, node.op)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        start, _ = self.span(node)
        length = {ast.Not: len("not"), ast.USub: 1, ast.Invert: 1}.get(type(node.op))
        if length:
            self.add(start, start + length, "")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        start, end = self.span(node)
        if isinstance(node.value, bool):
            self.add(start, end, str(not node.value))
        elif isinstance(node.value, int):
            self.add(start, end, str(node.value + 1))
        elif isinstance(node.value, float):
            self.add(start, end, repr(2 * node.value if node.value else 1.0))
        elif isinstance(node.value, str) and node.value in SWAPPED_WORDS:
            self.add(start, end, repr(SWAPPED_WORDS[node.value]).replace("'", '"'))

    def visit_Subscript(self, node: ast.Subscript) -> None:
        if isinstance(node.slice, ast.Constant) and node.slice.value == 0:
            self.add(*self.span(node.slice), "-1")
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func
        if isinstance(name, ast.Name) and name.id in SWAPPED:
            self.add(*self.span(name), SWAPPED[name.id])
        elif isinstance(name, ast.Attribute) and name.attr in SWAPPED:
            _, end = self.span(name)
            self.add(end - len(name.attr), end, SWAPPED[name.attr])
        if not _asks_what_is_hidden(node):
            self.generic_visit(node)

    def visit_keyword(self, node: ast.keyword) -> None:
        if node.arg not in SAYS_NOTHING:
            self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self.negate(node.test)
        self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        self.negate(node.test)
        self.generic_visit(node)

    def negate(self, test: ast.expr) -> None:
        """Add the opposite of a plain condition; comparisons have faults of their own."""
        if isinstance(test, (ast.Name, ast.Attribute, ast.Call)):
            start, end = self.span(test)
            self.add(start, end, f"(not {self.text[start:end]})")

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Pass over: what a text says is wording."""

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for default in (*node.args.defaults, *node.args.kw_defaults):
            if default is not None:
                self.visit(default)
        for statement in node.body:
            self.visit(statement)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for statement in node.body:
            self.visit(statement)
