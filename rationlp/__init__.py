"""rationlp: from a bin sample of home-grown mixed grain to least-cost rations and mix sheets.

>>> import rationlp
>>> farm = rationlp.open_farm("demo/stillwater_bend")
>>> farm.rations("sw_gro_25_50", "north").summary.status[0]
'optimal'
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rationlp.version import __version__

if TYPE_CHECKING:
    from rationlp.answers import Rations
    from rationlp.api import OpenFarm, open_farm
    from rationlp.errors import BookError, InputError, LibraryError, RationlpError, RequestError, SolverError
    from rationlp.farms.results import many
    from rationlp.reasons import Reason, Severity, Verdict
    from rationlp.show.data.many import BookResult

__all__ = [
    "BookError",
    "BookResult",
    "InputError",
    "LibraryError",
    "OpenFarm",
    "RationlpError",
    "Rations",
    "Reason",
    "RequestError",
    "Severity",
    "SolverError",
    "Verdict",
    "__version__",
    "many",
    "open_farm",
]

_HOMES = {
    "OpenFarm": "api",
    "Rations": "api",
    "open_farm": "api",
    "BookResult": "show.data.many",
    "many": "farms.results",
    "Reason": "reasons",
    "Severity": "reasons",
    "Verdict": "reasons",
}


def __getattr__(name: str) -> Any:
    """Public names load on first use, so that the command line starts without them."""
    if name not in __all__:
        raise AttributeError(f"module 'rationlp' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"rationlp.{_HOMES.get(name, 'errors')}"), name)
