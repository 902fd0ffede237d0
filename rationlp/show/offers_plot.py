"""Sweeps as plots, PNG or SVG by the ending of the file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rationlp.offers.model import Sweep, SweepPoint
from rationlp.sheets.files import write_whole

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ENDINGS = (".png", ".svg")
MOST_LINES = 8
"""Ingredients drawn by name; the others are one band."""
MOST_POINTS = 60
"""A sweep with more steps is drawn without dots."""
FONT = {"font.size": 9, "svg.fonttype": "none", "svg.hashsalt": "rationlp"}


def plot_sweeps(sweeps: Sequence[Sweep], currency: str, path: Path) -> None:
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
    wide = 1 if grids else 2
    with mpl.rc_context(FONT):
        figure = Figure(figsize=(5.5 * wide, 3.4 * len(by_ration)), layout="constrained")
        FigureCanvasAgg(figure)
        axes = figure.subplots(len(by_ration), wide, squeeze=False)
        for row, rows in zip(axes, by_ration.values(), strict=True):
            if grids:
                _draw_grid(figure, row[0], rows, currency)
            else:
                _draw_cost(row[0], rows[0], currency)
                _draw_mix(row[1], rows[0], currency)
        kind = path.suffix.casefold().removeprefix(".")
        about = {"Date": None} if kind == "svg" else {}  # the same question, the same file
        write_whole(path, lambda temporary: figure.savefig(temporary, format=kind, dpi=150, metadata=about))


def _title(sweep: Sweep) -> str:
    return f"{sweep.stage}{f' from {sweep.bin}' if sweep.bin else ''}"


def _draw_cost(axes: Axes, sweep: Sweep, currency: str) -> None:
    """The cost that is least at every price: straight from one breakpoint to the next."""
    prices = [edge for piece in sweep.pieces for edge in (piece.price_from, piece.price_to)]
    axes.plot(prices, [cost for piece in sweep.pieces for cost in (piece.cost_from, piece.cost_to)], color="black")
    if len(sweep.points) <= MOST_POINTS:
        axes.plot([p.price for p in sweep.points], [_cost(p, sweep) for p in sweep.points], "o", color="black", ms=3)
    for price in sweep.breakpoints:
        axes.axvline(price, color="0.7", lw=0.8, ls=":")
    axes.set_title(_title(sweep), loc="left")
    axes.set_xlabel(f"{sweep.offer}, {currency}/t")
    axes.set_ylabel(f"ration, {currency}/{_unit(sweep)}")


def _cost(point: SweepPoint, sweep: Sweep) -> float:
    return point.cost_per_gcal if sweep.objective == "per_energy" else point.cost_per_tonne


def _unit(sweep: Sweep) -> str:
    return "Gcal" if sweep.objective == "per_energy" else "t"


def _draw_mix(axes: Axes, sweep: Sweep, currency: str) -> None:
    """Shares as bands that jump where the mix changes."""
    largest: dict[str, float] = {}
    for piece in sweep.pieces:
        for name, share in piece.mix.items():
            largest[name] = max(largest.get(name, 0.0), share)
    names = sorted(largest, key=lambda name: -largest[name])
    prices = [edge for piece in sweep.pieces for edge in (piece.price_from, piece.price_to)]
    bands: list[list[float]] = [
        [100 * p.mix.get(n, 0.0) for p in sweep.pieces for _ in (0, 1)] for n in names[:MOST_LINES]
    ]
    labels = names[:MOST_LINES]
    if len(names) > MOST_LINES:
        bands.append([100 - sum(values) for values in zip(*bands, strict=True)])
        labels = [*labels, "the rest"]
    axes.stackplot(prices, bands, labels=labels, edgecolor="white", linewidth=0.4)
    axes.set_xlabel(f"{sweep.offer}, {currency}/t")
    axes.set_ylabel("% of the mix")
    axes.set_ylim(0, 100)
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False)


def _draw_grid(figure: Any, axes: Axes, rows: Sequence[Sweep], currency: str) -> None:
    """Cost as a map, with a mark wherever the mix changes along a row."""
    costs = [[_cost(p, row) for p in row.points] for row in rows]
    prices = [p.price for p in rows[0].points]
    others = [row.other_price for row in rows]
    mesh = axes.pcolormesh(prices, others, costs, shading="nearest", cmap="cividis")
    for row in rows:
        axes.plot(row.breakpoints, [row.other_price] * len(row.breakpoints), "|", color="white", ms=6)
    axes.set_title(_title(rows[0]), loc="left")
    axes.set_xlabel(f"{rows[0].offer}, {currency}/t")
    axes.set_ylabel(f"{rows[0].other}, {currency}/t")
    figure.colorbar(mesh, ax=axes, label=f"ration, {currency}/{_unit(rows[0])}")
