"""The program answered and verified: the optimum, a chance, the nearest mix, remedies."""
