"""Published equations, one function each, in units of the library: percent and kcal/kg of dry matter.

    from rationlp.library.equations.net_energy import net_energy_from_de
    net_energy_from_de(de_pig=3908, ether_extract=3.94, starch=70.8, crude_protein=9.33, adf=3.26)

`EQUATIONS` lists them all with unit, scope, range and source. They refuse impossible figures (EquationError) and warn
outside their range (OutsideRange).
"""

from rationlp.library.equations import (
    amino_acids,
    animals,
    balance,
    digestible_energy,
    gross_energy,
    metabolizable_energy,
    minerals,
    net_energy,
    poultry_energy,
    poultry_feeds,
)
from rationlp.library.equations.published import EQUATIONS, Equation, EquationError, OutsideRange

MODULES = (
    gross_energy,
    digestible_energy,
    metabolizable_energy,
    net_energy,
    poultry_energy,
    poultry_feeds,
    amino_acids,
    minerals,
    balance,
    animals,
)

__all__ = ["EQUATIONS", "MODULES", "Equation", "EquationError", "OutsideRange"]
