"""The program of a year: what there is, who eats, the mixes at a price, the master, how many mixes, the check."""
