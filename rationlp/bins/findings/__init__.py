"""What to know of a bin beyond its nutrients: safety, storage, contaminants, assays that cannot be."""
