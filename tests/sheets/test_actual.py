"""What was really weighed: from the book and from a filled-in workbook, judged and drawn down."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime

import pytest
from kept_mixes import keep
from openpyxl import load_workbook

from rationlp.actual.report import report_of
from rationlp.actual.stock import stock_words
from rationlp.actual.tolerance import beyond_tolerance
from rationlp.book.records import Lot, Place, Weighed
from rationlp.errors import InputError
from rationlp.farm import Farm
from rationlp.ledger.weighed import offer_of, sheet_name
from rationlp.pages.workbook import write_workbook
from rationlp.rations.formulate import solve_rations
from rationlp.sheets.pack import make_pack
from rationlp.sheets.record import MIXER_TEST, PURCHASES, RECORD
from rationlp.sheets.request import SheetRequest
from rationlp.units import KG_PER_LB

STAGE, BIN = "sw_gro_25_50", "north"
DAY = date(2025, 11, 20)
NAME = f"{STAGE} {BIN}"


@pytest.fixture(scope="module")
def pack(demo_book, library):
    return make_pack(Farm(demo_book, library), SheetRequest(count=3, on=DAY), [STAGE], [BIN])


@pytest.fixture(scope="module")
def target(pack):
    """Kilograms by offer of one batch of the sheet."""
    found: dict[str, float] = {}
    (sheet,) = pack.sheets
    for line in (*sheet.bucket, *sheet.mixer):
        if line.offer:
            found[line.offer] = found.get(line.offer, 0.0) + float(line.mass)
    return found


def with_actual(book, weights: Mapping[str, float], name=NAME, day=DAY):
    rows = tuple(
        Weighed(Place("actual", i, {"sheet": "A", "feed": "C"}), name, day, feed, mass)
        for i, (feed, mass) in enumerate(weights.items(), 2)
    )
    return replace(book, actual=(*book.actual, *rows))


def only(found):
    (judgement,) = found.judgements
    return judgement


def reasons_of(judgement):
    """The sentences of the verdict."""
    return [reason.text for reason in judgement.verdict.reasons]


# From the book ----------------------------------------------------------------------------------


@pytest.mark.slow
def test_weighed_as_printed_may_be_fed(demo_book, library, target):
    found = report_of(Farm(with_actual(demo_book, target), library))
    judgement = only(found)
    assert (
        judgement.verdict.severity == "feed" and not judgement.faults and not judgement.verdict.reasons and found.good
    )
    assert judgement.ration.status == "optimal"
    assert f"made {DAY}" in judgement.label_line and BIN in judgement.label_line


@pytest.mark.slow
def test_a_missed_premix_is_not_fed_until_it_is_in(demo_book, library, target):
    """Nothing on the rows of the ration tells: vitamins have none. The premix alone puts it right."""
    judgement = only(report_of(Farm(with_actual(demo_book, target | {"premix_pigs": 0.0}), library)))
    assert judgement.verdict.severity == "stop"
    assert reasons_of(judgement).count("The premix for vitamins and trace minerals is at 0 % of its dose.") == 1
    assert any("left out: 2 kg are missing" in words for words in judgement.faults)
    (remedy,) = judgement.remedies
    assert "add 2 kg of Swine vitamin" in remedy and "502" not in remedy and "(500 kg in all)" in remedy
    assert any("premix" in words for words in judgement.cautions[1:])


@pytest.mark.slow
def test_a_feed_that_stands_in_no_row_was_left_out(demo_book, library, target):
    less = {name: mass for name, mass in target.items() if name != "premix_pigs"}
    assert only(report_of(Farm(with_actual(demo_book, less), library))).verdict.severity == "stop"


@pytest.mark.slow
def test_double_salt_is_asked_about(demo_book, library, target):
    judgement = only(report_of(Farm(with_actual(demo_book, target | {"salt": 2 * target["salt"]}), library)))
    assert judgement.verdict.severity == "ask"
    assert any(words.startswith("Salt went in twice") for words in judgement.faults)
    assert any("water" in words.casefold() for words in judgement.cautions)


@pytest.mark.slow
def test_ten_times_the_salt_is_never_fed(demo_book, library, target):
    """It is asked about as a slip of the decimal point; written with its unit it must not be fed."""
    book = with_actual(demo_book, target | {"salt": 10 * target["salt"]})
    with pytest.raises(InputError, match=r"for salt; expected .* the decimal point"):
        report_of(Farm(book, library))
    book = replace(book, actual=tuple(replace(row, sure=True) for row in book.actual))
    judgement = only(report_of(Farm(book, library)))
    assert judgement.verdict.severity == "stop"
    assert any("Sodium" in words or "Salt" in words for words in reasons_of(judgement))
    assert any("keep it apart" in words for words in judgement.remedies)


@pytest.mark.slow
def test_the_premix_of_other_animals_is_never_fed(demo_book, library, target):
    weights = {name: mass for name, mass in target.items() if name != "premix_pigs"} | {"premix_layers": 5.0}
    judgement = only(report_of(Farm(with_actual(demo_book, weights), library)))
    assert judgement.verdict.severity == "stop" and any(
        "made for" in w or "other animals" in w for w in reasons_of(judgement)
    )
    assert not judgement.remedies


@pytest.mark.slow
def test_a_feed_nobody_has_figures_for(demo_book, library, target):
    judgement = only(report_of(Farm(with_actual(demo_book, target | {"phytase": 1.0}), library)))
    assert judgement.verdict.severity in ("stop", "ask")
    assert any("phytase" in words.casefold() for words in (*judgement.faults, *reasons_of(judgement)))


def test_a_slip_within_the_scale_is_no_fault(demo_book, library, target):
    judgement = only(
        report_of(
            Farm(
                with_actual(demo_book, target | {BIN: target[BIN] + 1, "limestone": target["limestone"] + 0.01}),
                library,
            )
        )
    )
    assert judgement.verdict.severity == "feed"


def test_half_a_batch_is_no_fault(demo_book, library, target):
    judgement = only(
        report_of(Farm(with_actual(demo_book, {name: mass / 2 for name, mass in target.items()}), library))
    )
    assert judgement.verdict.severity == "feed" and judgement.size == pytest.approx(0.5)


@pytest.mark.slow
def test_a_remedy_makes_it_what_it_says(demo_book, library, target):
    """What it says to add is weighed too: the batch then meets everything."""
    short = {name: mass * (0.5 if name in ("limestone", "monocal", "lysine") else 1) for name, mass in target.items()}
    judgement = only(report_of(Farm(with_actual(demo_book, short), library)))
    assert judgement.verdict.severity != "feed" and "Then it meets the ration" in judgement.remedies[0]
    assert only(report_of(Farm(with_actual(demo_book, target), library))).verdict.severity == "feed"


@pytest.mark.slow
def test_swapped_weights_are_seen(demo_book, library, target):
    """Lysine for methionine leaves lysine 17 % short: within what a nutritionist may decide (under 20 %)."""
    crossed = target | {"lysine": target["methionine"], "methionine": target["lysine"]}
    judgement = only(report_of(Farm(with_actual(demo_book, crossed), library)))
    assert judgement.verdict.severity == "ask" and "on average" not in judgement.verdict.headline
    (lysine,) = (reason for reason in judgement.verdict.reasons if reason.nutrient == "sid_lysine_pig")
    assert lysine.severity == "ask" and 0.8 < lysine.value / lysine.limit < 0.95
    assert any("each other's weight" in words for words in judgement.faults)
    crossed = target | {"limestone": target["salt"], "salt": target["limestone"]}
    judgement = only(report_of(Farm(with_actual(demo_book, crossed), library)))
    assert judgement.verdict.severity == "stop"
    assert any("each other's weight" in words for words in judgement.faults)


@pytest.mark.slow
def test_a_dose_weighs_by_how_far_off_it_is(demo_book, library, target):
    """Rounding is told, a fifth too little is asked about, a double dose is a stop; each reason once."""
    found = {}
    for times in (0.98, 0.8, 2.0):
        weights = target | {"premix_pigs": times * target["premix_pigs"]}
        judgement = only(report_of(Farm(with_actual(demo_book, weights), library)))
        (dose,) = (r for r in judgement.verdict.reasons if r.kind == "premix" and r.nutrient is None)
        assert dose.value == pytest.approx(100 * times, rel=0.01) and "vitamins and trace minerals" in dose.text
        limits = [(r.nutrient, r.limit) for r in judgement.verdict.reasons if r.nutrient and r.limit]
        assert len(limits) == len(set(limits)), "a limit that is passed is told once"
        found[times] = dose.severity
    assert found == {0.98: "feed", 0.8: "ask", 2.0: "stop"}


@pytest.mark.slow
def test_requirement_by_requirement(demo_book, library, target):
    """The ration as mixed is calculated from what was weighed, not from what was asked."""
    judgement = only(report_of(Farm(with_actual(demo_book, target | {"limestone": 0.0}), library)))
    calcium = next(line for line in judgement.ration.requirements if line.nutrient == "calcium")
    assert calcium.meets is False and judgement.verdict.severity == "stop"
    (recipe,) = solve_rations(Farm(demo_book, library), [STAGE], [BIN])
    total = sum(target.values()) - target["limestone"]
    by_hand = (
        sum(
            (mass if name != "limestone" else 0)
            * next(c.values["calcium"] for c in recipe.formula.candidates if c.name == name)
            for name, mass in target.items()
        )
        / total
    )
    assert calcium.gives == pytest.approx(by_hand)


@pytest.mark.slow
def test_two_batches_of_one_day(demo_book, library, target):
    """Every feed twice: the first of each is one batch, the second the next."""
    book = with_actual(with_actual(demo_book, target), target | {"premix_pigs": 0.0})
    found = report_of(Farm(book, library))
    assert [(j.made.turn, j.verdict.severity) for j in found.judgements] == [(1, "feed"), (2, "stop")]


def test_grain_in_two_lots_is_one_batch(demo_book, library, target):
    book = with_actual(with_actual(demo_book, target | {BIN: 200.0}), {BIN: target[BIN] - 200.0})
    assert only(report_of(Farm(book, library))).verdict.severity == "feed"


def test_a_sheet_is_known_by_id_name_and_number(demo_book, library, pack):
    (sheet,) = pack.sheets
    ids = {sheet.id: (STAGE, (BIN,))}
    for text in (
        NAME,
        NAME.upper(),
        "sw-gro-25-50 north #2",
        f"{NAME} last",
        f"{NAME} p2",
        sheet.id,
        sheet.id.replace("-", "").lower(),
        f"{sheet.id} #3",
    ):
        name = sheet_name(text, Farm(demo_book, library), ids)
        assert (name.stage, name.bins) == (STAGE, (BIN,)), text
    assert sheet_name(f"{sheet.id} #3", Farm(demo_book, library), ids).number == 3
    assert sheet_name("nothing at all", Farm(demo_book, library), ids) is None


def test_an_id_in_the_book_is_found_again(demo_book, library, pack, target, tmp_path):
    (sheet,) = pack.sheets
    book = replace(demo_book, path=tmp_path / "farm")
    keep(sheet.ration, book, DAY, sheet=sheet.name, name=sheet.id)
    judgement = only(report_of(Farm(with_actual(book, target, name=f"{sheet.id} #2"), library)))
    assert judgement.verdict.severity == "feed" and judgement.made.batch == f"{pack.sheets[0].id} #2"


def test_an_unknown_sheet_says_what_was_meant(demo_book, library, target):
    with pytest.raises(InputError) as caught:
        report_of(Farm(with_actual(demo_book, target, name="sw_gro_25_50 nroth"), library))
    (problem,) = caught.value.problems[:1]
    assert problem.sheet == "actual" and problem.cell == "A2" and "sw_gro_25_50_north" in problem.do


def test_feeds_are_known_by_offer_bin_and_feed(demo_book):
    assert offer_of("bin:North", demo_book) == "north"
    assert offer_of("SALT", demo_book) == "salt"
    assert offer_of("limestone_fine", demo_book) == "limestone"
    assert offer_of("moon dust", demo_book) == "moon_dust"


@pytest.mark.slow
def test_bags_for_bulk_are_the_same_feed(demo_book, library, target):
    """The sheet asks for soybean meal in bulk; what went in came out of bags, or is named by its feed only."""
    less = {name: mass for name, mass in target.items() if name != "soy48_bulk"}
    for name in ("soy48_bags", "soybean_meal_48_dehulled_solvent"):
        found = report_of(Farm(with_actual(demo_book, less | {name: target["soy48_bulk"]}), library))
        assert only(found).verdict.severity == "feed", name
    assert next(row for row in found.stocks if row.name == "soy48_bulk").taken_kg == target["soy48_bulk"]


def test_grain_of_the_wrong_bin_is_judged_by_its_own_figures(demo_book, library, target):
    weights = {name: mass for name, mass in target.items() if name != BIN} | {"south": target[BIN]}
    judgement = only(report_of(Farm(with_actual(demo_book, weights), library)))
    assert judgement.verdict.severity != "feed"
    assert reasons_of(judgement)[0] == "South bin (hill field) (439 kg) went in instead of North bin (mill yard)."
    lysine = next(line for line in judgement.ration.requirements if line.nutrient == "sid_lysine_pig")
    assert lysine.gives and lysine.gives != pytest.approx(lysine.minimum, rel=1e-3)


@pytest.mark.slow
def test_a_sheet_of_both_bins_together(demo_book, library):
    pack = make_pack(Farm(demo_book, library), SheetRequest(on=DAY), [STAGE], together=True)
    (sheet,) = pack.sheets
    weights: dict[str, float] = {}
    for line in (*sheet.bucket, *sheet.mixer):
        if line.offer:
            weights[line.offer] = weights.get(line.offer, 0.0) + float(line.mass)
    judgement = only(report_of(Farm(with_actual(demo_book, weights, name=sheet.name), library)))
    assert judgement.verdict.severity == "feed" and judgement.made.bins == ("north", "south")


def test_a_book_without_a_batch_tells_its_stock(demo_book, library):
    """It was an error, also where deliveries stood in the book."""
    offer = demo_book.supplements[0].offer
    delivered = Lot(Place("lots", 2), "L1", offer, DAY, 500.0)
    found = report_of(Farm(replace(demo_book, lots=(delivered,)), library))
    assert found.judgements == () and found.good
    assert [problem.found for problem in found.warnings] == ["no batch entered yet"]
    assert next(row for row in found.stocks if row.name == offer).on_farm_kg == 500.0
    assert {row.bin for row in demo_book.bins} <= {row.name for row in found.stocks}


# Tolerance --------------------------------------------------------------------------------------


def test_tolerances_of_the_regulator(demo_book, library):
    """Canada, Feeds Regulations 2024, Schedule 1: protein one point under, calcium 0.2 points at 1 % or less."""
    (recipe,) = solve_rations(Farm(demo_book, library), [STAGE], [BIN])
    ration = recipe.ration

    def moved(nutrient, by):
        lines = tuple(replace(r, gives=r.gives + by) if r.nutrient == nutrient else r for r in ration.requirements)
        return list(
            beyond_tolerance(
                ration,
                replace(
                    ration, requirements=lines, analysis=ration.analysis | {nutrient: ration.analysis[nutrient] + by}
                ),
                library,
            )
        )

    assert not moved("calcium", 0.19) and not moved("calcium", -0.19)
    assert moved("calcium", 0.21) and moved("calcium", -0.21)
    assert moved("crude_protein", -1.01) and not moved("crude_protein", -0.99) and not moved("crude_protein", 5)


# From a filled-in workbook ----------------------------------------------------------------------


@pytest.fixture
def filled(pack, library, tmp_path):
    """Writes the workbook, fills in batches (a function from a line of the record to what is typed), reads it back."""
    path = tmp_path / "filled.xlsx"

    def fill(batches, cells=None, change=None):
        write_workbook(pack, library, path)
        book = load_workbook(path)
        lines = [
            dict(zip([c.value for c in book[RECORD][1]], [c.value for c in row], strict=True))
            for row in book[RECORD].iter_rows(min_row=2)
        ]
        sheet = book[NAME]
        for letter, typed in zip("IJK", batches, strict=False):
            for line in lines:
                sheet[f"{letter}{line['row']}"] = typed(line)
        for (tab, cell), value in (cells or {}).items():
            book[tab][cell] = value
        if change:
            change(sheet, lines)
        book.save(path)
        return path, lines

    return fill


def as_printed(line):
    return line["mass"]


@pytest.mark.slow
def test_a_filled_in_sheet_is_read_back(demo_book, library, filled, target):
    path, _ = filled(
        [as_printed, lambda line: "x", lambda line: f"{line['mass'] / KG_PER_LB} lb"], {(PURCHASES, "M5"): "field 7"}
    )
    found = report_of(Farm(demo_book, library), path)
    assert [j.verdict.severity for j in found.judgements] == ["feed"] * 3 and not found.warnings
    for number, judgement in enumerate(found.judgements, 1):
        assert judgement.made.number == number and judgement.made.made_on == DAY
        assert judgement.made.weighed_kg == pytest.approx(target)
    assert found.lots == {"north": "field 7"}


@pytest.mark.slow
def test_readings_of_the_scale_in_the_boxes_are_taken_as_such(demo_book, library, filled, target):
    """The sheet shows what the scale will read, and that is what the crew copied."""
    path, _ = filled([lambda line: line["mass"] if line["in_bucket"] else line["reads"]])
    found = report_of(Farm(demo_book, library), path)
    (judgement,) = found.judgements
    assert judgement.verdict.severity == "feed" and not judgement.faults
    assert judgement.made.weighed_kg == pytest.approx(target)
    (told,) = [problem for problem in found.warnings if "figures that rise" in problem.found]
    assert "the scale's readings" in told.do


@pytest.mark.slow
def test_only_columns_with_anything_in_them_are_batches(demo_book, library, filled):
    path, _ = filled([lambda line: None, as_printed])
    assert [j.made.number for j in report_of(Farm(demo_book, library), path).judgements] == [2]


@pytest.mark.slow
def test_a_changed_batch_changes_what_was_asked(demo_book, library, filled):
    path, _ = filled([lambda line: round(line["mass"] * 0.8, 4)], {(NAME, "C4"): 400})
    judgement = only(report_of(Farm(demo_book, library), path))
    assert (
        judgement.verdict.severity == "feed"
        and judgement.size == pytest.approx(1)
        and judgement.made.total_kg == pytest.approx(400)
    )


@pytest.mark.slow
def test_a_double_salt_on_the_sheet(demo_book, library, filled):
    path, _ = filled([lambda line: line["mass"] * (2 if line["offer"] == "salt" else 1)])
    judgement = only(report_of(Farm(demo_book, library), path))
    assert judgement.verdict.severity == "ask" and any("Salt went in twice" in words for words in judgement.faults)


def problems_of(demo_book, library, path):
    with pytest.raises(InputError) as caught:
        report_of(Farm(demo_book, library), path)
    return caught.value.problems


@pytest.mark.slow
def test_missing_weights_each_get_a_line(demo_book, library, filled):
    path, lines = filled([lambda line: None if line["offer"] in ("salt", "limestone") else line["mass"]])
    problems = problems_of(demo_book, library, path)
    rows = {f"I{line['row']}" for line in lines if line["offer"] in ("salt", "limestone")}
    assert {problem.cell for problem in problems} == rows and len(rows) == 2
    assert all(problem.sheet == NAME and "0 if it was left out" in problem.do for problem in problems)


@pytest.mark.slow
def test_pounds_for_kilograms_get_one_line(demo_book, library, filled):
    path, _ = filled([lambda line: round(line["mass"] / KG_PER_LB, 2)])
    (problem,) = problems_of(demo_book, library, path)
    assert "looks like lb" in problem.expected and problem.cell.startswith("I")


@pytest.mark.slow
def test_one_weight_in_pounds(demo_book, library, filled):
    path, lines = filled([lambda line: round(line["mass"] / (KG_PER_LB if line["offer"] == "limestone" else 1), 2)])
    (problem,) = problems_of(demo_book, library, path)
    assert problem.cell == next(f"I{line['row']}" for line in lines if line["offer"] == "limestone")
    path, _ = filled(
        [lambda line: f"{line['mass'] / KG_PER_LB:.2f} kg" if line["offer"] == "limestone" else line["mass"]]
    )
    assert only(report_of(Farm(demo_book, library), path)).verdict.severity != "feed", (
        "with its unit it is taken at its word"
    )


@pytest.mark.slow
def test_swapped_rows_get_a_line_each(demo_book, library, filled):
    def swap(sheet, lines):
        one, other = lines[1]["row"], lines[3]["row"]
        for letter in "BCDHI":
            first, second = sheet[f"{letter}{one}"], sheet[f"{letter}{other}"]
            first.value, second.value = second.value, first.value

    path, lines = filled([as_printed], change=swap)
    problems = problems_of(demo_book, library, path)
    assert {problem.cell for problem in problems} == {f"B{lines[1]['row']}", f"B{lines[3]['row']}"}
    assert all("as the sheet was printed" in problem.expected for problem in problems)


@pytest.mark.slow
def test_nonsense_gets_a_line_each_all_at_once(demo_book, library, filled):
    typed = {"salt": "abc", "limestone": -3, "monocal": True, "lysine": "12 stone"}
    path, lines = filled([lambda line: typed.get(line["offer"], line["mass"])], {(NAME, "C5"): "yesterday"})
    cells = {f"I{line['row']}" for line in lines if line["offer"] in typed}
    problems = problems_of(demo_book, library, path)
    assert {problem.cell for problem in problems} == cells


@pytest.mark.slow
def test_a_batch_mass_that_is_none(demo_book, library, filled):
    path, _ = filled([as_printed], {(NAME, "C4"): "full"})
    (problem,) = problems_of(demo_book, library, path)
    assert problem.cell == "C4"


@pytest.mark.slow
def test_no_date_is_a_warning_and_a_date_under_the_batch_counts(demo_book, library, filled):
    path, _ = filled([as_printed], {(NAME, "C5"): None})
    found = report_of(Farm(demo_book, library), path)
    assert only(found).made.made_on is None and any("no date" in problem.found for problem in found.warnings)

    def date_below(sheet, lines):
        sheet["C5"] = None
        row = next(row for row in range(1, sheet.max_row) if str(sheet[f"A{row}"].value).startswith("Date and time"))
        sheet[f"I{row}"] = datetime(2025, 11, 24, 6, 15)

    path, _ = filled([as_printed], change=date_below)
    assert only(report_of(Farm(demo_book, library), path)).made.made_on == date(2025, 11, 24)


def test_a_workbook_of_something_else(demo_book, library, tmp_path):
    from openpyxl import Workbook

    other, text = tmp_path / "other.xlsx", tmp_path / "text.xlsx"
    Workbook().save(other)
    text.write_text("no workbook")
    for path in (other, text, tmp_path / "missing.xlsx"):
        (problem,) = problems_of(demo_book, library, path)
        assert problem.sheet == path.name


@pytest.mark.slow
def test_an_empty_workbook_was_not_filled_in(demo_book, library, filled):
    path, _ = filled([])
    (problem,) = problems_of(demo_book, library, path)
    assert "nothing weighed" in problem.found


@pytest.mark.slow
def test_sheets_of_an_older_book_are_said_to_be(demo_book, library, filled):
    path, _ = filled([as_printed])
    dearer = tuple(
        replace(
            offer, price_per_tonne=3 * offer.price_per_tonne if offer.offer == "corn_bought" else offer.price_per_tonne
        )
        for offer in demo_book.supplements
    )
    found = report_of(Farm(replace(demo_book, supplements=dearer), library), path)
    assert any("book version" in problem.found for problem in found.warnings)
    assert only(found).verdict.severity == "feed"


@pytest.mark.slow
def test_a_batch_in_book_and_workbook_counts_once(demo_book, library, filled, target):
    path, _ = filled([as_printed])
    found = report_of(Farm(with_actual(demo_book, target), library), path)
    north = next(stock for stock in found.stocks if stock.name == BIN)
    assert north.taken_kg == pytest.approx(target[BIN]) and north.batches == 1
    assert any("already in the book" in problem.found for problem in found.warnings)


@pytest.mark.slow
def test_a_mixer_test_typed_into_the_workbook(demo_book, library, filled):
    """Salt samples of Feed Management, November 1992 (feedmgmt_1992): CV 10.4 %, above the target for a farm mixer."""
    salt = [0.81, 0.75, 0.61, 0.76, 0.68, 0.8]
    path, _ = filled(
        [], {(MIXER_TEST, "B3"): "salt", **{(MIXER_TEST, f"B{8 + i}"): value for i, value in enumerate(salt)}}
    )
    found = report_of(Farm(demo_book, library), path)
    (test,) = found.uniformity
    assert test.tracer == "salt" and test.cv_pct == pytest.approx(10.4, abs=0.1) and not found.good


# Stock ------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_bins_are_drawn_down(demo_book, library, target):
    found = report_of(Farm(with_actual(with_actual(demo_book, target), target, day=date(2025, 11, 27)), library))
    stock = {row.name: row for row in found.stocks}
    assert stock[BIN].start_kg == pytest.approx(42_000)
    assert stock[BIN].left_kg == pytest.approx(42_000 - 2 * target[BIN])
    assert stock["premix_pigs"].left_kg == pytest.approx(500 - 2 * target["premix_pigs"])
    assert stock["south"].taken_kg == 0


def test_grain_from_before_the_bin_was_filled_does_not_count(demo_book, library, target):
    found = report_of(Farm(with_actual(demo_book, target, day=date(2025, 1, 5)), library))
    assert next(row for row in found.stocks if row.name == BIN).taken_kg == 0


def test_more_out_than_in_is_said(demo_book, library, target):
    book = with_actual(demo_book, {name: 100 * mass for name, mass in target.items()})
    north = next(row for row in report_of(Farm(book, library)).stocks if row.name == BIN)
    assert north.left_kg < 0 and "measure" in stock_words(north, book.farm)


# The command ------------------------------------------------------------------------------------


@pytest.mark.slow
def test_rows_for_the_book_read_back_as_the_same_batches(demo_book, library, filled, target):
    from rationlp.show.text.actual import rows_for_book

    path, _ = filled([as_printed, lambda line: line["mass"] * (0 if line["offer"] == "salt" else 1)])
    found = report_of(Farm(demo_book, library), path)
    rows = list(csv.DictReader(io.StringIO(rows_for_book(found, demo_book))))
    book = replace(
        demo_book,
        actual=tuple(
            Weighed(
                Place("actual", i, {}),
                row["sheet"],
                date.fromisoformat(row["made_on"]),
                row["feed"],
                float(row["mass"]),
                row["batch"],
                row["lot"],
            )
            for i, row in enumerate(rows, 2)
        ),
    )
    again = report_of(Farm(book, library))
    assert [(j.made.number, j.verdict) for j in again.judgements] == [
        (j.made.number, j.verdict) for j in found.judgements
    ]
