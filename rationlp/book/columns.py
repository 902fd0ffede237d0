"""The sheets and columns of the farm book: the one table that drives reading, checking, writing and help.

A column has a kind, which says how a cell is read, and may refer to names of another sheet or to ids of the feed
library. The notes are written for the person who fills in the sheet.
"""

from __future__ import annotations

from rationlp.book.column import LEAST_PRICED_KG, MOST_KG, MOST_PRICE, Column, Sheet
from rationlp.book.crew_columns import ACTUAL, SIGNED
from rationlp.book.year_columns import ARRIVALS, CROPS, GROUPS, HERD

FOREIGN_MATTER = "foreign_matter"
"""What `sorted` calls stones, chaff, weed seeds and broken bits of nothing in particular."""

NARROWEST_BIN_M = 0.1
"""Less than a bucket is across."""

ENERGIES = ("ne_pig", "me_pig", "de_pig", "amen_poultry")
"""The energies a stage's needs can be counted from."""

ALL_STAGES = "all"
"""What `own_limits` calls every stage at once."""

BIN_PREFIX = "bin:"
"""A feed id that begins with this is the grain of that bin, `bin:north`."""

FARM = Sheet(
    "farm",
    "a setting",
    (
        Column(
            "setting", "id", "Name of the setting; the notes beside the values say what each is for.", required=True
        ),
        Column("value", "text", "Its value; blank takes the usual one."),
        Column("note", "text", "What it is for; or a note of your own."),
    ),
)

HOLDS = ("treated_seed", "ergot", "mould", "rodents", "glass", "fumigated", "do_not_feed")
"""Why a bin may be on hold."""
EMPTY_BIN = "Correct it; of a bin that is empty leave the row out, with its rows on samples and sown."

BINS = Sheet(
    "bins",
    "a bin",
    (
        Column("bin", "id", "Short name of the bin, used on the other sheets.", required=True),
        Column("label", "text", "Longer name for people."),
        Column(
            "mass",
            "mass",
            "Grain in the bin, if weighed; else give the four measures.",
            above=0,
            at_most=MOST_KG,
            if_nought=EMPTY_BIN,
        ),
        Column("diameter", "length", "Inside diameter of a round bin.", at_least=NARROWEST_BIN_M, at_most=60),
        Column("wall_depth", "length", "Depth of grain along the wall.", at_least=0, at_most=60),
        Column(
            "peak_height",
            "length",
            "Height of the cone above the grain at the wall; below 0 if drawn down.",
            at_least=-30,
            at_most=30,
        ),
        Column("test_weight", "density", "Mass of a measured volume of the grain.", at_least=150, at_most=1200),
        Column(
            "sale_price",
            "money",
            "What the grain would bring if sold today; blank or 0 calculates it at no cost.",
            at_least=0,
            at_most=MOST_PRICE,
        ),
        Column(
            "per_mass",
            "mass",
            "The mass the price is for; blank: one tonne (metric) or one short ton (us).",
            at_least=LEAST_PRICED_KG,
            at_most=MOST_KG,
        ),
        Column("moisture_pct", "percent", "Moisture of the grain in the bin.", above=0, below=100),
        Column("filled_on", "date", "Day the bin was filled."),
        Column("note", "text", "Anything worth knowing: field, weather, treatment."),
        Column(
            "length",
            "length",
            "Inside length of a rectangular bin; give its width too, and no diameter.",
            at_least=NARROWEST_BIN_M,
            at_most=200,
        ),
        Column("width", "length", "Inside width of a rectangular bin.", at_least=NARROWEST_BIN_M, at_most=100),
        Column(
            "hold",
            "choice",
            "Why the bin is on hold; it is in no mix until released. Blank: it may be fed.",
            choices=HOLDS,
        ),
        Column(
            "hold_until",
            "date",
            "Last day of the hold. The date alone releases a fumigated bin only; every other hold "
            "also needs released_by.",
        ),
        Column(
            "released_by", "text", "Who released the bin from its hold; before hold_until is over it stays on hold."
        ),
        Column("opened_on", "date", "Day the bin was opened to feed from it."),
    ),
    unique=("bin",),
)

SAMPLES = Sheet(
    "samples",
    "a sample of a bin",
    (
        Column("sample", "id", "Short name of the sample, used on sorted and assays.", required=True),
        Column("bin", "id", "The bin it was taken from.", required=True, refers_to="bins"),
        Column("taken_on", "date", "Day it was taken; tells which sample is newer."),
        Column("probes", "integer", "How many probes or cuts went into it.", at_least=1, at_most=1000),
        Column(
            "sorted_mass_g", "number", "Grams that were sorted by hand, foreign matter included.", above=0, at_most=1e6
        ),
        Column("note", "text", "Anything worth knowing."),
        Column(
            "lab_portion_g",
            "number",
            "Grams of it that the laboratory ground for the assays; blank: 500.",
            above=0,
            at_most=1e5,
        ),
    ),
    unique=("sample",),
)

SORTED = Sheet(
    "sorted",
    "one crop of a hand-sorted sample",
    (
        Column("sample", "id", "The sample that was sorted.", required=True, refers_to="samples"),
        Column("crop", "id", "Feed id of the crop, or foreign_matter.", required=True, refers_to="crop"),
        Column("mass_g", "number", "Grams of it in the sorted part.", required=True, at_least=0, at_most=1e6),
    ),
    unique=("sample", "crop"),
)

SOWN = Sheet(
    "sown",
    "one crop of the seed that a bin's grain grew from; for a bin nobody has sorted",
    (
        Column("bin", "id", "The bin that holds the harvest.", required=True, refers_to="bins"),
        Column("crop", "id", "Feed id of the crop.", required=True, refers_to="crop"),
        Column("mass", "mass", "Seed of it that was sown.", required=True, above=0, at_most=MOST_KG),
    ),
    unique=("bin", "crop"),
)

BASES = ("as_fed", "dry_matter")

ASSAYS = Sheet(
    "assays",
    "a laboratory result",
    (
        Column(
            "sample",
            "id",
            "The sample of a bin that went to the laboratory; blank for a bought lot.",
            refers_to="samples",
        ),
        Column("nutrient", "id", "Nutrient id, such as crude_protein.", required=True, refers_to="nutrient"),
        Column("value", "number", "The laboratory's figure.", required=True, at_least=0),
        Column("unit", "text", "Its unit: %, g/kg, mg/kg, kcal/kg, IU/kg ...", required=True),
        Column(
            "basis",
            "choice",
            "as_fed (as received) or dry_matter; stands on the laboratory's sheet.",
            required=True,
            choices=BASES,
        ),
        Column("method", "text", "How it was measured, for instance combustion or NIR."),
        Column("lab_sd", "number", "The laboratory's standard deviation, in the same unit.", above=0),
        Column(
            "lot", "id", "The bought lot that was analysed, in place of a sample; one of the two.", refers_to="lots"
        ),
    ),
)

SUPPLEMENTS = Sheet(
    "supplements",
    "an offer for a feed",
    (
        Column("offer", "id", "Short name of the offer; two offers for one feed need two names.", required=True),
        Column(
            "feed", "id", "Feed id: of the library, or one of your own on own_feeds.", required=True, refers_to="feed"
        ),
        Column("label", "text", "Name on the mix sheet."),
        Column(
            "price",
            "money",
            "Price, delivered (or freight in its own column); 0 is allowed, blank is not.",
            required=True,
            at_least=0,
            at_most=MOST_PRICE,
        ),
        Column(
            "per_mass",
            "mass",
            "The mass the price is for; blank: one tonne (metric) or one short ton (us).",
            at_least=LEAST_PRICED_KG,
            at_most=MOST_KG,
        ),
        Column(
            "package_mass", "mass", "Mass of one bag or tote; blank if bulk.", at_least=LEAST_PRICED_KG, at_most=MOST_KG
        ),
        Column(
            "stock_mass",
            "mass",
            "The most there is to have, as of quoted_on; blank if there is no end to it.",
            at_least=0,
            at_most=MOST_KG,
        ),
        Column(
            "min_pct",
            "percent",
            "At least this share of every ration; the same as max_pct fixes it.",
            at_least=0,
            at_most=100,
        ),
        Column("max_pct", "percent", "At most this share of a ration; a premix: top dose.", at_least=0, at_most=100),
        Column("home_grown", "yes_no", "Grown on the farm: yes or no (blank: no).", choices=("yes", "no")),
        Column("organic", "yes_no", "Certified organic: yes or no (blank: not known).", choices=("yes", "no")),
        Column("quoted_on", "date", "Day of the quotation."),
        Column("supplier", "text", "Who offers it."),
        Column(
            "price_low",
            "money",
            "The least the price may come to, freight aside; for the risk that prices bring.",
            at_least=0,
            at_most=MOST_PRICE,
        ),
        Column("price_high", "money", "The most the price may come to, freight aside.", at_least=0, at_most=MOST_PRICE),
        Column(
            "freight",
            "money",
            "Freight to the farm for the same mass, if the price is without it.",
            at_least=0,
            at_most=MOST_PRICE,
        ),
        Column(
            "protein_pct",
            "percent",
            "Crude protein as fed that the supplier states; amino acids follow it.",
            above=0,
            below=100,
        ),
        Column("from", "date", "First day the offer can be bought; blank: already."),
        Column("until", "date", "Last day the offer can be bought; blank: to the end of the year."),
        Column("lead_days", "integer", "Days from the order to the farm.", at_least=0, at_most=365),
    ),
    unique=("offer",),
)

LOTS = Sheet(
    "lots",
    "a delivery of an offer; its laboratory sheet or certificate goes on assays",
    (
        Column("lot", "id", "Short name of the delivery, used on assays; write it on the bag or bin.", required=True),
        Column("offer", "id", "The offer it was bought on.", required=True, refers_to="supplements"),
        Column("delivered_on", "date", "Day it came; tells which lots are still there."),
        Column(
            "mass",
            "mass",
            "What was delivered; with what was weighed it says which lots are used up.",
            above=0,
            at_most=MOST_KG,
        ),
        Column("supplier_lot", "text", "The supplier's own lot number, for a recall."),
        Column("use_by", "date", "Last day it should be used, from the label."),
        Column("note", "text", "Anything worth knowing."),
    ),
    unique=("lot",),
)

OWN_FEEDS = Sheet(
    "own_feeds",
    "a figure of a feed of your own, or one that overrides the library",
    (
        Column("feed", "id", "Feed id: of the library, or a new one.", required=True, refers_to="feed"),
        Column(
            "nutrient",
            "id",
            "Nutrient id; a new one is allowed if every row of it carries one unit and one basis.",
            required=True,
            refers_to="nutrient",
        ),
        Column("value", "number", "The figure.", required=True, at_least=0),
        Column(
            "unit",
            "text",
            "Its unit: %, g/kg, mg/kg, kcal/kg, IU/kg ..., per_kg for an amount of anything.",
            required=True,
        ),
        Column("basis", "choice", "as_fed or dry_matter.", required=True, choices=BASES),
        Column("sd", "number", "Standard deviation from lot to lot, in the same unit.", above=0),
        Column("source", "text", "Where the figure comes from."),
    ),
    unique=("feed", "nutrient"),
)

APPROVED_BY_NOTE = "Who approved it: a nutritionist or veterinarian. Needed to pass a safety or legal limit."
APPROVED_ON_NOTE = "Day it was approved. Needed to pass a safety or legal limit."

PER = ("kg", "mcal", "day")

OWN_STAGES = Sheet(
    "own_stages",
    "a requirement of a stage of your own, or one that overrides the library",
    (
        Column("stage", "id", "Stage id: of the library, or a new one.", required=True, refers_to="stage"),
        Column("nutrient", "id", "Nutrient id.", required=True, refers_to="nutrient"),
        Column("minimum", "number", "At least this much.", at_least=0),
        Column("maximum", "number", "At most this much.", at_least=0),
        Column(
            "unit",
            "text",
            "Per kg and mcal: %, g/kg, mg/kg, kcal/kg, IU/kg or per_kg. Per day: g, mg, IU or kcal.",
            required=True,
        ),
        Column(
            "per",
            "choice",
            "kg: of the ration as fed. mcal: for each Mcal per kg it holds. day: per head and day.",
            required=True,
            choices=PER,
        ),
        Column("source", "text", "Where the requirement comes from; why, where it passes a safety or legal limit."),
        Column("approved_by", "text", APPROVED_BY_NOTE),
        Column("approved_on", "date", APPROVED_ON_NOTE),
    ),
    unique=("stage", "nutrient", "per"),
)

OWN_LIMITS = Sheet(
    "own_limits",
    "a cap or floor on a feed or crop",
    (
        Column("stage", "id", "Stage id, or all.", required=True, refers_to="stage"),
        Column("feed", "id", "Feed id; the crop inside a bin's grain counts as well.", required=True, refers_to="feed"),
        Column("min_pct", "percent", "At least this share of the ration.", at_least=0, at_most=100),
        Column(
            "max_pct",
            "percent",
            "At most this share of the ration; replaces the library's recommended cap.",
            at_least=0,
            at_most=100,
        ),
        Column("reason", "text", "Why; printed beside the limit. In words, where it passes a safety or legal limit."),
        Column("approved_by", "text", APPROVED_BY_NOTE),
        Column("approved_on", "date", APPROVED_ON_NOTE),
    ),
    unique=("stage", "feed"),
)

SHEETS: dict[str, Sheet] = {
    sheet.name: sheet
    for sheet in (
        FARM,
        BINS,
        SAMPLES,
        SORTED,
        ASSAYS,
        SUPPLEMENTS,
        LOTS,
        OWN_FEEDS,
        OWN_STAGES,
        OWN_LIMITS,
        GROUPS,
        HERD,
        ARRIVALS,
        SOWN,
        CROPS,
        ACTUAL,
        SIGNED,
    )
}
"""Every sheet of the book by name."""
