"""Every first answer fits 40 lines of 100 columns for ten groups, and hides nothing that a decision needs."""

from __future__ import annotations

import json
import re

import pytest
from random_farms import DEMO, read_sheets, write_sheets

LINES, WIDTH = 40, 100
COMMANDS = [
    ("check",),
    ("bin",),
    ("ration",),
    ("offers",),
    ("library",),
    ("library", "feeds"),
    ("library", "feeds", "triticale"),
    ("library", "stages"),
    ("library", "stages", "sw_boar"),
    ("library", "limits", "flaxseed"),
]


@pytest.mark.slow
@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_ten_groups_fit_a_screen(run, ten_groups, words):
    book = [] if words[0] == "library" else [ten_groups]
    lines = run(words[0], *book, *words[1:]).stdout.splitlines()
    assert len(lines) <= LINES, len(lines)
    assert max(map(len, lines)) <= WIDTH


@pytest.mark.slow
def test_the_sheets_of_ten_groups_fit_a_screen(run, ten_groups, tmp_path):
    lines = run("sheets", ten_groups, "-o", tmp_path / "mix.csv", "--bin", "north").stdout.splitlines()
    assert len(lines) <= LINES and max(map(len, lines)) <= WIDTH


@pytest.mark.slow
def test_a_ration_that_misses_a_need_is_not_said_to_meet_them_on_average(run, tmp_path):
    """Beside DO NOT FEED stood that every requirement is met on average."""
    sheets = read_sheets(DEMO)
    sheets["supplements"] = [row for row in sheets["supplements"] if not row["offer"].startswith("premix")]
    text = run("ration", write_sheets(sheets, tmp_path / "book"), "--stage", "sw_gro_25_50", "--bin", "north").stdout
    assert "STOP" in text and "met on average" not in text


@pytest.mark.slow
def test_crops_of_long_names_stand_beside_the_figures(run, tmp_path):
    """`Sunflower seed, oil type, with hull` pushed the figures over the edge, each broken in two."""
    sheets = read_sheets(DEMO)
    for row in sheets["sorted"]:
        row["crop"] = {"camelina_seed": "sunflower_seed"}.get(row["crop"], row["crop"])
    lines = run("bin", write_sheets(sheets, tmp_path / "book")).stdout.splitlines()
    assert max(map(len, lines)) <= WIDTH
    found = [line for line in lines if line.startswith("  Sunflower seed")]
    assert found and all(line.count("±") == 2 for line in found)


@pytest.mark.slow
def test_every_reason_to_ask_is_on_the_first_screen(run, ten_groups):
    """Each kind of reason once: of those that differ by their numbers alone the worst stands for all."""
    rations = json.loads(run("ration", ten_groups, "--bin", "north", "--format", "json").stdout)["rations"]
    text = run("ration", ten_groups, "--bin", "north").stdout
    asked = [reason for ration in rations for reason in ration["verdict"]["reasons"] if reason["verdict"] != "feed"]
    assert asked
    for reason in asked:
        assert reason["text"].split(" is ")[0] in " ".join(text.split()), reason["text"]
    for ration in rations:
        mark = {"feed": "feed", "ask": "ASK", "stop": "STOP"}[ration["verdict"]["verdict"]]
        assert f"{mark} " in text and f"{ration['cost_per_tonne']:.2f}" in text


@pytest.mark.slow
@pytest.mark.parametrize("command", ["ration", "sheets"])
@pytest.mark.parametrize(
    ("mass", "groups", "words"),
    [
        ("1 t", True, "Short of north: 1 t there, "),
        ("50 kg", False, "Short of north: 50 kg there, 440 kg wanted."),
        ("5000 t", True, ""),
    ],
)
def test_a_bin_that_holds_too_little_is_told(run, tmp_path, command, mass, groups, words):
    """What the groups want of it, or one batch takes, is more than there is: a farm must see it at once."""
    sheets = read_sheets(DEMO)
    sheets["bins"][0]["mass"] = mass
    if not groups:
        sheets["groups"] = []
    book = write_sheets(sheets, tmp_path / "book")
    more = ["-o", tmp_path / "mix.csv"] if command == "sheets" else []
    text = " ".join(run(command, book, "--stage", "sw_gro_25_50", "--bin", "north", *more).stdout.split())
    assert ("Short of" in text) is bool(words) and words in text, text


@pytest.mark.slow
def test_what_must_not_be_fed_says_each_thing_once_and_nothing_that_is_not_so(run, tmp_path):
    """Three offers and a premix that breaks the law of the EU: what is missed, what conflicts, what would mend it."""
    sheets = read_sheets()
    none = {name: [] for name in ("herd", "arrivals", "lots", "actual", "signed")}
    few = [row for row in sheets["supplements"] if row["offer"] in ("corn_bought", "limestone", "salt")]
    poor = write_sheets(sheets | none | {"supplements": few}, tmp_path / "poor")
    told = " ".join(run("ration", poor, "--stage", "sw_gro_25_50", "--bin", "north", code=3).stdout.split())
    assert "met on average" not in told and "held up" not in told
    assert re.search(r"what would help most, not on offer today: [A-Z][\w ,]*(meal|Peas|beans)", told), told
    for row in sheets["farm"]:
        row["value"] = "eu" if row["setting"] == "jurisdiction" else row["value"]
    abroad = write_sheets(sheets | none, tmp_path / "abroad")
    told = " ".join(run("ration", abroad, "--stage", "sw_gro_25_50", "--bin", "north", code=3).stdout.split())
    assert told.count("one full dose of") == 1 and "these conflict" not in told
    assert "(per kg)" not in told and "others" in told


@pytest.mark.slow
def test_full_prints_more(run, two_groups):
    first, full = run("bin", two_groups).stdout, run("bin", two_groups, "--full").stdout
    assert len(full.splitlines()) > 3 * len(first.splitlines())
    assert "Hand sort %" in full and "--full" in first


@pytest.mark.slow
def test_a_pager_shows_all_of_it_on_a_terminal(run, two_groups, monkeypatch):
    from rationlp.cli import options

    shown = []
    monkeypatch.setattr(options.click, "echo_via_pager", shown.append)
    monkeypatch.setattr(options, "_is_terminal", lambda: True)
    done = run("bin", two_groups, "--bin", "north", "--full")
    assert done.stdout == "" and "Hand sort %" in shown[0]


def test_help_by_its_short_name(run):
    assert run("ration", "-h").stdout == run("ration", "--help").stdout


@pytest.fixture(scope="module")
def sampled_again(tmp_path_factory):
    """The demo farm with a second sample of the north bin, richer in chickpeas."""
    sheets = read_sheets()
    (first,) = (row for row in sheets["samples"] if row["sample"] == "n1")
    sheets["samples"].append(first | {"sample": "n2", "taken_on": "2025-12-01", "sorted_mass_g": ""})
    sheaves = [row for row in sheets["sorted"] if row["sample"] == first["sample"]]
    more = {"chickpea_desi": 1.6}
    sheets["sorted"] += [
        row | {"sample": "n2", "mass_g": round(float(row["mass_g"]) * more.get(row["crop"], 1), 1)} for row in sheaves
    ]
    return write_sheets(sheets, tmp_path_factory.mktemp("again") / "farm"), first["sample"]


@pytest.mark.long
def test_all_groups_of_the_demo_after_a_new_sample(run, sampled_again):
    book, first = sampled_again
    done = run("resample", book, "--before", first, "--after", "n2")
    lines = done.stdout.splitlines()
    assert len(lines) <= LINES and max(map(len, lines)) <= WIDTH
    again = json.loads(run("resample", book, "--before", first, "--after", "n2", "--format", "json").stdout)
    text = " ".join(done.stdout.split())
    for change in again["rations"]:
        assert f"{change['stage']} {change['bin']}" in text


@pytest.mark.long
def test_concentrates_of_ten_groups_fit_a_screen_with_every_reason(run, ten_groups):
    lines = run("ration", ten_groups, "--concentrate").stdout.splitlines()
    assert len(lines) <= LINES and max(map(len, lines)) <= WIDTH
    letters = {line.split()[0] for line in lines if "ASK:" in line or "STOP:" in line}
    assert letters and any(f"ASK {letter}" in line for letter in letters for line in lines)


@pytest.mark.slow
def test_a_concentrate_says_what_is_in_it_and_whom_to_ask(run, two_groups):
    text = run("ration", two_groups, "--concentrate", "--shared", "--bin", "north").stdout
    assert "In 1: " in text and "nutritionist" in text and "may be fed after review" in text
    full = run("ration", two_groups, "--concentrate", "--shared", "--bin", "north", "--full").stdout
    assert "Fed daily" in full and "Cautions" in full


@pytest.mark.long
def test_all_rations_of_the_demo_stand_on_a_screen_with_their_chance(run):
    lines = run("ration", DEMO).stdout.splitlines()
    assert len(lines) <= 50 and max(map(len, lines)) <= WIDTH
    assert any(line.startswith("Chance that every requirement") for line in lines)
    (hen,) = [line for line in lines if line.startswith("hen_peak ")]
    assert "north" in hen and "south" in hen


@pytest.mark.slow
def test_very_many_problems_are_told_by_sheet(run, write_book):
    groups = [{"group": f"g{number}", "stage": "no such animal", "head": "many"} for number in range(60)]
    bins = [{"bin": "north", "mass": "heavy"}]
    book = write_book({"groups": groups, "bins": bins})
    lines = run("check", book, code=1).stdout.splitlines()
    assert len(lines) <= LINES and max(map(len, lines)) <= WIDTH
    assert any(line.startswith("groups: 1") or line.startswith("groups: 6") for line in lines), lines
    assert any("heavy" in line for line in lines)
    full = run("check", book, "--full", code=1).stdout
    assert len(full.splitlines()) > 100


@pytest.mark.slow
def test_a_year_in_us_units_fits_the_width(run, us_farm):
    """Short tons take more room than tonnes."""
    lines = run("year", us_farm).stdout.splitlines()
    assert any(line.startswith("The bins") for line in lines)
    assert max(map(len, lines)) <= WIDTH


@pytest.mark.slow
def test_grain_that_stays_out_or_ends_and_a_dear_amount_are_told(run, tmp_path):
    """Told and not asked about, these stood in the tables alone: `0 %` was all that the first screen had of it."""
    sheets = dict(read_sheets(DEMO))
    for row in sheets["bins"]:
        row |= {"sale_price": "260"} if row["bin"] == "north" else {"mass": "5 t", "diameter": "", "wall_depth": ""}
        row |= {"peak_height": "", "test_weight": ""}
    for row in sheets["groups"]:
        row |= {"feed_per_head_per_day": "2.27"} if row["stage"] == "sw_gest_p2_early" else {}
    book = write_sheets(sheets, tmp_path / "book")
    text = " ".join(run("ration", book, "--stage", "sw_gro_25_50", "--bin", "north").stdout.split())
    assert "sw_gro_25_50 north: No home-grown grain is in this mix. North bin (mill yard) comes in below about" in text
    text = " ".join(run("ration", book, "--stage", "sw_gest_p2_early", "--bin", "south").stdout.split())
    assert text.count("Short of south: 5 t there") == 1 and "of South bin (hill field); there is" not in text
    assert "The book states 2.27 kg per head and day" in text
    farm = [row | {"value": "us"} if row["setting"] == "units" else row for row in sheets["farm"]]
    book = write_sheets({**sheets, "farm": farm}, tmp_path / "us")
    whole = run("ration", book, "--stage", "sw_gro_25_50", "--bin", "north", "--full").stdout
    assert "comes in below about" in whole and "USD per tonne" not in whole


@pytest.mark.slow
def test_what_a_ration_costs_more_without_an_offer_is_of_as_much_energy(run, ten_groups):
    """Hens eat by energy: a mix without soybean meal is cheaper by the tonne and dearer to feed."""
    asked = ("offers", ten_groups, "--stage", "hen_brown_110", "--bin", "north")
    answer = json.loads(run(*asked, "--format", "json").stdout)
    text = run(*asked).stdout
    inside = [line for line in answer["offers"] if line["in_mix"] and line["saves_per_tonne"] is not None]
    assert len(inside) > 3
    for line in inside:
        (row,) = [words for words in text.splitlines() if words.startswith(f"{line['offer']} ")]
        assert f"+{line['saves_per_tonne']:.2f}" in row


@pytest.mark.slow
def test_a_price_that_nobody_asks_is_no_end_of_a_mix(run):
    """`up to 2,611,855` for a premix: what nobody asks is no end, and nothing is told of what comes above it."""
    lines = run("offers", DEMO, "--stage", "hen_peak", "--bin", "north").stdout.splitlines()
    start = next(number for number, line in enumerate(lines) if "above that more of" in line)
    rows = [line for line in lines[start + 1 :] if line[:1].islower() and "%" not in line]
    endless = [row for row in rows if "and up" in row or "any price" in row]
    assert endless and not any(re.search(r"\d,\d{3},\d{3}", row) for row in rows)
    assert all(re.search(r"(no ration|\+\S+)$", row) for row in endless)


@pytest.mark.slow
def test_of_few_rations_no_feed_alone_is_said_to_fix_what_has_no_premix(run, tmp_path):
    """Without a premix no feed mends a ration, whatever else it lacks."""
    sheets = read_sheets()
    gone = ("canola_oil", "corn_bought", "premix_layers", "premix_young_birds")
    sheets["supplements"] = [row for row in sheets["supplements"] if row["offer"] not in gone]
    done = run("ration", write_sheets(sheets, tmp_path / "farm"), "--stage", "broiler_0_3")
    text = " ".join(done.stdout.split())
    assert "No premix is on offer" in text and "conflict" in text
    assert "What would fix it" not in text


@pytest.mark.slow
def test_of_many_rations_one_to_ask_about_says_what_would_fix_it(run, tmp_path):
    """Dry sows want bulk that nothing on offer brings: the first screen names what would."""
    sheets, bulk = read_sheets(DEMO), ("bran", "alfalfa", "canola_meal")
    sheets["supplements"] = [row for row in sheets["supplements"] if row["offer"] not in bulk]
    text = " ".join(run("ration", write_sheets(sheets, tmp_path / "book"), "--bin", "north").stdout.split())
    assert re.search(r"sw_gest_p2_early north: these conflict: .*Crude fibre at least 5 %.* would fix it\.", text)
