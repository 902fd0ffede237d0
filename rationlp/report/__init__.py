"""One self-contained page of the whole farm: data first (a file for each part), then templates."""
