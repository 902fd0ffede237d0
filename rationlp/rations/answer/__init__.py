"""The ration in the trade's words and figures, every one recomputed from its shares."""
