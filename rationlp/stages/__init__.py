"""What a life stage asks of its mix: needs, limits, contaminants, certification."""
