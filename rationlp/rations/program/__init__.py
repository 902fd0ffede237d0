"""A ration as a linear program: plain rows and numbers, with what each row stands for."""
