"""Sweeps as plots, PNG or SVG by the ending of the file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rationlp.book.records import Settings
from rationlp.book_units import BookUnits, units_of
from rationlp.errors import given
from rationlp.files import write_whole
from rationlp.offers.model import Sweep, SweepPoint

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ENDINGS = (".png", ".svg")
MOST_LINES = 8
"""Ingredients drawn by name; the others are one band."""
MOST_POINTS = 60
"""A sweep with more steps is drawn without dots."""


def plot_sweeps(sweeps: Sequence[Sweep], farm: Settings, path: Path) -> None:
    """Cost and mix against price, a row of two plots for each ration; a grid as one map of cost for each ration.

    Drawn without a screen. The file appears whole or not at all. Raises InputError if it cannot be written.
    """
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    grids = [sweep for sweep in sweeps if sweep.other is not None]
    by_ration: dict[tuple[str, str], list[Sweep]] = {}
    for sweep in sweeps:
        by_ration.setdefault((sweep.stage, sweep.bin), []).append(sweep)
    wide, units = 1 if grids else 2, units_of(farm)
    with mpl.rc_context({"font.size": 9, "svg.fonttype": "none", "svg.hashsalt": "rationlp"}):
        figure = Figure(figsize=(5.5 * wide, 3.4 * len(by_ration)), layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.subplots(len(by_ration), wide, squeeze=False)
        for row, rows in zip(axes, by_ration.values(), strict=True):
            if grids:
                _draw_grid(figure, row[0], rows, units)
            else:
                _draw_cost(row[0], rows[0], units)
                _draw_mix(row[1], rows[0], units)
        kind = path.suffix.casefold().removeprefix(".")
        about = {"Date": None} if kind == "svg" else {}  # the same question, the same file
        write_whole(path, lambda temporary: figure.savefig(temporary, format=kind, dpi=150, metadata=about))


def _title(sweep: Sweep) -> str:
    return f"{sweep.stage}{f' from {sweep.bin}' if sweep.bin else ''}"


def _draw_cost(axes: Axes, sweep: Sweep, units: BookUnits) -> None:
    """The cost that is least at every price: straight from one breakpoint to the next."""
    edges = [edge for piece in sweep.pieces for edge in (piece.price_from, piece.price_to)]
    ends = [cost for piece in sweep.pieces for cost in (piece.cost_from, piece.cost_to)]
    axes.plot(_prices(edges, units), _costs(ends, sweep, units), color="black")
    if len(sweep.points) <= MOST_POINTS:
        dots = _costs([_cost(point, sweep) for point in sweep.points], sweep, units)
        axes.plot(_prices([point.price for point in sweep.points], units), dots, "o", color="black", ms=3)
    for price in _prices(sweep.breakpoints, units):
        axes.axvline(price, color="0.7", lw=0.8, ls=":")
    axes.set_title(_title(sweep), loc="left")
    axes.set_xlabel(f"{sweep.offer}, {units.per_mass}")
    axes.set_ylabel(f"ration, {_unit(sweep, units)}")


def _prices(per_tonne: Sequence[float], units: BookUnits) -> list[float]:
    """In the unit of the book's prices."""
    return [units.price_value(price) for price in per_tonne]


def _costs(costs: Sequence[float], sweep: Sweep, units: BookUnits) -> list[float]:
    """Costs of the objective: per Gcal as they are, per tonne in the unit of the book's prices."""
    return list(costs) if sweep.objective == "per_energy" else _prices(costs, units)


def _cost(point: SweepPoint, sweep: Sweep) -> float:
    if sweep.objective != "per_energy":
        return point.cost_per_tonne
    return given(point.cost_per_gcal, "the cost per Gcal")


def _unit(sweep: Sweep, units: BookUnits) -> str:
    return f"{units.currency}/Gcal" if sweep.objective == "per_energy" else units.per_mass


def _draw_mix(axes: Axes, sweep: Sweep, units: BookUnits) -> None:
    """Shares as bands that jump where the mix changes."""
    largest: dict[str, float] = {}
    for piece in sweep.pieces:
        for name, share in piece.mix.items():
            largest[name] = max(largest.get(name, 0.0), share)
    names = sorted(largest, key=lambda name: -largest[name])
    prices = _prices([edge for piece in sweep.pieces for edge in (piece.price_from, piece.price_to)], units)
    labels = names[:MOST_LINES]
    bands = [[100 * piece.mix.get(name, 0.0) for piece in sweep.pieces for _ in (0, 1)] for name in labels]
    if len(names) > MOST_LINES:
        bands.append([100 - sum(values) for values in zip(*bands, strict=True)])
        labels = [*labels, "the rest"]
    axes.stackplot(prices, bands, labels=labels, edgecolor="white", linewidth=0.4)
    axes.set_xlabel(f"{sweep.offer}, {units.per_mass}")
    axes.set_ylabel("% of the mix")
    axes.set_ylim(0, 100)
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False)


def _draw_grid(figure: Figure, axes: Axes, rows: Sequence[Sweep], units: BookUnits) -> None:
    """Cost as a map, with a mark wherever the mix changes along a row."""
    costs = [_costs([_cost(point, row) for point in row.points], row, units) for row in rows]
    prices = _prices([point.price for point in rows[0].points], units)
    others = _prices([given(row.other_price, "the price of the second offer") for row in rows], units)
    mesh = axes.pcolormesh(prices, others, costs, shading="nearest", cmap="cividis")
    for row, other in zip(rows, others, strict=True):
        breaks = _prices(row.breakpoints, units)
        axes.plot(breaks, [other] * len(breaks), "|", color="white", ms=6)
    axes.set_title(_title(rows[0]), loc="left")
    axes.set_xlabel(f"{rows[0].offer}, {units.per_mass}")
    axes.set_ylabel(f"{rows[0].other}, {units.per_mass}")
    figure.colorbar(mesh, ax=axes, label=f"ration, {_unit(rows[0], units)}")
