"""How large a batch is and how many there are."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from rationlp.errors import InputError
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.reasons import Kind, Severity
from rationlp.sheets.batches import (
    Run,
    equal_batches,
    ground_density,
    mix_density,
    plan,
    wanted_stages,
)
from rationlp.sheets.model import NoSheet
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest, read_request
from rationlp.sheets.weights.even import even_mass
from rationlp.sheets.weights.scale import farm_scale
from rationlp.show.first.sheets import print_first
from rationlp.units import KG_PER_LB, M_PER_FT


def planned(book, library, request, stage="sw_gro_25_50"):
    (recipe,) = solve_rations(Farm(book, library), [stage], ["north"])
    return plan(recipe, farm_scale(book.farm), request), recipe


def test_the_book_says_how_large(demo_book, library):
    found, _ = planned(demo_book, library, SheetRequest())
    assert found.runs == (Run(Fraction(500), 1),)


def test_never_more_than_the_mixer_holds(demo_book, library):
    found, _ = planned(demo_book, library, SheetRequest(batch_kg=5000))
    assert found.runs[0].size == 600
    assert any("what the mixer holds" in note for note in found.notes)


def test_as_much_as_the_mixer_holds(demo_book, library):
    found, _ = planned(demo_book, library, SheetRequest(full_mixer=True))
    assert found.runs[0].size == 600


def test_mixer_by_volume(demo_book, library):
    """A cubic metre at 90 %: the mass is the bulk density of the ground mix times that."""
    found, recipe = planned(demo_book, library, SheetRequest(full_mixer=True, mixer_m3=0.8))
    parts = [(share, c.feeds) for share, c in zip(recipe.column_shares, recipe.formula.candidates, strict=True)]
    density, unknown = mix_density(parts, library)
    assert unknown in ([], ["foreign_matter"])
    assert found.runs[0].size == int(0.8 * 0.9 * density)
    assert found.volume_m3 == pytest.approx(0.72, abs=0.002)


@pytest.mark.parametrize(("mixer_m3", "told"), [(3.0, 1), (1.2, 0)])
def test_a_mixer_that_is_too_empty_to_mix(demo_book, library, mixer_m3, told):
    """500 kg take 0.7 to 1 m3: less than half of 3, more than half of 1.2."""
    found, _ = planned(demo_book, library, SheetRequest(mixer_m3=mixer_m3))
    assert 0.7 < found.volume_m3 < 1
    notes = [note for note in found.notes if "% of the mixer" in note]
    assert len(notes) == told
    if told:
        assert notes[0].startswith(f"This batch fills only {100 * found.volume_m3 / 3:.0f} % of the mixer;")


def test_density_of_a_mix_is_between_those_of_its_feeds(library):
    corn, meal = ground_density("corn", library), ground_density("soybean_meal_48_dehulled_solvent", library)
    assert corn == pytest.approx(620), "FAO: ground maize 0.60 to 0.64 t/m3"
    assert meal == pytest.approx(660), "FAO: 50 % extracted meal 0.65 to 0.67 t/m3"
    half, _ = mix_density([(0.5, {"corn": 1.0}), (0.5, {"soybean_meal_48_dehulled_solvent": 1.0})], library)
    assert half == pytest.approx(2 / (1 / corn + 1 / meal))


def test_no_density_for_a_feed_nobody_knows(library):
    density, unknown = mix_density([(0.9, {"corn": 1.0}), (0.1, {"moon_dust": 1.0})], library)
    assert density is None and unknown == ["moon_dust"]


def test_equal_batches_and_a_smaller_last_one():
    assert equal_batches(Fraction(1234), Fraction(500), Fraction(1)) == (Run(Fraction(412), 2), Run(Fraction(410), 1))
    assert equal_batches(Fraction(1000), Fraction(500), Fraction(1)) == (Run(Fraction(500), 2),)
    assert equal_batches(Fraction(3), Fraction(500), Fraction(1)) == (Run(Fraction(3), 1),)


def test_equal_batches_always_add_up():
    rng = random.Random(3)
    for _ in range(2000):
        step = Fraction(rng.choice(["0.5", "1", "2", "5"]))
        total, largest = rng.randint(1, 4000) * step, rng.randint(1, 400) * step
        runs = equal_batches(total, largest, step)
        assert sum(run.size * run.count for run in runs) == total
        assert all(run.size <= largest and run.size % step == 0 for run in runs)
        assert len(runs) == 1 or (runs[1].count == 1 and runs[1].size < runs[0].size)


@pytest.mark.slow
def test_a_weeks_feed_of_a_group(demo_book, library):
    """60 weaners for a week: head times the day's feed times the days, in batches the mixer holds, to 5 kg: then the
    premix is a whole number of divisions of the hand scale."""
    request = read_request(demo_book, groups=["weaners"], days=7)
    pack = make_pack(Farm(demo_book, library), request, bins=["north"])
    assert {sheet.stage for sheet in pack.sheets} == {"sw_nur_11_25"}
    total = sum(sheet.batch * sheet.count for sheet in pack.sheets)
    (recipe,) = solve_rations(Farm(demo_book, library), ["sw_nur_11_25"], ["north"])
    needed = 60 * 7 * recipe.ration.feed_kg_per_head_per_day
    assert needed <= total < needed + 5


def test_only_groups_fed_that_day_count(demo_book, library):
    on_feed, _ = planned(demo_book, library, SheetRequest(days=7, on=date(2025, 11, 20)))
    off_feed, _ = planned(demo_book, library, SheetRequest(days=7, on=date(2026, 6, 1)))
    assert sum(run.size * run.count for run in on_feed.runs) != off_feed.runs[0].size
    assert off_feed.runs == (Run(Fraction(500), 1),) and any("No group" in note for note in off_feed.notes)


def test_more_batches_than_boxes_go_on_further_pages(demo_book, library):
    pack = make_pack(Farm(demo_book, library), SheetRequest(count=14), ["sw_boar"], ["north"])
    assert [(sheet.name, sheet.count, sheet.first_batch) for sheet in pack.sheets] == [
        ("sw_boar north", 4, 1),
        ("sw_boar north p2", 4, 5),
        ("sw_boar north p3", 4, 9),
        ("sw_boar north p4", 2, 13),
    ]
    labels = [sheet.batch_id(number) for sheet in pack.sheets for number in range(1, sheet.count + 1)]
    assert labels == [f"{pack.sheets[0].id} #{number}" for number in range(1, 15)]


def test_words_of_the_command_line(demo_book):
    us = replace(demo_book, farm=replace(demo_book.farm, units="us"))
    assert read_request(us, batch="2000").batch_kg == pytest.approx(2000 * KG_PER_LB)
    assert read_request(demo_book, batch="1.5 t").batch_kg == 1500
    assert read_request(us, mixer_volume="40").mixer_m3 == pytest.approx(40 * M_PER_FT**3)
    assert read_request(demo_book, mixer_volume="900 l").mixer_m3 == pytest.approx(0.9)
    assert read_request(demo_book, batch="Mixer").full_mixer


def test_every_fault_of_the_command_line_at_once(demo_book):
    with pytest.raises(InputError) as caught:
        read_request(demo_book, "5x", "-1 m3", 1, ["nobody"], None, "tomorrow")
    assert [problem.sheet for problem in caught.value.problems] == ["batch", "mixer_volume", "group", "on"]


def test_a_full_mixer_nobody_knows_the_size_of(demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, mixer_capacity_kg=None))
    with pytest.raises(InputError, match="mixer_capacity"):
        planned(book, library, SheetRequest(full_mixer=True))


def test_a_batch_below_one_step(demo_book, library):
    with pytest.raises(InputError, match="at least one division"):
        planned(demo_book, library, SheetRequest(batch_kg=0.2))


def test_only_groups_fed_that_day_have_sheets(demo_book):
    """Audit D8 and D6: full batches were printed for broilers and turkeys that come months later."""
    fed = wanted_stages(demo_book, SheetRequest(days=7, on=date(2025, 11, 20)))
    assert fed == [
        "sw_gro_25_50", "sw_gest_p2_early", "sw_gest_p2_late", "sw_lact_p2_230", "sw_boar", "hen_peak", "hen_brown_110"
    ]  # fmt: skip
    assert wanted_stages(demo_book, SheetRequest()) == [], "nothing narrows it down"
    assert wanted_stages(demo_book, SheetRequest(on=date(2025, 11, 20)), ["turkey_4_8"]) == ["turkey_4_8"]


def test_a_group_that_is_not_there_is_told(demo_book):
    for request in (SheetRequest(groups=("turkeys",), on=date(2025, 11, 20)), SheetRequest(on=date(2030, 1, 1))):
        with pytest.raises(InputError, match=r"a day (when it is fed: from 2026-08-03 to 2026-08-30|on which a group)"):
            wanted_stages(demo_book, request)


@pytest.mark.slow
def test_each_group_is_bought_for_once(demo_book, library):
    """Audit D8: the sheets from both bins counted for the same pigs."""
    pack = make_pack(Farm(demo_book, library), SheetRequest(), ["sw_boar"])
    assert len(pack.sheets) == 2 and sorted(pack.batches.values()) == [0, 1]
    (counted,) = [sheet for sheet in pack.sheets if sheet.counts]
    assert counted.ration.cost_per_tonne == min(sheet.ration.cost_per_tonne for sheet in pack.sheets)
    needed = sum(line.needed(pack.batches) for line in pack.purchases)
    assert needed == counted.batch


@pytest.mark.slow
def test_a_us_book_speaks_pounds_and_feet(demo_book, library):
    """Audit D4: "22 head x 2.27 kg a day", "59 ft3, at 542 kg/m3"."""
    us = replace(demo_book, farm=replace(demo_book.farm, units="us"))
    request = SheetRequest(days=7, on=date(2025, 11, 20), mixer_m3=2.0)
    pack = make_pack(Farm(us, library), request, ["sw_boar"], ["north"])
    (sheet,) = pack.sheets
    words = " ".join((*sheet.notes, *sheet.hints, *sheet.eaters))
    assert "lb per day" in words and "lb/ft3" in words and "ft3" in words
    assert " kg" not in words and "m3" not in words


def test_a_batch_for_days_is_as_large_as_makes_the_doses_of_premix_whole(demo_book, library):
    """Feed for three days of weaners, 173 kg: 0.4 % of premix is 692 g, which a hand scale of 10 g does not show. Less
    is under the dose and more is over the legal maximum of selenium, so the batch is 175 kg."""
    (recipe,) = solve_rations(Farm(demo_book, library), ["sw_nur_11_25"], ["north"])
    scale = farm_scale(demo_book.farm)
    assert even_mass(recipe, scale) == 5, "0.01 kg / 0.004 is 2.5 kg; the mixer scale shows whole kilograms"
    found = plan(recipe, scale, SheetRequest(days=3))
    assert found.runs[0].size % 5 == 0
    assert any("whole number of divisions of the hand scale" in note for note in found.notes)


@pytest.mark.parametrize(("asked", "size"), [(SheetRequest(batch_kg=173), 173), (SheetRequest(), 500)])
def test_a_batch_asked_for_by_mass_stays(demo_book, library, asked, size):
    assert planned(demo_book, library, asked, "sw_nur_11_25")[0].runs[0].size == size


def test_no_batch_of_more_than_twice_what_the_days_take(demo_book, library):
    coarse = replace(demo_book, farm=replace(demo_book.farm, hand_scale_step_kg=1.0))
    found, recipe = planned(coarse, library, SheetRequest(days=1), "sw_nur_11_25")
    assert even_mass(recipe, farm_scale(coarse.farm)) == 250
    assert found.runs[0].size % 250


@pytest.mark.slow
def test_a_dose_that_the_scale_does_not_show_names_the_batches_that_have_it_whole(demo_book, library):
    """0.4 % of 26 kg are 104 g, of 173 kg 692 g, of 3 kg 12 g; the hand scale shows 10 g. By 2 % or less it is told, by
    5 % or less asked about."""
    words = "Mix {} kg: the premix is then a whole number of divisions of the hand scale."
    for batch, sizes, severity in ((26, "25 or 30", Severity.ASK), (173, "170 or 175", Severity.FEED)):
        pack = make_pack(Farm(demo_book, library), SheetRequest(batch_kg=batch), ["sw_nur_11_25"], ["north"])
        told = pack.sheets[0].ration.verdict.of(Kind.PREMIX)
        assert any(r.text.endswith(words.format(sizes)) and r.severity is severity for r in told), told
    pack = make_pack(Farm(demo_book, library), SheetRequest(batch_kg=3), ["sw_boar"], ["north"])
    assert [reason for reason in pack.unmade[0].reasons if reason.endswith(words.format(5))] == [words.format(5)]


def test_a_ration_that_no_weights_keep_is_not_counted_among_the_sheets(demo_book, library, capsys):
    """`1 mix sheet: 1 may be fed after review` stood above one that could not be written."""
    pack = make_pack(Farm(demo_book, library), SheetRequest(), ["sw_boar"], ["north"])
    (sheet,) = pack.sheets
    names = {
        name: getattr(sheet, name) for name in ("name", "id", "book_version", "farm", "stage", "stage_label", "bin")
    }
    absent = NoSheet(**names, reasons=("No weights keep its caps.",), ration=sheet.ration)
    for sheets, words in (((), "1 without a sheet: why stands below."), ((sheet,), "1 mix sheet: 1 may be fed")):
        print_first(replace(pack, sheets=sheets, unmade=(absent,)), Path("mix.xlsx"))
        text = capsys.readouterr().out
        told = " ".join(text.split())
        assert words in told and "1 without a sheet" in told and "2 mix sheets" not in told
        (row,) = (line for line in text.splitlines() if line.endswith("no sheet"))
        assert "feed" not in row
