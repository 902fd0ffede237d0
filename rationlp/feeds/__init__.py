"""What each feed brings to a mix: bins and offers with their composition as fed, and how unsure it is."""
