"""Sampling variance against published examples and a Monte Carlo draw of kernels."""

from __future__ import annotations

import numpy as np
import pytest

from rationlp.bins import sampling


def test_increments_of_the_published_rule(examples):
    example = examples["samp_eu_increments"]
    assert [sampling.increments(tonnes) for tonnes in example["inputs"]["lot_t"]] == example["expected"]["increments"]


def test_mass_fraction_of_peas_in_barley(examples):
    example = examples["samp_massfraction_pea"]
    shares, kernels = [example["inputs"][key].values() for key in ("w", "kernel_mass_g")]
    for grams, sd_pct in zip(example["inputs"]["sample_g"], example["expected"]["sd_pct"], strict=True):
        covariance = sampling.share_covariance(list(shares), list(kernels), grams)
        assert 100 * covariance[1, 1] ** 0.5 == pytest.approx(sd_pct, abs=example["tolerance"]["sd_abs"])


def test_mass_fractions_and_protein_of_four_species(examples):
    example = examples["samp_massfraction_four"]
    crops = list(example["inputs"]["w"])
    shares, kernels, protein = (
        [example["inputs"][key][crop] for crop in crops] for key in ("w", "kernel_mass_g", "cp_pct")
    )
    grams, tolerance = example["inputs"]["sample_g"], example["tolerance"]["sd_abs"]
    covariance = sampling.share_covariance(shares, kernels, grams)
    for index, crop in enumerate(crops):
        assert 100 * covariance[index, index] ** 0.5 == pytest.approx(
            example["expected"]["sd_pct"][crop], abs=tolerance
        )
    variance = sampling.property_variance(shares, kernels, protein, grams)
    assert variance**0.5 == pytest.approx(example["expected"]["cp_sampling_sd"], abs=tolerance)
    assert np.array(protein) @ covariance @ np.array(protein) == pytest.approx(
        variance
    )  # one formula through the other


def test_equal_kernels_reduce_to_the_binomial_law():
    covariance = sampling.share_covariance([0.3, 0.7], [0.04, 0.04], 20.0)
    assert covariance[0, 0] == pytest.approx(0.3 * 0.7 / (20 / 0.04))


def test_shares_always_make_a_whole():
    covariance = sampling.share_covariance([0.5, 0.3, 0.15, 0.05], [0.04, 0.4, 0.02, 0.001], 300.0, 0.2)
    assert covariance.sum(axis=0) == pytest.approx(np.zeros(4), abs=1e-18)
    assert np.linalg.eigvalsh(covariance).min() > -1e-18


@pytest.mark.parametrize("grams", [150.0, 500.0])
def test_covariance_against_a_draw_of_kernels(grams):
    """20,000 samples, kernel by kernel in effect: a Poisson count of each crop, each kernel with a mass of its own."""
    shares, kernels = np.array([0.5, 0.25, 0.2, 0.05]), np.array([0.042, 0.025, 0.4, 0.0012])
    random = np.random.default_rng(20250901)
    counts = random.poisson(shares * grams / kernels, (20_000, 4))
    spread = sampling.KERNEL_MASS_CV * random.standard_normal(counts.shape) / np.sqrt(np.maximum(counts, 1))
    masses = counts * kernels * (1 + spread)
    drawn = np.cov((masses / masses.sum(axis=1, keepdims=True)).T)
    formula = sampling.share_covariance(shares, kernels, grams, sampling.KERNEL_MASS_CV)
    sd = np.sqrt(np.diag(formula))
    assert np.sqrt(np.diag(drawn)) == pytest.approx(sd, rel=0.03)
    assert drawn / np.outer(sd, sd) == pytest.approx(formula / np.outer(sd, sd), abs=0.03)
