"""From what is in the bins and on offer to a least-cost ration of a life stage, verified."""
