"""A mix that was made is found again by bin, stage, sample and date."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest
from kept_mixes import keep

from rationlp.book import check_book, new_book
from rationlp.farm import Farm
from rationlp.files import record_of
from rationlp.ledger.kept import find, record_for
from rationlp.ledger.weighed import SheetName, weighed_mix
from rationlp.rations.answer.ids import book_version, ration_id
from rationlp.rations.formulate import formulate

DAY = date(2025, 10, 6)


@pytest.mark.slow
def test_a_mix_comes_back_as_it_was_kept(at_home, grower):
    kept = keep(grower, at_home, DAY, sheet="sw_gro_25_50 north")
    assert record_of(at_home.path).exists()
    (mix,) = find(at_home)
    assert mix == kept
    assert mix.shares == {line.offer: line.share for line in grower.mix if line.share}
    assert (mix.stage, mix.bin, mix.samples, mix.made_on) == ("sw_gro_25_50", "north", ("n1",), DAY)
    assert (mix.id, mix.book_version) == (ration_id(grower, at_home), book_version(at_home))
    assert (mix.sheet, mix.origin) == ("sw_gro_25_50 north", "mix sheet")
    assert mix.cost_per_tonne == grower.cost_per_tonne
    assert next(part for part in mix.parts if part.offer == "north").home_grown


@pytest.mark.slow
def test_it_is_found_by_bin_stage_sample_and_date(at_home, library):
    for ration in formulate(Farm(at_home, library), ["sw_gro_25_50", "sw_boar"]):
        keep(ration, at_home, DAY)
    late = date(2025, 12, 1)
    keep(formulate(Farm(at_home, library), ["sw_boar"], ["south"])[0], at_home, late)
    assert len(find(at_home)) == 5
    assert {mix.bin for mix in find(at_home, bin="south")} == {"south"}
    assert {mix.stage for mix in find(at_home, stage="sw_boar")} == {"sw_boar"}
    assert {mix.bin for mix in find(at_home, sample="n1")} == {"north"}
    assert find(at_home, sample="n1", stage="sw_boar", bin="south") == []
    assert [mix.made_on for mix in find(at_home, bin="south", stage="sw_boar")] == [late, DAY]
    assert [mix.made_on for mix in find(at_home, bin="south", stage="sw_boar", on=date(2025, 11, 1))] == [DAY]
    assert find(at_home, on=date(2025, 10, 5)) == []


@pytest.mark.slow
def test_a_mix_from_bins_together_is_found_by_either(at_home, library):
    keep(formulate(Farm(at_home, library), ["sw_boar"], together=True)[0], at_home, DAY)
    (mix,) = find(at_home, bin="south")
    assert mix.bins == ("north", "south")
    assert mix.samples == ("n1", "s1")
    assert find(at_home, bin="north") == [mix]


def test_the_same_mix_kept_twice_is_one_mix(at_home, grower):
    keep(grower, at_home, DAY)
    keep(grower, at_home, DAY)
    assert len(find(at_home)) == 1
    keep(grower, at_home, date(2025, 10, 7))
    assert len(find(at_home)) == 2


def test_names_that_no_file_can_have_are_kept_all_the_same(at_home, grower):
    odd = replace(grower, bins=("north/east: #1",), stage="my stage?")
    keep(odd, at_home, DAY)
    (mix,) = find(at_home)
    assert (mix.bin, mix.stage) == (odd.bin, odd.stage)


FORM_2 = {
    "form": 2,
    "id": "7KQ4-M2XD",
    "stage": "sw_boar",
    "stage_label": "Boar",
    "bins": ["north"],
    "samples": ["n1"],
    "made_on": "2025-10-06",
    "origin": "mix sheet",
    "sheet": "sw_boar north",
    "book_version": "0000-0000",
    "parts": [{"offer": "north", "feed": "bin:north", "label": "North", "share": 1.0, "price_per_tonne": 182.0}],
}
"""A mix as versions before the record kept it, one file each in the folder BOOK.mixes."""


def test_what_an_earlier_version_kept_is_taken_over_once(at_home):
    """One file that cannot be read stopped `offers` and `resample` altogether."""
    folder = at_home.path.with_name(f"{at_home.path.stem}.mixes")
    folder.mkdir()
    old_form = {key: value for key, value in FORM_2.items() if key != "bins"} | {"bin": "north", "form": 1, "id": "A"}
    (folder / "a.json").write_text(json.dumps(FORM_2))
    (folder / "b.json").write_text(json.dumps(old_form | {"cost_per_tonne": 182.0}))
    for name, text in (("c", ""), ("d", "null"), ("e", "[]"), ("f", json.dumps(FORM_2 | {"form": 99}))):
        (folder / f"{name}.json").write_text(text)
    record = record_for(at_home)
    assert {problem.cell for problem in record.damaged} == {"c.json", "d.json", "e.json", "f.json"}
    assert {mix.id for mix in find(at_home)} == {"7KQ4-M2XD", "A"}
    (folder / "g.json").write_text(json.dumps(FORM_2 | {"id": "B"}))
    assert len(find(at_home)) == 2


@pytest.mark.slow
def test_the_book_does_not_mind_the_folder_beside_it(tmp_path, library, grower):
    for name in ("farm.xlsx", "farm"):
        path = new_book(tmp_path / name, demo=True)
        before = check_book(path, library)
        from rationlp.book import read_book

        book = read_book(path, library.units)
        keep(grower, book, DAY)
        assert check_book(path, library) == before
        assert len(find(book)) == 1


def test_what_the_crew_weighed_is_a_mix(at_home):
    grower, kg = SheetName("sw_gro_25_50", ("north",)), {"north": 450.0, "soy48_bulk": 45.0, "molasses": 5.0}
    mix = weighed_mix(grower, "Grower", DAY, kg, at_home)
    assert mix.shares == pytest.approx({"north": 0.9, "soy48_bulk": 0.09, "molasses": 0.01})
    assert mix.samples == ("n1",)
    assert mix.cost_per_tonne == pytest.approx(0.9 * 182 + 0.09 * 389)
    assert weighed_mix(SheetName("s", ("north",)), "S", DAY, {"north": 0.0}, at_home).shares == {}
