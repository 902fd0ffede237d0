"""What a new sample of a bin changes: what moved in it, and each ration in use judged anew."""
