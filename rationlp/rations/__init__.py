"""From what is in the bins and on offer to a least-cost ration of a life stage.

candidates  what may go in, as fed            needs    what the stage asks for
limits      caps and floors on feeds, crops   rows     both as rows of a program
program     the program as plain numbers      solver   PuLP and HiGHS, the only file that knows them
verify      every answer checked              nearest  when nothing meets everything
plausible   the trade's eye on the result     formulate  all of it, in order -> Ration
"""
