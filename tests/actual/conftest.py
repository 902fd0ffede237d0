"""What the tests of weighed batches share."""

from __future__ import annotations

import pytest
from weighings import Case, cases_of

from rationlp.farm import Farm


@pytest.fixture(scope="session")
def cases(demo_book, library) -> list[Case]:
    """Rations of the demo's north bin with the kilograms of their sheets."""
    return cases_of(Farm(demo_book, library))
