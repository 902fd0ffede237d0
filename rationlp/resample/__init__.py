"""What a new sample of a bin changes, and the mixes that were made, kept with the book.

kept    mixes beside the book, found again by bin, stage, sample and date
moved   what moved in the bin, and whether that is more than chance
change  each ration in use on the new sample: does it hold, the new mix, the smallest change
"""
