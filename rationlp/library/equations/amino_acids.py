"""Amino acids that follow protein: published lines for some grains and soybean meal, else a constant share.

The lines lie above or below feed tables, so the library keeps its table figure and takes only the relative change from
them (amino_acid_ratio). A line holds for air-dry grain; protein here is in % of dry matter and is brought to 88 % dry
matter inside.
"""

from __future__ import annotations

from rationlp.library.equations.published import published

GRAINS = ("wheat", "barley", "triticale", "corn", "soybean_meal", "constant_share")
"""What the library may name as the line that the amino acids of a feed follow."""

AIR_DRY_PCT = 88.0
"""Dry matter at which the published lines for grain are taken to hold, in percent (assumed: they say air-dry)."""

# Lysine and methionine as a share of protein, g per 100 g: (intercept, slope per 1 % protein), source sajas_2000.
SHARE_OF_PROTEIN = {
    ("wheat", "lysine"): (6.380, -0.198),
    ("barley", "lysine"): (6.003, -0.167),
    ("triticale", "lysine"): (5.538, -0.156),
    ("wheat", "methionine"): (2.115, -0.025),
    ("barley", "methionine"): (1.527, -0.030),
    ("triticale", "methionine"): (1.581, -0.022),
}

# Amino acids in % of wheat: (intercept, slope per 1 % protein N x 6.25), lines through three levels, wheat_aa_levels.
WHEAT_LINES = {
    "arginine": (0.100, 0.0376),
    "histidine": (0.050, 0.0214),
    "isoleucine": (0.010, 0.0363),
    "leucine": (0.090, 0.0603),
    "lysine": (0.095, 0.0216),
    "methionine": (0.040, 0.0093),
    "phenylalanine": (0.000, 0.0466),
    "threonine": (0.050, 0.0270),
    "valine": (0.095, 0.0362),
    "tyrosine": (-0.075, 0.0321),
    "glycine": (0.055, 0.0377),
    "serine": (0.195, 0.0372),
}

_SHARE_RANGE = "the grain's usual protein, below the turning point of the curve (wheat 16.1, barley 18.0 % air-dry)"


@published(
    "AA share",
    gives="lysine, methionine",
    unit="% of air-dry grain",
    scope="wheat, barley, triticale",
    source="sajas_2000",
    how="page",
    valid={"crude_protein": (8, 16)},
    range_from=_SHARE_RANGE,
)
def amino_acid_by_share(grain: str, amino_acid: str, crude_protein: float) -> float:
    """Lysine or methionine [% of grain] = (intercept + slope x CP) x CP / 100; CP in % of air-dry grain (N x 6.25).

    Intercept and slope: SHARE_OF_PROTEIN. 20 samples a grain; r2 0.75 to 0.92 for lysine, 0.31 to 0.59 for methionine.
    Range: 8 to 16 % protein; the lysine curve turns at 16.1 % in wheat and 18.0 % in barley. The lines lie above feed
    tables: use the relative change only. Source: South African Journal of Animal Science 30(1):22-25, 2000.
    """
    intercept, slope = SHARE_OF_PROTEIN[grain, amino_acid]
    return (intercept + slope * crude_protein) * crude_protein / 100


@published(
    "AA wheat",
    gives="amino acids",
    unit="% of air-dry grain",
    scope="wheat",
    source="wheat_aa_levels",
    how="page",
    valid={"crude_protein": (9.65, 17.15)},
    range_from="the three printed levels",
)
def amino_acid_of_wheat(amino_acid: str, crude_protein: float) -> float:
    """Amino acid [% of grain] = intercept + slope x CP; CP in % of air-dry grain (N x 6.25).

    The lines (WHEAT_LINES) are fitted here through three printed protein levels. Range: 9.65 to 17.15 % protein.
    Source: amino acid composition of wheat by grain protein level, book chapter, Table 2.
    """
    intercept, slope = WHEAT_LINES[amino_acid]
    return intercept + slope * crude_protein


@published(
    "AA corn",
    gives="lysine",
    unit="% of air-dry grain",
    scope="corn",
    source="ait_corn_lys",
    how="page",
    valid={"crude_protein": (6, 13)},
    range_from="the source prints none; corn of feed tables",
)
def lysine_of_corn(crude_protein: float) -> float:
    """Lysine [% of corn] = 0.049 + 0.026 CP; CP in % of air-dry grain.

    N 95, standard error 0.018, r 0.66. Range: corn with 6 to 13 % protein. Source: ait_corn_lys.
    """
    return 0.049 + 0.026 * crude_protein


@published(
    "AA soybean meal",
    gives="lysine",
    unit="% of DM",
    scope="soybean meal",
    source="agri2021_sbm_aa",
    how="page",
    valid={"crude_protein": (42, 60)},
    range_from="the source prints none; soybean meals with and without hulls",
)
def lysine_of_soybean_meal(crude_protein: float) -> float:
    """Lysine [% DM] = 3.19 - 0.026 (51.88 - CP) below 51.88 % protein of dry matter, 3.19 + 0.072 (CP - 51.88) above.

    Below the break protein falls because hulls come in. R2 0.51. Range: soybean meals, 42 to 60 % protein. Source:
    Agriculture 11(4):280, 2021.
    """
    return 3.19 + (0.026 if crude_protein < 51.88 else 0.072) * (crude_protein - 51.88)


@published(
    "AA slope",
    gives="amino acids",
    unit="% of DM",
    scope="wheat",
    source="wheat_aa_levels",
    how="page",
    valid={"crude_protein": (11, 19.5)},
    range_from="the three printed levels, on dry matter",
)
def amino_acid_along_slope(
    amino_acid: float, dry_matter: float, source_protein: float, slope: float, crude_protein: float
) -> float:
    """Amino acid [% DM] = source figure [% as fed] / its dry matter + slope x (CP - CP of the source).

    `slope` is % of amino acid for each 1 % of protein (WHEAT_LINES), proteins and dry matter in %. Range: wheat with 11
    to 19.5 % protein in dry matter. Source: as amino_acid_of_wheat.
    """
    return amino_acid * 100 / dry_matter + slope * (crude_protein - source_protein)


@published(
    "AA constant",
    gives="amino acids",
    unit="% of DM",
    scope="one seed or tissue",
    how="page",
    source="rule A1 of the library: an amino acid keeps its share of protein near the source's protein",
    valid={"crude_protein": (0, 100)},
)
def amino_acid_by_protein(amino_acid: float, source_protein: float, crude_protein: float) -> float:
    """Amino acid [% DM] = amino acid of the source x CP / CP of the source, both in % of dry matter.

    Range: protein near the source's; in peas, faba beans and grain the lysine share falls as protein rises (r -0.51 to
    -0.78, organic_peas_beans), so a rich lot is overrated and a poor one underrated. Refuses a source without protein.
    """
    return amino_acid * crude_protein / source_protein if source_protein else float("nan")


def amino_acid_ratio(grain: str, amino_acid: str, old_protein: float, new_protein: float) -> float:
    """By what factor `amino_acid` changes when protein goes from `old_protein` to `new_protein` (% of dry matter).

    `grain` is a word of GRAINS; constant_share is plain proportion. Warns with OutsideRange
    beyond the range of the line that is used; raises EquationError for impossible figures.
    """
    return _level(grain, amino_acid, new_protein) / _level(grain, amino_acid, old_protein)


def amino_acid_slope(grain: str, amino_acid: str, protein: float) -> float:
    """Relative change of `amino_acid` for each 1 % of protein (of dry matter) at `protein`: d ln(AA) / d CP."""
    step = 0.01
    return (_level(grain, amino_acid, protein + step) - _level(grain, amino_acid, protein - step)) / (
        2 * step * _level(grain, amino_acid, protein)
    )


def equation_for(grain: str, amino_acid: str) -> str:
    """Which function calculates `amino_acid` of `grain` from protein."""
    if grain == "wheat" and amino_acid in WHEAT_LINES:
        return "amino_acid_of_wheat"
    if (grain, amino_acid) in SHARE_OF_PROTEIN:
        return "amino_acid_by_share"
    if amino_acid == "lysine" and grain in ("corn", "soybean_meal"):
        return f"lysine_of_{grain}"
    return "amino_acid_by_protein"


def _level(grain: str, amino_acid: str, protein: float) -> float:
    """A figure in proportion to the amino acid at this protein (% of dry matter)."""
    air_dry = protein * AIR_DRY_PCT / 100
    name = equation_for(grain, amino_acid)
    if name == "amino_acid_of_wheat":
        return amino_acid_of_wheat(amino_acid, air_dry)
    if name == "amino_acid_by_share":
        return amino_acid_by_share(grain, amino_acid, air_dry)
    if name == "lysine_of_corn":
        return lysine_of_corn(air_dry)
    if name == "lysine_of_soybean_meal":
        return lysine_of_soybean_meal(protein)
    return amino_acid_by_protein(1.0, 1.0, protein)
