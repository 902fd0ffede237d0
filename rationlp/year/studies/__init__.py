"""More that is asked of a year: changes, the home-grown frontier, crops apart, next season's seed."""
