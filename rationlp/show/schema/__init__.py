"""What the JSON answers look like: one description of each, which is printed as JSON Schema."""
