"""A mix that was made is found again by bin, stage, sample and date."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from datetime import date

import pytest

from rationlp.book import check_book, new_book
from rationlp.errors import InputError
from rationlp.farm import Farm
from rationlp.ledger.kept import find, folder_of, keep
from rationlp.ledger.weighed import weighed_mix
from rationlp.rations.answer.ids import book_version, ration_id
from rationlp.rations.formulate import formulate

DAY = date(2025, 10, 6)


def test_a_mix_comes_back_as_it_was_kept(at_home, grower):
    path = keep(grower, at_home, DAY, sheet="sw_gro_25_50 north")
    assert path.parent == at_home.path.with_name("farm.mixes")
    (mix,) = find(at_home)
    assert mix.shares == {line.offer: line.share for line in grower.mix if line.share}
    assert (mix.stage, mix.bin, mix.samples, mix.made_on) == ("sw_gro_25_50", "north", ("n1",), DAY)
    assert (mix.id, mix.book_version) == (ration_id(grower, at_home), book_version(at_home))
    assert (mix.sheet, mix.origin) == ("sw_gro_25_50 north", "mix sheet")
    assert mix.cost_per_tonne == grower.cost_per_tonne
    assert next(part for part in mix.parts if part.offer == "north").home_grown


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


def test_a_mix_from_bins_together_is_found_by_either(at_home, library):
    keep(formulate(Farm(at_home, library), ["sw_boar"], together=True)[0], at_home, DAY)
    (mix,) = find(at_home, bin="south")
    assert mix.bins == ("north", "south")
    assert mix.samples == ("n1", "s1")
    assert find(at_home, bin="north") == [mix]


def test_the_same_mix_kept_twice_is_one_file(at_home, grower):
    first, again = keep(grower, at_home, DAY), keep(grower, at_home, DAY)
    assert first == again
    assert len(list(folder_of(at_home).iterdir())) == 1
    keep(grower, at_home, date(2025, 10, 7))
    assert len(find(at_home)) == 2


def test_a_file_appears_whole_or_not_at_all(at_home, grower, monkeypatch):
    def full(*paths):
        raise OSError("no space left on device")

    monkeypatch.setattr("rationlp.files.os.replace", full)
    with pytest.raises(InputError, match="no space left"):
        keep(grower, at_home, DAY)
    assert list(folder_of(at_home).iterdir()) == []
    assert find(at_home) == []


def test_a_folder_that_cannot_be_written_is_told(at_home, grower):
    folder_of(at_home).write_text("in the way")
    with pytest.raises(InputError, match=r"farm\.mixes"):
        keep(grower, at_home, DAY)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda text: text[: len(text) // 2],
        lambda text: "",
        lambda text: "[]",
        lambda text: text.replace('"form": 2', '"form": 99'),
        lambda text: text.replace('"parts"', '"pieces"'),
        lambda text: json.dumps(json.loads(text) | {"made_on": "last week"}),
    ],
)
def test_files_that_cannot_be_read_are_all_told(at_home, grower, spoil):
    paths = [keep(grower, at_home, date(2025, 10, day)) for day in (6, 7)]
    for path in paths:
        path.write_text(spoil(path.read_text()))
    with pytest.raises(InputError) as refused:
        find(at_home)
    assert [problem.sheet for problem in refused.value.problems] == [path.name for path in paths]


def test_names_that_no_file_can_have_are_kept_all_the_same(at_home, grower):
    odd = replace(grower, bins=("north/east: #1",), stage="my stage?")
    path = keep(odd, at_home, DAY)
    assert os.sep not in path.name
    (mix,) = find(at_home)
    assert (mix.bin, mix.stage) == (odd.bin, odd.stage)


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
    mix = weighed_mix(
        "sw_gro_25_50", "Grower", ("north",), DAY, {"north": 450.0, "soy48_bulk": 45.0, "molasses": 5.0}, at_home
    )
    assert mix.shares == pytest.approx({"north": 0.9, "soy48_bulk": 0.09, "molasses": 0.01})
    assert mix.samples == ("n1",)
    assert mix.cost_per_tonne == pytest.approx(0.9 * 182 + 0.09 * 389)
    assert weighed_mix("s", "S", ("north",), DAY, {"north": 0.0}, at_home).shares == {}
