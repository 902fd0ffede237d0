"""What first screens are made of: reasons under letters, mixes in a line, columns that keep their places."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from rationlp.book.records import Settings
from rationlp.book_units import units_of
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.show.first import sheets
from rationlp.show.first.asked import Asked, Detail
from rationlp.show.first.offers import _purchase_lines
from rationlp.show.first.screen import laid_out, mix_words, print_things
from rationlp.show.terminal import Table, Terminal, wrapped

UNITS = units_of(Settings())


def short(value: float, limit: float, nutrient: str = "biotin", severity: Severity = Severity.ASK) -> Reason:
    text = f"{nutrient} is {value} of {limit}."
    return Reason(Kind.PREMIX, severity, text, nutrient=nutrient, value=value, limit=limit)


def test_reasons_that_differ_by_their_numbers_stand_once_with_the_worst(capsys):
    first, second = Verdict((short(4, 5),)), Verdict((short(1, 5), short(2, 9, "folate", Severity.STOP)))
    asked = Asked([("boar north", first), ("sow north", second)])
    assert asked.mark(first) == "ASK b"
    assert asked.mark(second) == "STOP a,b"
    asked.print(Terminal())
    told = capsys.readouterr().out.splitlines()
    assert told == [
        "a  STOP: folate is 2 of 9.",
        "b  ASK: biotin is 1 of 5. (the worst of 2: sow north)",
    ]


def test_too_little_and_too_much_are_two_reasons():
    low, high = Verdict((short(4, 5),)), Verdict((short(6, 5),))
    asked = Asked([("a", low), ("b", high)])
    assert asked.mark(low) != asked.mark(high)


def test_what_is_only_told_has_no_letter():
    told = Verdict((Reason(Kind.USUAL, Severity.FEED, "told"),))
    assert Asked([("a", told)]).mark(told) == "feed"


def test_more_reasons_than_letters():
    verdicts = [(str(n), Verdict((Reason(Kind.LAW, Severity.ASK, f"reason {n}"),))) for n in range(28)]
    asked = Asked(verdicts)
    assert [asked.mark(verdict) for _, verdict in verdicts[24:]] == ["ASK y", "ASK z", "ASK aa", "ASK ab"]


@pytest.mark.parametrize(
    ("room", "words"),
    [
        (None, "north 440, corn 45.2, salt 1.8, lysine 0.5"),
        (40, "north 440, corn 45.2, 2 others 2.3"),
        (5, "north 440, 3 others 47.5"),
    ],
)
def test_a_mix_in_a_line(room, words):
    parts = [("salt", 1.8), ("north", 440.0), ("lysine", 0.5), ("corn", 45.2)]
    assert mix_words(parts, UNITS, room) == words


def test_columns_keep_their_places():
    assert laid_out([["a", "", "1"], ["bcd", "", "10"]], "llr", indent=1) == [" a     1  ", " bcd  10  "]


def test_things_to_know_are_few_and_each_told_once(capsys):
    print_things(Terminal(), ["one", "two", "one", "three"], most=2)
    assert capsys.readouterr().out.splitlines() == ["- one", "- two", "- 1 more to know: see --full."]


def test_no_line_ends_between_a_number_and_its_unit():
    assert wrapped("the trade uses 10 %.", 17) == "the trade uses\n10 %."
    assert wrapped("- a batch of 500 kg, 2 of them", 15, "  ") == "- a batch of\n  500 kg, 2 of\n  them"


def test_a_narrow_terminal_cuts_no_id():
    made = Table("Feeds", [("Feed", "left"), ("Offer", "left"), ("Why", "left"), ("Price", "right")])
    made.add_row("a" * 25, "b" * 26, "for reasons that take up many words", "1,250.00")
    for width in (100, 80, 60):
        told = made.render(width)
        assert "a" * 25 in told and "b" * 26 in told and max(map(len, told.splitlines())) <= width


@pytest.mark.parametrize(("variable", "value"), [("NO_COLOR", "1"), ("TERM", "dumb")])
def test_bold_is_left_out_where_it_is_not_wanted(monkeypatch, variable, value):
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert Terminal().is_bold
    monkeypatch.setenv(variable, value)
    assert not Terminal().is_bold


@pytest.mark.parametrize(("watched", "wait", "said"), [(True, 0.0, True), (True, 60.0, False), (False, 0.0, False)])
def test_long_work_is_named_where_a_person_watches(monkeypatch, capsys, watched, wait, said):
    from time import sleep

    from rationlp.cli import progress

    monkeypatch.setattr(progress, "WAIT_S", wait)
    monkeypatch.setattr("sys.stderr.isatty", lambda: watched, raising=False)
    with progress.waiting("Calculating"):
        sleep(0.05 if said else 0)
    assert ("Calculating ..." in capsys.readouterr().err) == said


def test_a_long_run_of_letters_is_told_by_its_ends():
    """37 letters in a column pushed the names and weights beside it into a word a line."""
    reasons = tuple(Reason(Kind.LAW, Severity.ASK, f"Reason {number:02}.") for number in range(8))
    asked = Asked([("one", Verdict(reasons)), ("other", Verdict((reasons[0], reasons[1], reasons[7])))])
    assert (asked.mark(Verdict(reasons)), asked.mark(Verdict(reasons[:2]))) == ("ASK a-h", "ASK a,b")


def test_what_most_mixes_share_stands_first():
    rare, common = Reason(Kind.LAW, Severity.STOP, "Rare."), Reason(Kind.REQUIREMENT, Severity.STOP, "Common.")
    asked = Asked([("a", Verdict((rare, common))), ("b", Verdict((common,)))])
    assert [line.reason.text for line in asked.lines] == ["Common.", "Rare."]


NUTRIENTS = ("Calcium", "Sodium", "Biotin", "Folate", "Potassium", "Copper", "Zinc", "Choline", "Niacin", "Iodine")


def _poor(number: int) -> Verdict:
    """Ten shortages, a conflict of its own and a danger to be asked about, in sentences of two lines."""
    why = "a sentence that goes on for so long that nobody could call it short, and then for some words more"
    danger = Reason(Kind.SAFETY, Severity.ASK, f"Bin north: ergot in sample {number % 2} ({why}, {why}).")
    missed = (
        Reason(
            Kind.REQUIREMENT,
            Severity.STOP,
            f"{name} is {number + 1} %; at least 90 ({why}).",
            name,
            None,
            "%",
            number,
            90,
        )
        for name in NUTRIENTS
    )
    conflict = Reason(Kind.REQUIREMENT, Severity.STOP, f"No mix keeps all of these: row {number}; {why}; {why}; {why}.")
    return Verdict((*missed, conflict, danger))


def test_what_finds_no_room_is_told_shortly_then_summed_up_and_none_is_lost(capsys):
    """36 rations of a poor farm took 262 lines."""
    verdicts = [(f"mix {number}", _poor(number)) for number in range(20)]
    out = Terminal(100)
    heights = [Asked(verdicts, detail).height(out) for detail in Detail]
    assert heights[0] > 60 and heights[0] > heights[1] > heights[2]
    for others, detail in ((36 - heights[1], Detail.SHORT), (36 - heights[2], Detail.SUMMED), (30, Detail.SUMMED)):
        assert Asked(verdicts).fitting(out, others).height(out) == Asked(verdicts, detail).height(out)
    asked = Asked(verdicts).fitting(out, 36 - heights[2])
    asked.print(out)
    told = capsys.readouterr().out
    words = " ".join(told.split())
    assert all(f"{name} 0 of 90 % (20)" in words for name in NUTRIENTS) and "(20 of 20; worst mix 0)" in words
    assert "No mix keeps all of these: row 0" in words and "(20 of 20; e.g. mix 0)" in words
    assert words.count("and then for some words more).") == 2  # dangers to be asked about stand whole
    letters = {line.split()[0] for line in told.splitlines() if not line.startswith(" ")}
    assert letters == set("abcd") and asked.mark(verdicts[0][1]) == "STOP a,b,c"


def test_too_little_and_too_much_are_summed_up_apart():
    low, high = short(4, 5), short(6, 5, "folate")
    lines = Asked([("a", Verdict((low, high)))], Detail.SUMMED).lines
    assert [line.text for line in lines] == ["Too little: biotin 4 of 5.", "Too much: folate 6 of 5."]


def test_no_number_is_parted_from_its_unit_at_the_end_of_a_line():
    text = "The chance is 7 % that 42 lb of it do; 1,200 kg are 12 bags."
    for width in range(10, 60):
        lines = wrapped(text, width).split("\n")
        assert not any(line.startswith(("%", "lb", "kg")) for line in lines)
        assert " ".join(lines) == text


def test_the_purchases_of_many_bins_fit_the_screen():
    purchase = SimpleNamespace(
        offer="soy", price=400.0, tonnes=3.5, needed_by=(), at_stake=120.0, stays_from=350.0, stays_to=450.0
    )
    for bins, columns in ((["a", "b"], 3), (["a", "b", "c"], 2), ([f"bin{n}" for n in range(7)], 1)):
        told, lines = _purchase_lines(100, {"soy": dict.fromkeys(bins, purchase)}, ["soy"], bins, UNITS)
        assert told == columns
        assert max(map(len, lines)) <= 100 and len(lines) == 2


def test_what_conflicts_in_rations_that_are_stopped_makes_no_sheet_screen_longer(capsys):
    stopped = Verdict((short(1, 5, severity=Severity.STOP),))
    absent = SimpleNamespace(name="sow", id="X", ration=SimpleNamespace(verdict=stopped))
    absent.reasons = tuple(f"conflict {n}" for n in range(30))
    pages = [SimpleNamespace(name="sow", ration=absent.ration)]
    pack = SimpleNamespace(farm="F", pages=pages, sheets=[], unmade=[absent], units=UNITS, unit="kg", currency="USD")
    sheets.print_first(pack, "out.xlsx")
    told = capsys.readouterr().out
    assert "STOP" in told and "more to know" in told and told.count("conflict") == 5


def _of_a_year() -> Table:
    made = Table("Mixes", [("Mix", "left"), ("t", "right"), ("USD/t", "right"), ("Made of", "left"), ("", "left")])
    made.add_row("mix 1", "21.93", "225.7", "corn_bought 41.4, peas_neighbour 29.1", "ask")
    return made


@pytest.mark.parametrize("width", range(52, 72))
def test_a_table_is_no_wider_than_it_may_be_where_its_headings_are_wider_than_its_figures(width):
    """A year's mixes stood 101 wide in 100: the library leaves a heading two blanks in its column."""
    assert max(map(len, _of_a_year().render(width).splitlines())) <= width


def test_no_heading_is_broken_for_which_there_is_room():
    """`bin --full` broke `Sort + library` in a table that was narrower than the screen."""
    made = Table("Crops", [("Crop", "left"), ("Sort + library", "right"), ("What it says of it", "right")])
    made.add_row("wheat", "1.0", "2.0")
    assert "Sort + library" in made.render(42) and "Sort + library" not in made.render(24)
