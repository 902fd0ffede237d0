"""The least-squares update against published examples and against solves by a general library."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import least_squares, minimize

from rationlp.bins import joint
from rationlp.bins.evidence import gather, library_grains
from rationlp.bins.lots import Crop, known_crop
from rationlp.bins.sampling import KERNEL_MASS_CV, share_covariance
from rationlp.book.records import Book, Settings


def crops_of(columns, rows):
    """Crops without spread, from a table of nutrients (rows) by crop (columns)."""
    return tuple(
        Crop(name, name, 100.0, 0.0, 0.05, dict(zip(rows, column, strict=True)), {})
        for name, column in zip(columns, np.transpose(columns_of(columns, rows)), strict=True)
    )


def columns_of(columns, rows):
    return [[columns[name][i] for name in columns] for i in range(len(rows))]


def belief_about(mean, covariance):
    """Shares alone, with a dry matter nobody asks about."""
    size = len(mean)
    whole = np.zeros((size + 1, size + 1))
    whole[:size, :size] = covariance
    return joint.Belief(np.append(np.asarray(mean, float), 100.0), whole, size)


# Published examples ----------------------------------------------------------------------------------------------


def test_table_value_and_laboratory(examples):
    example = examples["bayes_table_lab"]["inputs"]
    belief = belief_about([example["table_mean"]], [[example["table_sd"] ** 2]])
    picks = np.array([[1.0, 0.0]])
    found, _ = joint.observe(belief, picks, np.array([example["lab"]]), np.array([[example["lab_sd"] ** 2]]))
    assert found.mean[0] == pytest.approx(examples["bayes_table_lab"]["expected"]["mean"], abs=1e-4)
    assert found.covariance[0, 0] ** 0.5 == pytest.approx(examples["bayes_table_lab"]["expected"]["sd"], abs=1e-4)


def test_shares_that_do_not_add_up_are_reconciled(examples):
    example = examples["recon_sum100"]
    belief = belief_about(example["inputs"]["y"], np.diag(np.square(example["inputs"]["sd"])))
    found, surprise = joint.observe(belief, np.array([[1.0, 1, 1, 0]]), np.array([100.0]), np.zeros((1, 1)))
    assert found.mean[:3] == pytest.approx(example["expected"]["x"], abs=1e-4)
    assert np.sqrt(np.diag(found.covariance)[:3]) == pytest.approx(example["expected"]["sd"], abs=1e-4)
    assert surprise.chi_square == pytest.approx(example["expected"]["chi2_1df"], abs=1e-4)


def test_hand_separation_and_four_assays(examples):
    example = examples["mix_wls_prior"]
    names, assays = example["inputs"]["species"], example["inputs"]["assays"]
    table = np.array(example["inputs"]["A_pct"])
    prior = belief_about(example["inputs"]["prior"], np.diag(np.square(example["inputs"]["prior_sd"])))
    whole, _ = joint.observe(prior, np.array([[1.0, 1, 1, 0]]), np.array([1.0]), np.zeros((1, 1)))
    problem = joint.LeastSquaresProblem(
        crops_of({name: table[:, i] for i, name in enumerate(names)}, assays),
        tuple(assays),
        100.0,
        0.0,
        (
            joint.SampleReading(
                "s",
                joint.Sorted(whole.shares, whole.share_covariance),
                joint.Assays(
                    np.eye(4),
                    np.array(example["inputs"]["b_pct"]),
                    np.diag(np.square(example["inputs"]["sd_pct"])),
                    np.zeros(4, bool),
                    1e12,
                ),
            ),
        ),
        joint.Sorted(whole.shares, whole.share_covariance),
    )
    found, made = joint.solve(problem)
    expected = example["expected"]
    assert found.shares == pytest.approx(expected["w"], abs=1e-4)
    assert np.sqrt(np.diag(found.share_covariance)) == pytest.approx(expected["w_sd"], abs=1e-4)
    start = joint.begin(problem, made, problem.readings[0].sort)
    _, surprise = joint.observe_assays(start, problem.readings[0].assays, made, np.full(3, 0.05))
    assert surprise.chi_square == pytest.approx(expected["chi2"], abs=1e-4)


def test_thirteen_components_from_ten_assays(examples):
    """A public case: the least-norm answer has negative shares, the one held in the simplex has not."""
    example = examples["mix_lstsq_public"]
    table, bulk = np.array(example["inputs"]["a_assay_by_component"]), np.array(example["inputs"]["b_bulk"])
    size, wide = table.shape[1], 1e2
    flat = belief_about(np.zeros(size), wide * np.eye(size))
    picks, noise = np.hstack([table, np.zeros((10, 1))]), 1e-4 * np.eye(10)
    free, _ = joint.observe(flat, picks, bulk, noise)
    assert free.shares == pytest.approx(example["expected"]["unconstrained_published"], abs=1e-4)
    only_positive = joint.hold_in_simplex(free)
    expected = np.array(example["expected"]["nonneg_only_computed"])
    one_kind = [9, 10, 11]  # these have one assay only, so only their sum in it can be told
    others = [i for i in range(size) if i not in one_kind]
    assert only_positive.shares[others] == pytest.approx(expected[others], abs=1e-4)
    assert table @ only_positive.shares == pytest.approx(table @ expected, abs=1e-3)
    assert only_positive.shares.min() >= 0
    summed, _ = joint.observe(flat, np.array([[1.0] * size + [0.0]]), np.array([1.0]), np.zeros((1, 1)))
    held = joint.hold_in_simplex(joint.observe(summed, picks, bulk, noise)[0])
    assert held.shares == pytest.approx(example["expected"]["nonneg_sum1_computed"], abs=1e-4)
    assert np.linalg.norm(table @ held.shares - bulk) == pytest.approx(
        example["expected"]["nonneg_sum1_residual_norm"], abs=1e-4
    )


# The same problem solved by a general library ----------------------------------------------------------------------


def factor(covariance):
    """F with covariance = F F', for singular covariances too."""
    values, vectors = np.linalg.eigh(covariance)
    keep = values > 1e-13 * max(values.max(), 1e-300)
    return vectors[:, keep] * np.sqrt(values[keep])


class Independent:
    """Sort, lots, laboratory and dry matter as residuals of one standard deviation each, for a general solver."""

    def __init__(self, problem, weights):
        self.problem, (reading,) = problem, problem.readings
        self.reading = reading
        self.shares = factor(reading.sort.covariance)
        contents = np.array([[crop.values[n] for crop in problem.crops] for n in problem.nutrients])
        self.contents, self.table = contents, np.array([crop.dry_matter_pct for crop in problem.crops])
        dry = self.dry_matters(weights[0])
        lots = sum(
            (f**2 + v)
            * (d / problem.dry_matter_pct) ** 2
            * crop.loadings(problem.nutrients)
            @ crop.loadings(problem.nutrients).T
            for crop, f, v, d in zip(problem.crops, weights[0], weights[1], dry, strict=True)
        )
        self.lots = factor(lots)
        kernels = [crop.kernel_mass_g for crop in problem.crops]
        scale = np.where(reading.assays.as_fed, weights[2] / 100, 1.0)
        steep = np.array(
            [  # how a figure moves with the shares, by steps: shares always make a whole
                reading.assays.picks @ (self.mix(weights[0] + step) - self.mix(weights[0] - step)) / 2e-5 * scale
                for step in 1e-5 * (np.eye(len(kernels)) - weights[0])
            ]
        ).T
        portion = share_covariance(weights[0], kernels, reading.assays.portion_g, KERNEL_MASS_CV)
        self.noise = np.linalg.cholesky(reading.assays.noise + steep @ portion @ steep.T)

    def dry_matters(self, shares):
        moist = 100 - self.table
        return 100 - (100 - self.problem.dry_matter_pct) * moist / float(shares @ moist)

    def mix(self, shares):
        return self.contents @ (shares * self.dry_matters(shares)) / self.problem.dry_matter_pct

    def state(self, z):
        a, b = self.shares.shape[1], self.lots.shape[1]
        shares = self.reading.sort.shares + self.shares @ z[:a]
        dry = self.problem.dry_matter_pct + self.problem.dry_matter_sd * z[-1]
        return np.concatenate([shares, self.mix(shares) + self.lots @ z[a : a + b], [dry]])

    def residuals(self, z):
        state = self.state(z)
        nutrients = state[len(self.table) : -1]
        figures = self.reading.assays.picks @ nutrients * np.where(self.reading.assays.as_fed, state[-1] / 100, 1.0)
        return np.concatenate([z, np.linalg.solve(self.noise, self.reading.assays.values - figures)])

    def solve(self):
        size = self.shares.shape[1] + self.lots.shape[1] + 1
        found = least_squares(self.residuals, np.zeros(size), jac="3-point", xtol=1e-15, ftol=1e-15, gtol=1e-13)
        return found.x


def invented_problem(library, seed, as_fed):
    """A bin of four crops with a sort and four assays, drawn at random from the library."""
    random = np.random.default_rng(seed)
    book = Book(Path("none"), Settings())
    names = random.choice([n for n in library_grains(library) if n != "soybeans_raw"], 4, replace=False)
    crops = tuple(known_crop(name, book, library) for name in names)
    nutrients = ("crude_protein", "ether_extract", "ndf", "ash", "lysine", "ne_pig", "amen_poultry")
    shares = random.dirichlet([4, 4, 4, 4])
    sort = joint.sorted_shares(dict(zip(names, 300 * shares, strict=True)), crops)
    contents = np.array([[crop.values[n] for crop in crops] for n in nutrients])
    values = (contents @ shares)[:4] * random.normal(1, 0.06, 4) * (0.88 if as_fed else 1)
    assays = joint.Assays(np.eye(4, 7), values, np.diag((0.03 * values) ** 2), np.full(4, as_fed), 500.0)
    return joint.LeastSquaresProblem(crops, nutrients, 88.0, 0.7, (joint.SampleReading("s", sort, assays),), sort)


@pytest.mark.parametrize("as_fed", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_the_same_answer_as_a_general_solver(library, seed, as_fed):
    problem = invented_problem(library, seed, as_fed)
    found, made = joint.solve(problem)
    assert found.shares.min() > 0  # inside the simplex: the bound case stands below
    variance = np.diag(found.share_covariance)
    own = Independent(problem, (made.shares, variance, made.dry_matter_pct))
    z = own.solve()
    assert own.state(z) == pytest.approx(found.mean, rel=1e-8)
    step = 1e-6
    jacobian = np.array(
        [(own.residuals(z + step * e) - own.residuals(z - step * e)) / (2 * step) for e in np.eye(len(z))]
    ).T
    through = np.array([(own.state(z + step * e) - own.state(z - step * e)) / (2 * step) for e in np.eye(len(z))]).T
    covariance = through @ np.linalg.inv(jacobian.T @ jacobian) @ through.T
    scale = np.sqrt(np.diag(covariance))
    assert found.covariance / np.outer(scale, scale) == pytest.approx(covariance / np.outer(scale, scale), abs=1e-5)


def test_the_demo_bin_is_the_same_by_a_general_solver(demo_book, library):
    problem = gather("south", demo_book, library).problem
    found, made = joint.solve(problem)
    own = Independent(problem, (made.shares, np.diag(found.share_covariance), made.dry_matter_pct))
    assert own.state(own.solve()) == pytest.approx(found.mean, rel=1e-8)


def test_shares_at_the_edge_are_the_same_by_a_general_solver(library):
    """A crop of which the sort found a trace, and an assay that would have it below nothing."""
    problem = invented_problem(library, 3, as_fed=False)
    names = [crop.crop for crop in problem.crops]
    sort = joint.sorted_shares(dict(zip(names, (140.0, 100.0, 59.5, 0.5), strict=True)), problem.crops)
    wide = joint.Sorted(sort.shares, 3000 * sort.covariance)
    values = problem.readings[0].assays.values
    for factor_ in np.linspace(0.7, 1.3, 13):
        assays = replace(problem.readings[0].assays, values=values * factor_)
        tried = replace(problem, readings=(joint.SampleReading("s", wide, assays),))
        found, made = joint.solve(tried)
        free = joint.filter_readings(tried, made)
        if free.shares.min() < -1e-4:
            break
    else:
        pytest.fail("no share was pushed below nothing")
    root = factor(free.covariance)
    inside = minimize(
        lambda z: z @ z,
        np.zeros(root.shape[1]),
        jac=lambda z: 2 * z,
        method="SLSQP",
        constraints=[{"type": "ineq", "fun": lambda z: (free.mean + root @ z)[:4], "jac": lambda z: root[:4]}],
        options={"ftol": 1e-16, "maxiter": 500},
    )
    assert inside.success
    assert found.shares.min() == pytest.approx(0, abs=1e-15)
    assert found.shares.sum() == pytest.approx(1)
    assert found.mean == pytest.approx(free.mean + root @ inside.x, rel=1e-8, abs=1e-8)


def test_what_was_ground_is_drawn_from_shares_that_make_a_whole(library):
    """Also where the least squares have a share below nothing on the way."""
    problem = invented_problem(library, 0, as_fed=False)
    assays, crops = problem.readings[0].assays, len(problem.crops)
    made = joint.blend(problem, np.full(crops, 1 / crops), np.zeros(crops))
    kernels = np.array([crop.kernel_mass_g for crop in problem.crops])
    belief = joint.begin(problem, made, joint.Sorted(made.shares, np.zeros((crops, crops))))
    noise = joint._assay_rows(belief, assays, replace(made, shares=np.array([0.9, 0.5, -0.4, 0.0])), kernels)[2]
    whole = share_covariance(np.array([0.9, 0.5, 0, 0]) / 1.4, kernels, assays.portion_g, KERNEL_MASS_CV)
    through = assays.picks @ made.slopes
    assert noise == pytest.approx(assays.noise + through @ whole @ through.T, rel=1e-9)


def test_no_assay_leaves_the_hand_sort_alone(demo_book, library):
    problem = gather("south", demo_book, library).problem
    found, _ = joint.solve(problem, with_assays=False)
    assert found.shares == pytest.approx(problem.readings[0].sort.shares)
    reading = problem.readings[0]
    assert found.share_covariance == pytest.approx(reading.sort.covariance + reading.uneven)


def test_an_older_sample_counts_less_the_more_the_mix_moved(demo_book, library):
    problem = gather("south", demo_book, library).problem
    sort = problem.readings[0].sort
    moved = joint.Sorted(sort.shares + 0.01 * np.array([1, -1, 0, 0, 0, 0]), sort.covariance)
    shares = []
    for times in (0.0, 1.0, 49.0):
        readings = (
            joint.SampleReading("old", sort, None),
            joint.SampleReading("new", moved, None, times * sort.covariance),
        )
        shares.append(joint.solve(replace(problem, readings=readings))[0].shares[0] - sort.shares[0])
    assert shares == pytest.approx([0.01 / 2, 0.01 * 2 / 3, 0.01 * 50 / 51])
