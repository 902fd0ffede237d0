"""What the crew really weighed, read back and judged: tolerance, mixing, stock, trace."""
