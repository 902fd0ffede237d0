"""The review copy: what a nutritionist needs to see, a page to sign for each ration, and the signatures read back."""
