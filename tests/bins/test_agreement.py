"""Whether hand sort and assay agree, and which slip explains it if not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2

from rationlp.bins import estimate_bin
from rationlp.bins.agreement import FEW_SLIPS_SHOW, FIRST_IN_HALF
from rationlp.bins.chance import chi_square_tail
from rationlp.bins.evidence import gather
from rationlp.bins.joint import solve

WHEAT_AND_PEAS = {"wheat_hard": 300.0, "peas_field": 190.0, "foreign_matter": 10.0}
ASSAYED = ("crude_protein", "ether_extract", "ash", "starch", "ndf")


@pytest.mark.parametrize("degrees", range(1, 13))
@pytest.mark.parametrize("chi_square", [0.0, 0.01, 0.5, 3.0, 10.0, 40.0, 90.0])
def test_the_tail_of_chi_square_against_scipy(chi_square, degrees):
    assert chi_square_tail(chi_square, degrees) == pytest.approx(chi2.sf(chi_square, degrees), rel=1e-10, abs=1e-30)


def test_no_degrees_no_doubt():
    assert chi_square_tail(5.0, 0) == 1.0


def expected(book, library, sample="n1"):
    """What the sort leads one to expect, on dry matter."""
    problem = gather("north", book, library, sample).problem
    belief, _ = solve(problem, with_assays=False)
    return dict(zip(problem.nutrients, belief.nutrients, strict=True))


def assays(values, basis="dry_matter", sd=0.02):
    return [(n, round(float(v), 4), "%", basis, round(max(sd * float(v), 0.01), 4)) for n, v in values.items()]


@pytest.fixture
def sorted_only(bin_book, library):
    """The hand sort of wheat and peas, and what it leads one to expect."""
    book = bin_book({"n1": WHEAT_AND_PEAS}, name="expected")
    return {n: v for n, v in expected(book, library).items() if n in ASSAYED}


def test_an_assay_as_expected_agrees(bin_book, library, sorted_only):
    estimate = estimate_bin("north", bin_book({"n1": WHEAT_AND_PEAS}, {"n1": assays(sorted_only)}), library)
    agreement = estimate.agreement
    assert agreement.verdict == "agree"
    assert agreement.degrees == len(ASSAYED)
    assert agreement.chi_square < 0.1
    assert "agrees" in agreement.sentence
    assert not any(finding.kind == "agreement" for finding in estimate.notices)


def disagreeing(bin_book, library, found, sort=None):
    estimate = estimate_bin("north", bin_book({"n1": sort or WHEAT_AND_PEAS}, {"n1": found}), library)
    assert estimate.agreement.verdict == "disagree"
    assert estimate.agreement.p_value < 0.01
    danger = next(finding for finding in estimate.notices if finding.kind == "agreement")
    assert danger.severity == "danger"
    assert estimate.findings[0] == danger.text
    return estimate.agreement


def test_a_swapped_basis_is_named(bin_book, library, sorted_only):
    """Figures on dry matter entered as fed: everything is 14 % too high after conversion."""
    narrow = assays(sorted_only, "as_fed", sd=0.004)
    agreement = disagreeing(bin_book, library, narrow)
    assert "basis is swapped" in agreement.causes[0]
    assert "as fed" in agreement.causes[0]


def test_one_wrong_figure_is_named(bin_book, library, sorted_only):
    agreement = disagreeing(bin_book, library, assays({**sorted_only, "ash": 2.2 * sorted_only["ash"]}))
    assert any("without Ash" in cause for cause in agreement.causes)
    assert "Ash" in agreement.sentence


def test_swapped_heaps_are_named(bin_book, library):
    sort = {"wheat_hard": 420.0, "soybeans_roasted": 80.0}
    turned = {"wheat_hard": 80.0, "soybeans_roasted": 420.0}
    really = expected(bin_book({"n1": turned}, name="turned"), library)
    agreement = disagreeing(bin_book, library, assays({n: really[n] for n in ASSAYED}), sort)
    assert any("heaps are swapped" in cause and "Soybeans" in cause for cause in agreement.causes)


def test_a_mislabelled_crop_is_named(bin_book, library):
    """Roasted soybeans entered as field peas, which have the same size of kernel."""
    really = expected(bin_book({"n1": {"wheat_hard": 250.0, "soybeans_roasted": 250.0}}, name="soy"), library)
    sort = {"wheat_hard": 250.0, "peas_field": 250.0}
    agreement = disagreeing(bin_book, library, assays({n: really[n] for n in ASSAYED}), sort)
    wrong = next(cause for cause in agreement.causes if "mislabelled" in cause)
    assert "Field peas" in wrong
    assert "Soybeans" in wrong or "oybean" in wrong


def test_more_foreign_matter_is_named(bin_book, library, sorted_only):
    """The laboratory's sample was one fifth chaff: everything is thinned alike, beyond what lots differ."""
    thinned = {n: 0.8 * v for n, v in sorted_only.items()}
    agreement = disagreeing(bin_book, library, assays(thinned, sd=0.005))
    assert any("more foreign matter" in cause for cause in agreement.causes)


def test_agreement_is_by_chance_as_often_as_it_says(bin_book, library):
    """p-values of assays drawn from what is expected are even over 0 to 1."""
    from rationlp.bins.agreement import _surprise  # the piece under test, without the sentences

    evidence = gather(
        "north", bin_book({"n1": WHEAT_AND_PEAS}, {"n1": assays({"crude_protein": 17, "ash": 2.4, "ndf": 13})}), library
    )
    problem, reading = evidence.problem, evidence.problem.readings[0]
    surprise = _surprise(problem, reading.sort, reading.assays)
    drawn = np.random.default_rng(1).multivariate_normal(np.zeros(3), surprise.covariance, 4000)
    inverse = np.linalg.inv(surprise.covariance)
    p_values = [chi_square_tail(float(d @ inverse @ d), 3) for d in drawn]
    assert np.histogram(p_values, bins=10, range=(0, 1))[0] == pytest.approx(400, abs=75)


def test_without_an_assay_there_is_nothing_to_agree(bin_book, library):
    for found in ({}, {"n1": [("dry_matter", 88, "%", "as_fed")]}):
        agreement = estimate_bin("north", bin_book(assays=found, name=f"n{len(found)}"), library).agreement
        assert (agreement.verdict, agreement.p_value, agreement.degrees) == ("not compared", None, 0)
        assert "no assay to compare" in agreement.sentence


def test_without_a_sort_there_is_nothing_to_compare_the_assay_with(bin_book, library):
    """Shares guessed from a list of crops fit any assay, so a p-value would say nothing."""
    agreement = estimate_bin(
        "north", bin_book({}, {"n1": assays({"crude_protein": 17.5})}, name="lab"), library
    ).agreement
    assert (agreement.verdict, agreement.p_value, agreement.sample) == ("not compared", None, "n1")
    assert "Nothing of bin north was sorted" in agreement.sentence


def test_an_assay_without_a_sort_is_compared_with_what_is_known(bin_book, library):
    book = bin_book(
        {"n1": WHEAT_AND_PEAS}, {"n1": [], "n2": assays({"crude_protein": 17.5})}, samples={"n2": {"note": "lab only"}}
    )
    agreement = estimate_bin("north", book, library).agreement
    assert agreement.sample == "n2"
    assert "library and what is known" in agreement.sentence


# The words are no surer than what was measured ---------------------------------------------------------------------


def measured():
    """The rows of the table in DEVELOPERS.md whose causes were counted: noticed in percent, named, first right."""
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.split("| slip | noticed |")[1].split("\n\n")[0]
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in table.splitlines()[2:]]
    return {row[0]: (int(row[1].removesuffix(" %")), int(row[2]), int(row[3])) for row in rows if row[2]}


def test_the_words_on_causes_and_agreement_are_those_of_the_table():
    rows = measured().values()
    assert len(rows) == 7
    assert FEW_SLIPS_SHOW.startswith("Fewer than half")
    assert sum(noticed for noticed, _, _ in rows) / len(rows) < 50
    assert "about half" in FIRST_IN_HALF
    assert 0.45 < sum(first for _, _, first in rows) / sum(named for _, named, _ in rows) < 0.55


def test_the_words_go_with_every_cause(bin_book, library, sorted_only):
    narrow = assays(sorted_only, "as_fed", sd=0.004)
    estimate = estimate_bin("north", bin_book({"n1": WHEAT_AND_PEAS}, {"n1": narrow}), library)
    (reason,) = [reason for reason in estimate.reasons if "contradict" in reason.text or "says" in reason.text]
    assert FIRST_IN_HALF in reason.text
    assert FIRST_IN_HALF in next(f for f in estimate.notices if f.kind == "agreement").text
