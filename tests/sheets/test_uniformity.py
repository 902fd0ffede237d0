"""The coefficient of variation of samples of one batch, against printed examples and limits."""

from __future__ import annotations

import pytest

from rationlp.actual.uniformity import read_uniformity, uniformity
from rationlp.errors import InputError
from rationlp.sheets.practice import LIMIT_WORDS, UNIFORMITY_LIMITS

# Source: Closer to perfection, Feed Management, November 1992, Table 1 (feedmgmt_1992), printed mean, sd and CV in %;
# the sd is with n - 1. The ten-sample example is our own (worked_examples.json, mixcv_ten_salt).
PRINTED = {
    "salt": ([0.81, 0.75, 0.61, 0.76, 0.68, 0.8], 0.74, 0.077, 10.4),
    "fat": ([2.81, 2.6, 3.02, 2.7, 2.74, 2.54], 2.74, 0.17, 6.2),
    "marker": ([380, 323, 391, 459, 336, 399], 381, 48.8, 12.8),
    "protein": ([15.5, 15.4, 15.0, 15.2, 15.6, 15.3], 15.3, 0.22, 1.4),
}


@pytest.mark.parametrize("tracer", PRINTED)
def test_printed_examples(tracer):
    values, mean, sd, cv = PRINTED[tracer]
    found = uniformity(tracer, values)
    assert found.mean == pytest.approx(mean, rel=0.01)
    assert found.sd == pytest.approx(sd, rel=0.02)
    assert found.cv_pct == pytest.approx(cv, abs=0.1)
    assert any("6 samples only" in note for note in found.notes)


def test_ten_samples():
    found = uniformity("salt", [0.31, 0.29, 0.33, 0.3, 0.28, 0.32, 0.31, 0.27, 0.3, 0.29])
    assert found.cv_pct == pytest.approx(6.086, abs=0.01)
    assert found.good and not found.notes


@pytest.mark.parametrize(
    ("cv", "kept"), [(4, [True, True, True]), (8, [False, True, True]), (12, [False, False, True]), (18, [False] * 3)]
)
def test_limits(cv, kept):
    """5 % industry (ucd_mixing), 10 % farm mixer (osu_b869), 15 % complete feed (ctl_cv_limits)."""
    spread = cv / 100 / 2**0.5
    found = uniformity("salt", [1 - spread, 1 + spread])
    assert found.cv_pct == pytest.approx(cv)
    assert [passes for *_, passes in found.passes] == kept


def test_who_says_so_is_told_in_words():
    """`(osu_b869)` stood on the crew's sheet."""
    told = " ".join(LIMIT_WORDS) + " ".join(name for name, *_ in uniformity("salt", [0.3, 0.31]).passes)
    assert told.count("Ohio State University Extension, Bulletin 869") == 2
    assert not [limit.source for limit in UNIFORMITY_LIMITS if limit.source in told]


@pytest.mark.parametrize(("cv", "advice"), [(9, "Good"), (14, "longer"), (19, "half as long again"), (25, "repair")])
def test_advice(cv, advice):
    spread = cv / 100 / 2**0.5
    assert advice in uniformity("salt", [1 - spread, 1 + spread]).advice


def test_as_typed():
    found = read_uniformity("salt, %: 0.31, 0.29; 0.33")
    assert (found.tracer, found.values) == ("salt, %", (0.31, 0.29, 0.33))


@pytest.mark.parametrize("text", ["salt: 0.3", "salt: 0.3 x", "salt: 0 0", "salt: 1 -1", ""])
def test_refused(text):
    with pytest.raises(InputError):
        read_uniformity(text)
