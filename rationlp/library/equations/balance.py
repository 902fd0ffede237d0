"""Plain arithmetic by which figures of the library were derived from others: balances, means and scalings.

The rules (H1, S1, O1, F1, A3, A7, A8) are those of the library's own notes, feed_library/README.md.
"""

from __future__ import annotations

from rationlp.library.equations.published import EquationError, published

_RULE = "rule {} of the library's notes"


@published("NFE", gives="nfe", unit="% of DM", scope="all feeds", source="definition", how="page")
def nitrogen_free_extract(crude_protein: float, ether_extract: float, crude_fibre: float, ash: float) -> float:
    """Nitrogen-free extract [% DM] = 100 - CP - EE - CF - ash. A definition; refuses parts over 100 %."""
    return 100 - crude_protein - ether_extract - crude_fibre - ash


@published(
    "S1",
    gives="starch",
    unit="% of DM",
    scope="starchy seeds",
    source=_RULE.format("S1"),
    how="page",
    valid={"soluble_fibre": (0, 6)},
)
def starch_by_difference(
    crude_protein: float, ether_extract: float, ndf: float, sugars: float, ash: float, soluble_fibre: float = 0.0
) -> float:
    """Starch [% DM] = 100 - CP - EE - NDF - sugars - ash - soluble fibre. Rule S1; starchy seeds and bran."""
    return 100 - crude_protein - ether_extract - ndf - sugars - ash - soluble_fibre


@published(
    "S2",
    gives="starch",
    unit="% of DM",
    scope="cereals and pulses",
    source=_RULE.format("S1"),
    how="page",
    valid={"other_parts": (5, 85)},
)
def starch_in_step(starch: float, source_parts: float, other_parts: float) -> float:
    """Starch [% DM] of a lot = source starch x (100 - other parts) / (100 - those of the source), % of DM.

    What protein, fat, ash or fibre take, the rest gives up alike. Range: starchy seeds.
    """
    return starch * (100 - other_parts) / (100 - source_parts)


@published(
    "O1",
    gives="a component",
    unit="% of DM",
    scope="oilseeds and their meals",
    source=_RULE.format("O1"),
    how="page",
    valid={"ether_extract": (0, 60)},
)
def brought_to_oil(component: float, source_oil: float, ether_extract: float) -> float:
    """Component [% DM] = component of the meal or seed x (100 - EE) / (100 - EE of it). Rules O1 and A3.

    Pressing takes out oil only. Range: seeds, meals and larvae of one kind.
    """
    return component * (100 - ether_extract) / (100 - source_oil)


@published(
    "H1",
    gives="a component",
    unit="the component's",
    scope="oats, sunflower",
    source=_RULE.format("H1"),
    how="page",
    valid={"hull_share": (5, 40)},
)
def kernel_and_hull(kernel_kg: float, hull_kg: float, hull_share: float) -> float:
    """Component of the seed = kernel x (100 - hull share) / 100 + hull x hull share / 100; hull share in % of the seed.

    `kernel_kg` and `hull_kg` are the component in a kilogram of kernel and of hull, in one unit. Range: hulled seeds.
    """
    return kernel_kg * (1 - hull_share / 100) + hull_kg * hull_share / 100


@published(
    "F1",
    gives="linoleic_acid, alpha_linolenic_acid",
    unit="% of DM",
    scope="all feeds",
    source=_RULE.format("F1"),
    how="page",
)
def fatty_acid(ether_extract: float, fatty_acids_in_fat: float, share: float) -> float:
    """Fatty acid [% DM] = EE x fatty acids in fat [%] x share of the fatty acids [%] / 10,000. Rule F1.

    Variety types (high-oleic, low-linolenic) break the usual share.
    """
    return ether_extract * fatty_acids_in_fat * share / 10_000


@published(
    "A8",
    gives="SID coefficients of poultry",
    unit="% of the nutrient",
    scope="roosters to broilers",
    source=_RULE.format("A8"),
    how="page",
    valid={"rooster": (50, 100)},
)
def broiler_from_rooster(rooster: float) -> float:
    """Digestibility in broilers [%] = that in roosters less 3 points. Rule A8.

    On three feeds with both figures (soybean, canola, distillers) roosters read 3.2, 3.7 and 2.3 points higher.
    """
    return rooster - 3


@published(
    "pure compound",
    gives="a component",
    unit="% of DM",
    scope="crystals and salts",
    source="calc:molecular_formula",
    how="page",
    valid={"purity": (50, 100)},
)
def part_of_molecule(part_mass: float, whole_mass: float, purity: float) -> float:
    """Component [% DM] = purity x molar mass of the part / molar mass of the whole; masses in g/mol, purity in % DM."""
    return purity * part_mass / whole_mass


@published(
    "combustion",
    gives="gross_energy",
    scope="crystals",
    source="calc:combustion",
    how="memory",
    valid={"purity": (50, 100)},
)
def heat_of_combustion(molar_heat_kcal: float, whole_mass: float, purity: float) -> float:
    """Gross energy [kcal/kg DM] of a pure compound = heat [kcal/mol] / molar mass [g/mol] x purity [%].

    Heats of combustion of crystalline amino acids from memory of handbooks of thermochemistry.
    """
    return molar_heat_kcal / whole_mass * purity * 10


@published(
    "premix dose",
    gives="an amount in a premix",
    unit="per kg of premix",
    scope="premixes",
    source="definition",
    how="page",
    valid={"inclusion": (0.01, 5)},
)
def premix_amount(diet_amount: float, inclusion: float) -> float:
    """Amount [per kg of premix] = amount [per kg of diet] x 100 / inclusion of the premix [%]."""
    return diet_amount * 100 / inclusion


@published(
    "premix part",
    gives="an amount in a premix",
    unit="per kg of premix",
    scope="premixes made of premixes",
    source="definition",
    how="page",
    valid={"whole_inclusion": (0.01, 5)},
)
def part_of_premix(part_amount: float, part_inclusion: float, whole_inclusion: float) -> float:
    """Amount [per kg] of a premix of two = that of the part x its inclusion [%] / that of the whole [%]."""
    return part_amount * part_inclusion / whole_inclusion


def mean(*values: float) -> float:
    """The plain mean of figures of one unit. Rule B4: sources are averaged without weights."""
    if not values:
        raise EquationError("mean of nothing")
    return sum(values) / len(values)


def between(low: float, high: float, low_at: float, high_at: float, at: float) -> float:
    """The figure at `at` on the straight line through (`low_at`, `low`) and (`high_at`, `high`). Rule A7."""
    return low + (high - low) * (at - low_at) / (high_at - low_at)


def zero() -> float:
    """A pure compound holds none of it by its formula."""
    return 0.0
