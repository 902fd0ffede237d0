"""The settings of the farm, which stand on the sheet `farm` of the book."""

from __future__ import annotations

from rationlp.book.column import MOST_BATCH_KG, MOST_PRICE, Column

CURRENCY_NOTE = "Three letters, such as USD, CAD or EUR; every price of the book is in it."

SETTINGS: tuple[Column, ...] = (
    Column("name", "text", "Name of the farm, printed on every sheet."),
    Column("season", "text", "Season or year of the book, for instance 2025/26."),
    Column(
        "units", "choice", "metric: kg, t, m, kg/m3. us: lb, short ton, ft, lb per bushel.", choices=("metric", "us")
    ),
    Column("currency", "text", CURRENCY_NOTE),
    Column(
        "certification",
        "choice",
        "The organic rules the farm works under, or none.",
        choices=("none", "us_organic", "eu_organic"),
    ),
    Column("jurisdiction", "choice", "Whose legal limits on feed apply.", choices=("us", "eu", "canada")),
    Column(
        "confidence_pct",
        "percent",
        "How sure a requirement has to be met: 50 takes plain averages, up to 99.",
        at_least=50,
        at_most=99,
    ),
    Column(
        "confidence_of",
        "choice",
        "Whether confidence_pct is the chance of each requirement by itself, or of all.",
        choices=("each", "all"),
    ),
    Column(
        "requirement_margin_pct",
        "percent",
        "Added to every minimum requirement, in percent of it; usually 0.",
        at_least=0,
        at_most=50,
    ),
    Column(
        "objective",
        "choice",
        "Cheapest tonne or cheapest energy; blank takes what suits the animals.",
        choices=("per_tonne", "per_energy"),
    ),
    Column("batch_mass", "mass", "Mass of one mixer batch.", at_least=0.1, at_most=MOST_BATCH_KG),
    Column("mixer_capacity", "mass", "The most the mixer holds.", at_least=0.1, at_most=MOST_BATCH_KG),
    Column("scale_step", "mass", "Smallest step the mixer scale shows.", at_least=0.001, at_most=500),
    Column("hand_scale_step", "mass", "Smallest step the hand scale shows.", at_least=0.0001, at_most=5),
    Column(
        "hand_weigh_below",
        "mass",
        "Ingredients lighter than this in a batch go over the hand scale.",
        at_least=0,
        at_most=1000,
    ),
    Column(
        "hand_least",
        "mass",
        "Smallest mass worth weighing by hand; blank takes 20 divisions of the hand scale.",
        at_least=0,
        at_most=1000,
    ),
    Column("date_format", "text", "How dates typed as text are written: YYYY-MM-DD, DD.MM.YYYY, MM/DD/YYYY ..."),
    Column(
        "enzyme",
        "choice",
        "Whether all feed holds an enzyme for grain (xylanase, beta-glucanase); blank: no.",
        choices=("no", "yes"),
    ),
    Column("varieties", "text", "Of which variety a feed is, wherever it comes from: faba_beans:low_vicine ..."),
    Column("plan_from", "date", "First day of the feed year; blank: the first day of groups, arrivals or full bins."),
    Column("next_harvest_on", "date", "Day the next harvest is in the bins; blank: a year after plan_from."),
    Column(
        "most_mixes",
        "integer",
        "How many mixes the farm will make in the feed year; blank: as many as pay.",
        at_least=1,
        at_most=200,
    ),
    Column(
        "mix_change_cost",
        "money",
        "What each further mix of the feed year costs in work.",
        at_least=0,
        at_most=MOST_PRICE,
    ),
    Column(
        "mixing_cost",
        "money",
        "Grinding and mixing of a tonne (us: a short ton) of feed.",
        at_least=0,
        at_most=MOST_PRICE,
    ),
    Column(
        "selling_cost",
        "money",
        "Hauling and selling of a tonne (us: a short ton) of bin grain.",
        at_least=0,
        at_most=MOST_PRICE,
    ),
    Column(
        "reserve_days",
        "integer",
        "So many days past the harvest sows in milk and weaners have feed in reserve; blank: none.",
        at_least=0,
        at_most=120,
    ),
    Column(
        "bins_in_turn",
        "choice",
        "Whether the bins are opened one after another, never two at a time; blank: no.",
        choices=("no", "yes"),
    ),
    Column(
        "whole_packages",
        "choice",
        "Whether the feed year is planned by what whole packages and loads cost, with what is left over in the last of "
        "them; blank: no.",
        choices=("no", "yes"),
    ),
)

SETTING_BY_NAME: dict[str, Column] = {setting.name: setting for setting in SETTINGS}
