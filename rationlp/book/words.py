"""What people write for the choices, sheets and columns of a book (common practice)."""

from __future__ import annotations

from collections.abc import Mapping

LISTS_SHEET = "lists"
"""A hidden sheet of the written workbook: what its drop-down lists offer. The reader passes over it."""
START_SHEET = "start_here"
"""The first sheet of a new workbook, which says what to fill in first. The reader passes over it."""
PASSED_OVER = (LISTS_SHEET, START_SHEET)
EXPLAINS = "\u2191"
"""A row with cells that begin with this arrow says what belongs under the headings; it is no data."""


def words(listed: str) -> tuple[str, ...]:
    """The names of a list separated by semicolons."""
    return tuple(word.strip() for word in listed.split(";") if word.strip())


BLANK = frozenset({"-", "--", "\u2013", "\u2014", ".", "n/a", "na", "n.a.", "n/a."})
"""What stands in a cell that might as well be blank."""
NO_BOUND = frozenset({"none", "no limit", "unlimited", "no max", "no maximum", "no min", "no minimum", "no cap"})
"""What people write where there is no minimum or maximum."""
NOUGHT = frozenset({"nil", "zero", "nought"})
"""What people write for 0 of a heap of the hand sort."""
EMPTY = NOUGHT | {"empty", "none", "nothing", "gone", "all_gone", "sold", "all_sold", "fed_out"}
"""What people write for the grain of a bin that holds none."""
YES = frozenset({"yes", "y", "true", "x", "yep", "yeah", "\u2713", "\u2714", "\u2611", "\u2705", "\u221a"})
NO = frozenset({"no", "n", "false", "nope"})
SAYS_YES = {"organic": frozenset({"organic"}), "home_grown": frozenset({"home_grown", "homegrown", "own", "home"})}
SAYS_NO = {
    "organic": frozenset({"conventional", "not_organic", "non_organic", "conv"}),
    "home_grown": frozenset({"bought", "purchased", "bought_in"}),
}
"""What else people write for yes and no, by the column they write it in."""

DITTO = frozenset({'"', "''", "\u3003", "\u201d", "ditto", "do.", '- " -', '-"-', "same"})
"""What people write for the name in the row above."""
CURRENCY_WORDS: Mapping[str, str] = {
    "us$": "USD",
    "us_dollars": "USD",
    "us_dollar": "USD",
    "u.s._dollars": "USD",
    "american_dollars": "USD",
    "canadian_dollars": "CAD",
    "c$": "CAD",
    "ca$": "CAD",
    "australian_dollars": "AUD",
    "a$": "AUD",
    "au$": "AUD",
    "nz$": "NZD",
    "euro": "EUR",
    "euros": "EUR",
    "\u20ac": "EUR",
    "pounds_sterling": "GBP",
    "sterling": "GBP",
    "\u00a3": "GBP",
}
"""Three letters of a currency by what people write for it."""
TOTALS = frozenset({"total", "totals", "sum", "sums", "subtotal", "sub_total", "grand_total", "average", "mean"})
"""What people write before a line of sums."""

CANADIAN = (
    "alberta; british_columbia; manitoba; new_brunswick; newfoundland; newfoundland_and_labrador; nova_scotia; "
    "ontario; prince_edward_island; quebec; saskatchewan"
)
"""Provinces: the feed law is that of Canada."""
HELD = (
    "yes; y; x; true; hold; on_hold; quarantine; quarantined; contaminated; poisoned; spoiled; spoilt; rotten; "
    "condemned; salmonella; medicated; not_fit; unfit; not_for_feed; reject; rejected"
)
"""What people write where a bin is to be kept out of every mix for a reason that has no word of its own."""
IN_THE_EU = (
    "austria; belgium; bulgaria; croatia; cyprus; czechia; czech_republic; denmark; estonia; finland; france; germany; "
    "greece; hungary; ireland; italy; latvia; lithuania; luxembourg; malta; netherlands; poland; portugal; romania; "
    "slovakia; slovenia; spain; sweden"
)
"""Member states of the European Union: its feed law holds in each."""
CHOICE_WORDS: Mapping[str, tuple[str, ...]] = {
    "as_received": ("as_fed",),
    "as_is": ("as_fed",),
    "as_sampled": ("as_fed",),
    "af": ("as_fed",),
    "fresh": ("as_fed",),
    "wet_basis": ("as_fed",),
    "as_fed_basis": ("as_fed",),
    "as_received_basis": ("as_fed",),
    "asfed": ("as_fed",),
    "as_fed_(as_received)": ("as_fed",),
    "as_received_(as_fed)": ("as_fed",),
    "as_rec'd": ("as_fed",),
    "as_recd": ("as_fed",),
    "ar": ("as_fed",),
    "a.r.": ("as_fed",),
    "a.f.": ("as_fed",),
    "as_is_basis": ("as_fed",),
    "fresh_matter": ("as_fed",),
    "fresh_weight": ("as_fed",),
    "fm": ("as_fed",),
    "wet": ("as_fed",),
    "dm": ("dry_matter",),
    "dry": ("dry_matter",),
    "dry_basis": ("dry_matter",),
    "dry_matter_basis": ("dry_matter",),
    "dm_basis": ("dry_matter",),
    "dmb": ("dry_matter",),
    "100_%_dm": ("dry_matter",),
    "100%_dm": ("dry_matter",),
    "drymatter": ("dry_matter",),
    "d.m.": ("dry_matter",),
    "d.m._basis": ("dry_matter",),
    "on_dm": ("dry_matter",),
    "on_dry_matter": ("dry_matter",),
    "in_dm": ("dry_matter",),
    "100_%_dry_matter": ("dry_matter",),
    "100%_dry_matter": ("dry_matter",),
    "dry_matter_(dm)": ("dry_matter",),
    "100_%_dry": ("dry_matter",),
    "100%_dry": ("dry_matter",),
    "dry_weight": ("dry_matter",),
    "dry_weight_basis": ("dry_matter",),
    "dry_wt": ("dry_matter",),
    "oven_dry": ("dry_matter",),
    "moisture_free": ("dry_matter",),
    "moisture_free_basis": ("dry_matter",),
    "usa": ("us",),
    "u.s.": ("us",),
    "united_states": ("us",),
    "us_customary": ("us",),
    "american": ("us",),
    "us_units": ("us",),
    "lb": ("us",),
    "lbs": ("us",),
    "pounds": ("us",),
    "si": ("metric",),
    "kg": ("metric",),
    "kilograms": ("metric",),
    "tonnes": ("metric",),
    "ca": ("canada",),
    **dict.fromkeys(words(CANADIAN), ("canada",)),
    **dict.fromkeys(words(IN_THE_EU), ("eu",)),
    "european_union": ("eu",),
    "e.u.": ("eu",),
    "usda_organic": ("us_organic",),
    "nop": ("us_organic",),
    "us_nop": ("us_organic",),
    "eu_bio": ("eu_organic",),
    "conventional": ("none",),
    "not_organic": ("none",),
    "per_ton": ("per_tonne",),
    "per_kg": ("kg",),
    "per_kg_feed": ("kg",),
    "per_day": ("day",),
    "daily": ("day",),
    "per_mcal": ("mcal",),
    "mold": ("mould",),
    "moldy": ("mould",),
    "mouldy": ("mould",),
    "treated": ("treated_seed",),
    "seed_treatment": ("treated_seed",),
    "rats": ("rodents",),
    "mice": ("rodents",),
    "broken_glass": ("glass",),
    "fumigation": ("fumigated",),
    "do_not_use": ("do_not_feed",),
    **dict.fromkeys(words(HELD), ("do_not_feed",)),
}
"""Choices by what people write for them; a word counts only in a column that offers the choice."""

SHEET_WORDS: Mapping[str, str] = {
    "farm": "settings; setup; setting; farm settings; my farm; general",
    "bins": "bin; storage; grain bins; silos; bin list; stores",
    "samples": "sample; sampling; probes; bin samples",
    "sorted": "hand sort; hand sorting; sort; sorting; hand sorted; separation; hand separation; sort results",
    "assays": "lab; lab results; laboratory; analyses; analysis; lab report; lab tests; tests; assay; lab sheet",
    "supplements": "offers; offer; prices; quotes; quotations; price list; ingredients; supplement; feeds",
    "own_feeds": "my feeds; own feed; feed figures; certificates",
    "own_stages": "my stages; own stage; requirements; needs",
    "own_limits": "my limits; limits; caps; own limit; maximums",
    "groups": "animals; herds; stock; livestock; group; animal groups; flocks; pens",
    "sown": "seed; seeds; seed mix; planted; sowing; seeding",
    "actual": "weighed; mixed; what was weighed; batches; mixing record; actuals",
    "lots": "deliveries; delivery; lot; loads; received",
}
"""Names that people give the sheets."""
COLUMN_WORDS: Mapping[str, str] = {
    "price": "price per ton; price per tonne; cost; unit price; price usd; $ per ton; price $",
    "per_mass": "per; unit; price unit; for mass; price per; per what; price is for",
    "package_mass": "bag; bag size; bag weight; package; pack size; bag mass; package size; package weight; tote size",
    "stock_mass": "stock; available; on hand; in stock; quantity; amount available",
    "feed": "ingredient; commodity; product; feedstuff; feed id; feed name",
    "offer": "name; offer name; quote; id",
    "crop": "grain; species; crop name; seed; kind",
    "mass_g": "grams; weight g; g; weight in grams; mass; weight; grams sorted",
    "sorted_mass_g": "grams sorted; sorted grams; total grams; sample grams; sorted mass; sorted weight",
    "head": "number; count; animals; no of animals; head count; number of animals; heads; how many",
    "stage": "life stage; class; phase; animal; type; kind",
    "moisture_pct": "moisture; moisture %; h2o; moisture percent; moist",
    "test_weight": "bushel weight; test wt; hectolitre weight; lb/bu; testweight; tw; density",
    "diameter": "dia; diam; width of bin; bin diameter",
    "wall_depth": "depth; grain depth; height; depth at wall; eave height; wall height; grain height",
    "peak_height": "cone; cone height; peak; heap; cone depth",
    "sale_price": "market price; selling price; price; price if sold; grain price; value",
    "mass": "weight; quantity; amount; tons; tonnes; pounds; bushels",
    "filled_on": "fill date; filled; date filled; harvest date; harvested; harvested on",
    "taken_on": "date; sample date; date taken; sampled on; sampled",
    "quoted_on": "date; quote date; price date; date quoted",
    "delivered_on": "date; delivery date; received; received on; arrived",
    "value": "result; figure; amount; reading",
    "nutrient": "analysis; test; parameter; component; analyte; nutrients",
    "basis": "dm or as fed; as fed or dm; reported as; on",
    "max_pct": "max; maximum; max %; most; limit; cap; upper limit; max inclusion; maximum %",
    "min_pct": "min; minimum; min %; least; floor; lower limit; minimum %",
    "feed_per_head_per_day": "feed per day; intake; daily feed; feed intake; lb per day; kg per day; feed a day",
    "supplier": "vendor; dealer; mill; elevator; company; seller; from whom",
    "note": "notes; comment; comments; remark; remarks",
    "label": "description; long name; full name; name on sheet",
    "from": "start; start date; first day; begin",
    "to": "end; end date; last day; until",
    "group": "name; group name; pen; animals",
    "bin": "bin name; silo; name; bin no; bin number",
    "sample": "sample id; sample name; sample no; sample number; name",
}
"""Headings that people give the columns."""
