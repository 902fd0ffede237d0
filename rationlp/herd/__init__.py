"""How the animals move through the farm: head by line, step and day from `herd`, `arrivals` and `groups`."""
