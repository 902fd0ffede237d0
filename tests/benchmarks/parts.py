"""What computes, part by part, with the quick tests that look after each: for mistakes put in and for coverage."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Part:
    """Folders and files that compute, in rationlp/, and the files of tests that look after them, in tests/."""

    sources: tuple[str, ...]
    tests: tuple[str, ...]


def part(sources: str, **tests: str) -> Part:
    """A part: its sources, and by room the names of its tests, each a word."""
    return Part(
        tuple(f"rationlp/{name}" for name in sources.split()),
        tuple(f"tests/{room}/test_{name}.py" for room, names in tests.items() for name in names.split()),
    )


COMPUTING = {
    "bins": part(
        "bins",
        bins="agreement contaminants drift dry_matter estimate holds impossible_input joint laboratory lots "
        "moisture_and_volume precision reconcile sampling storage_and_safety",
        published="eight_bins",
    ),
    "feeds": part(
        "feeds",
        rations="certification contaminants eu_premixes one_safety_layer",
        published="vitamins",
        ledger="flows taken",
        book="whole_feeds",
        bins="holds",
    ),
    "stages": part(
        "stages",
        rations="certification contaminants daily_and_ratios feedable overrides todays_animals",
        library="needs trial_caps",
    ),
    "rations: program": part(
        "rations/program",
        rations="contaminants daily_and_ratios eu_premixes margins overrides prices_of_bounds program_listing",
        published="diets vitamins",
    ),
    "rations: solve": part(
        "rations/solve rations/formulate.py rations/nearest_ration.py",
        rations="confidence feedable joint_chance live_program margins nearest settle_all_at_once verify wrong_answers",
        published="diets",
    ),
    "rations: answer": part(
        "rations/answer rations/dear_practice.py rations/stated_feed.py",
        rations="balance crying_wolf daily_and_ratios feedable overrides practice prices_of_bounds said_plainly "
        "trial_notes",
        ledger="flows",
        published="diets",
    ),
    "rations: studies": part(
        "rations/studies",
        rations="concentrate home_grown review studies_by_hand",
        library="figure_weights",
        offers="farm",
    ),
    "offers": part("offers", offers="farm grain purchases least one_fails price_pieces ranges sweep vertex"),
    "sheets: weights": part(
        "sheets/weights sheets/batches.py sheets/order.py sheets/bucket.py",
        sheets="batches centre_and_chances identity larger order repair rounding scale whole_program",
    ),
    "sheets: a pack": part(
        "sheets/carry_over.py sheets/eaters.py sheets/model.py sheets/pack.py "
        "sheets/practice.py sheets/purchases.py sheets/record.py sheets/request.py",
        sheets="batches carry_over identity page_and_table",
    ),
    "actual: judging": part(
        " ".join(f"actual/{name}.py" for name in ("judge", "known", "tolerance", "uniformity", "stock", "slips")),
        actual="batches human_errors judging last_mix slips_by_hand",
        sheets="actual readings uniformity",
    ),
    "herd": part("herd", herd="moves", year="fields"),
    "resample": part("resample", resample="by_hand kept resample"),
    "year: program": part(
        "year/program", year="at_prices choice draws few master nearest plan turns unverified verify ways_out week"
    ),
    "year: plan": part(
        "year/studies year/calendar.py year/days.py year/draws.py year/model.py year/plan.py year/unfed.py "
        "year/week.py",
        year="draws fields few nearest plan replan ways_out week",
    ),
    "library: equations": part(
        "library/equations", library="computed equations reestimate second_source tables", published="eight_bins"
    ),
    "ledger": part("ledger", ledger="flows store taken"),
    "names": Part(("rationlp/finder.py", "rationlp/library/names"), ("tests/test_finder.py",)),
    "units": Part(
        ("rationlp/units.py", "rationlp/book_units.py"),
        ("tests/test_units.py", "tests/book/test_typed.py", "tests/show/test_us_book.py"),
    ),
}
