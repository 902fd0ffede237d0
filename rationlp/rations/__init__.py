"""From what is in the bins and on offer to a least-cost ration of a life stage.

candidates     what may go in, as fed (spread: how unsure)   needs, own_rows   what the stage asks for (stage, daily)
contaminants   bins refused, toxins as rows                  certification     what a certificate lets in
limits         caps and floors on feeds, crops               rows              all of it as rows of a program
program        the program as plain numbers                  formula           the program with what its rows stand for
solver         PuLP and HiGHS, the only file that knows them verify            every answer checked
optimum        the answer; chance, confidence: with a chance nearest, mend     when nothing meets everything
mix, lines, ratios, digestible, missed, words, describe      the ration, every figure recomputed from its shares
settle         usual bounds eased, crystals, what is too light  reasons        what the mix says against itself
left_out       bins of which nothing may be fed, premixes    formulate         all of it, in order -> Ration
missing_offer  the feed that nobody offers and that would help
frontier       cost against home-grown share                 farm              all groups together
concentrate    the bought part as one mix (shared_*: for several stages)
review         everything a nutritionist needs to sign (figure_sources)
"""
