"""How the tables of a library are stored: as CSV, which people read and correct, and packed, which is quick to read."""
