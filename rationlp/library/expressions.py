"""The `equation` of a computed figure, in words a person can read and this module can calculate again.

    metabolizable_energy_from_de()                     every argument is the feed's own figure of that name
    net_energy_from_de(starch=starch + sugars)         one argument given, the rest the feed's own
    0.917 * digestible_energy_of_ingredient()          numbers, + - * / and brackets
    between(soybean_meal_44_solvent.lysine, ...)       a figure of another feed: feed.nutrient

Names that may be called are those of rationlp.library.equations and the plain arithmetic of its balance module.
`nfe` is nitrogen-free extract by difference. Figures are on dry matter in the units of nutrients.csv.
"""

from __future__ import annotations

import ast
import inspect
import operator
from collections.abc import Callable, Mapping
from functools import cache

from rationlp.library.equations import EQUATIONS, MODULES, EquationError
from rationlp.library.equations.balance import between, mean, nitrogen_free_extract, zero

Figures = Mapping[str, Mapping[str, float]]

FUNCTIONS: dict[str, Callable[..., float]] = {
    name: getattr(module, name) for module in MODULES for name in EQUATIONS if hasattr(module, name)
} | {"mean": mean, "between": between, "zero": zero}

_OPERATORS = {ast.Add: operator.add, ast.Sub: operator.sub, ast.Mult: operator.mul, ast.Div: operator.truediv}
_NFE_PARTS = ("crude_protein", "ether_extract", "crude_fibre", "ash")


def evaluate(expression: str, feed: str, figures: Figures) -> float:
    """The value of `expression` for `feed`; `figures` holds every feed's figures on dry matter.

    Raises EquationError with the reason: unreadable, an unknown function, a figure that is missing, an impossible
    value.
    """
    return _Calculator(feed, figures).value(_parse(expression))


@cache
def inputs_of(expression: str) -> frozenset[str]:
    """The figures of the feed itself that `expression` depends on (nutrient ids). Raises EquationError."""
    found: set[str] = set()
    for node in ast.walk(_parse(expression)):
        if isinstance(node, ast.Call):
            found |= {name for name, default in _open_arguments(node).items() if default}
        elif isinstance(node, ast.Name) and node.id not in FUNCTIONS:
            found.add(node.id)
    if "nfe" in found:
        found = found - {"nfe"} | set(_NFE_PARTS)
    return frozenset(found - donors_of(expression))


def functions_of(expression: str) -> tuple[str, ...]:
    """The functions that `expression` calls, in reading order. Raises EquationError."""
    calls = (node for node in ast.walk(_parse(expression)) if isinstance(node, ast.Call))
    return tuple(dict.fromkeys(call.func.id for call in calls if isinstance(call.func, ast.Name)))


@cache
def _parse(expression: str) -> ast.expr:
    try:
        return ast.parse(expression.strip(), mode="eval").body
    except SyntaxError:
        raise EquationError(f"{expression!r} cannot be read as an equation") from None


def donors_of(expression: str) -> set[str]:
    """Names that stand before a dot: other feeds. Raises EquationError."""
    tree = _parse(expression)
    return {
        node.value.id for node in ast.walk(tree) if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)
    }


def _function(call: ast.Call) -> Callable[..., float]:
    name = call.func.id if isinstance(call.func, ast.Name) else "?"
    if name not in FUNCTIONS:
        raise EquationError(f"there is no equation named {name!r}")
    return FUNCTIONS[name]


def _open_arguments(call: ast.Call) -> dict[str, bool]:
    """Arguments that the call leaves open: True if the feed's own figure must fill it, False if it has a default."""
    given = {word.arg for word in call.keywords}
    return {name: needed for name, needed in _arguments(_function(call))[len(call.args) :] if name not in given}


@cache
def _arguments(function: Callable[..., float]) -> tuple[tuple[str, bool], ...]:
    """The arguments of a function by name, and whether each must be given."""
    parameters = inspect.signature(function).parameters.values()
    return tuple((p.name, p.default is p.empty) for p in parameters if p.kind is not p.VAR_POSITIONAL)


class _Calculator:
    """Walks one expression for one feed."""

    def __init__(self, feed: str, figures: Figures):
        self.feed = feed
        self.figures = figures

    def value(self, node: ast.expr) -> float:
        match node:
            case ast.Constant(value=int() | float() as number):
                return float(number)
            case ast.Name(id=name):
                return self.figure(self.feed, name)
            case ast.Attribute(value=ast.Name(id=feed), attr=nutrient):
                return self.figure(feed, nutrient)
            case ast.UnaryOp(op=ast.USub(), operand=operand):
                return -self.value(operand)
            case ast.BinOp(left=left, op=sign, right=right) if type(sign) in _OPERATORS:
                return self.combine(_OPERATORS[type(sign)], left, right)
            case ast.Call():
                return self.call(node)
        raise EquationError(f"{ast.unparse(node)!r} is not allowed in an equation")

    def combine(self, sign: Callable[[float, float], float], left: ast.expr, right: ast.expr) -> float:
        try:
            return sign(self.value(left), self.value(right))
        except ZeroDivisionError:
            raise EquationError(f"{ast.unparse(right)!r} is zero and cannot divide") from None

    def call(self, node: ast.Call) -> float:
        function = _function(node)
        arguments = [self.value(argument) for argument in node.args]
        words = {word.arg: self.value(word.value) for word in node.keywords if word.arg}
        own = {name: self.figure(self.feed, name) for name, needed in _open_arguments(node).items() if needed}
        try:
            return function(*arguments, **own, **words)
        except TypeError:
            raise EquationError(f"{ast.unparse(node)!r} does not fit the arguments of {function.__name__}") from None

    def figure(self, feed: str, nutrient: str) -> float:
        figures = self.figures.get(feed)
        if figures is None:
            raise EquationError(f"there is no feed {feed!r}")
        if nutrient in figures:
            return figures[nutrient]
        if nutrient == "nfe":
            return nitrogen_free_extract(*(self.figure(feed, part) for part in _NFE_PARTS))
        raise EquationError(f"{feed} has no figure for {nutrient}")
