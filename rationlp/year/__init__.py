"""The feed year: which mix feeds which animals when, what is bought, what runs out, and what that is worth.

The program is linear over whole mixes. A mix is a column: a ration of a stage (or of several) as `ration` makes it,
with its verdict. The master program (`program/master.py`) shares the bins, the offers and the days out over the
columns; its prices of scarce grain go back to the rations (`program/kitchen.py`), whose cheapest mix at these prices is
the next column, until none is cheaper than what the master pays for its animals (G. B. Dantzig, P. Wolfe,
Decomposition principle for linear programs, Operations Research 8, 1960). What the rations would still save is the
bound on the cost of any plan.
"""
