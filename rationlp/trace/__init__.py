"""From animals back to bins, samples and lots, and from a bin or lot on to the animals that ate of it."""
