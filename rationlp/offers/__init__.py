"""What each offer is worth, what its price may do, and what the grain of the bins is worth beside it.

proof     answers worked out and proved from their basis    bench    one program in the solver, many questions
cases     the rations of a book with what can be asked of them
worth     ranges, entering prices, cost without an offer     equals   several mixes of one cost
stakes    all groups of the farm with their tonnes           quotes   two quotes for one feed
sweep     prices step by step, with exact breakpoints        draws    prices that nobody knows for sure
grain     bin grain as feed against its sale value
"""
