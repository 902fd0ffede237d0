"""What each offer is worth, what its price may do, and what the grain of the bins is worth beside it."""
