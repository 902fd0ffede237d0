"""The sheets of the feed year: the animals, how they move through the farm, and what could be sown next."""

from __future__ import annotations

from rationlp.book.column import (
    LEAST_EATEN_KG,
    LEAST_PRICED_KG,
    MOST_EATEN_KG,
    MOST_HEAD,
    MOST_KG,
    MOST_PRICE,
    Column,
    Sheet,
)

AGAIN = "again"
"""What `then` of `herd` says where a line starts over at its first step."""
MOST_DAYS = 2000
MOST_PER_HECTARE_KG = 30_000

HOUSINGS = ("indoor", "outdoor", "pasture")

GROUPS = Sheet(
    "groups",
    "a group of animals to feed",
    (
        Column("group", "id", "Short name of the group.", required=True),
        Column("stage", "id", "Stage id; rationlp library stages lists them.", required=True, refers_to="stage"),
        Column("head", "integer", "Number of animals.", required=True, at_least=1, at_most=MOST_HEAD),
        Column("from", "date", "First day of feeding."),
        Column("to", "date", "Last day of feeding."),
        Column(
            "feed_per_head_per_day",
            "mass",
            "Feed per animal and day; blank takes the library's.",
            at_least=LEAST_EATEN_KG,
            at_most=MOST_EATEN_KG,
        ),
        Column("housing", "choice", "Where they live (blank: indoor).", choices=HOUSINGS),
    ),
    unique=("group",),
)

HERD = Sheet(
    "herd",
    "a step in the life of a line of animals; steps follow each other in the order of the rows",
    (
        Column("line", "id", "Short name of the line: sows, pigs, hens ...", required=True),
        Column("step", "id", "Short name of the step within its line.", required=True),
        Column("stage", "id", "Stage id the step is fed as.", required=True, refers_to="stage"),
        Column("days", "integer", "How long the step lasts.", required=True, at_least=1, at_most=MOST_DAYS),
        Column(
            "losses_pct",
            "percent",
            "How many die or are culled in the step, evenly; blank: none.",
            at_least=0,
            below=100,
        ),
        Column(
            "feed_per_head_per_day",
            "mass",
            "Feed per animal and day; blank takes the library's.",
            at_least=LEAST_EATEN_KG,
            at_most=MOST_EATEN_KG,
        ),
        Column(
            "then",
            "id",
            "After the step: blank for the next step of the line (after its last one they leave); again: the line "
            "starts over; another line: they go over to it.",
        ),
        Column("brings", "id", "A line that begins when this step ends: the pigs weaned of sows."),
        Column("per_head", "number", "How many of that line one head brings.", above=0, at_most=10_000),
        Column("housing", "choice", "Where the animals are kept; blank: indoor.", choices=HOUSINGS),
    ),
    unique=("line", "step"),
)

ARRIVALS = Sheet(
    "arrivals",
    "animals that come onto the farm, or are there at the start",
    (
        Column("line", "id", "The line they belong to.", required=True),
        Column("step", "id", "The step they begin with; blank: the first of the line."),
        Column("on", "date", "Day they begin the step; it may lie before the plan.", required=True),
        Column(
            "every_days",
            "integer",
            "So many days later as many come again; blank: once.",
            at_least=1,
            at_most=MOST_DAYS,
        ),
        Column(
            "times",
            "integer",
            "How often they come; blank with every_days: to the end of the plan.",
            at_least=1,
            at_most=10_000,
        ),
        Column("head", "integer", "Number of animals each time.", required=True, at_least=1, at_most=MOST_HEAD),
    ),
)

CROPS = Sheet(
    "crops",
    "what could be sown next season",
    (
        Column("crop", "id", "Feed id of the crop.", required=True, refers_to="crop"),
        Column("seed_price", "money", "Price of the seed; blank: none.", at_least=0, at_most=MOST_PRICE),
        Column(
            "per_mass",
            "mass",
            "The mass the seed price is for; blank: one tonne (metric) or one short ton (us).",
            at_least=LEAST_PRICED_KG,
            at_most=MOST_KG,
        ),
        Column(
            "seed_rate",
            "mass",
            "Seed for a hectare (us: an acre) sown to it alone.",
            above=0,
            at_most=MOST_PER_HECTARE_KG,
        ),
        Column(
            "yield",
            "mass",
            "Grain expected of a hectare (us: an acre) sown to it alone.",
            required=True,
            above=0,
            at_most=MOST_PER_HECTARE_KG,
        ),
        Column("yield_low", "mass", "What a poor year gives.", at_least=0, at_most=MOST_PER_HECTARE_KG),
        Column("yield_high", "mass", "What a good year gives.", above=0, at_most=MOST_PER_HECTARE_KG),
        Column(
            "beside_others",
            "number",
            "Yield in the mix over yield alone, for the same land; blank: 1.",
            above=0,
            at_most=5,
        ),
        Column("min_share_pct", "percent", "At least this share of the land.", at_least=0, at_most=100),
        Column("max_share_pct", "percent", "At most this share of the land (rotation, rate).", at_least=0, at_most=100),
        Column(
            "cleaning_cost",
            "money",
            "Cost of taking the crop out of the mix, for one tonne (us: one short ton) of it.",
            at_least=0,
            at_most=MOST_PRICE,
        ),
    ),
    unique=("crop",),
)
