"""Papers that leave the house: mix sheets, the statement for buyers, the review copy."""
