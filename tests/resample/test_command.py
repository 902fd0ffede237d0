"""`rationlp resample` as a person or a program meets it."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path

import pytest
from command_line import run as rationlp
from kept_mixes import keep
from openpyxl import load_workbook

from rationlp.book.reading.read import read_book
from rationlp.farm import Farm
from rationlp.ledger.kept import find
from rationlp.rations.formulate import formulate

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo" / "stillwater_bend"
NEW = {
    "samples.csv": ["n2,north,2025-11-20,8,,Second sample (invented)"],
    "sorted.csv": [
        "n2,triticale,300",
        "n2,oats_naked,114",
        "n2,faba_low_tannin,25",
        "n2,chickpea_desi,40",
        "n2,camelina_seed,15",
        "n2,foreign_matter,8",
    ],
    "assays.csv": ["n2,crude_protein,12.9,%,as_fed,combustion,0.25"],
}


@pytest.fixture
def farm(tmp_path):
    """The demo book as a folder, with a second sample of the north bin."""
    folder = tmp_path / "farm"
    shutil.copytree(DEMO, folder)
    for name, lines in NEW.items():
        with (folder / name).open("a", encoding="utf-8") as file:
            file.writelines(f"{line}\n" for line in lines)
    return folder


ASK = ("--before", "n1", "--after", "n2", "--stage", "sw_gro_25_50", "--stage", "sw_boar")


@pytest.mark.slow
def test_json_says_what_a_program_needs(farm):
    done = rationlp("resample", farm, *ASK, "--format", "json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["more_than_chance"]
    assert {crop["crop"] for crop in found["crops"]} >= {"triticale", "camelina_seed"}
    assert all(line.keys() >= {"before", "after", "change", "sd", "more_than_chance"} for line in found["nutrients"])
    assert [ration["stage"] for ration in found["rations"]] == ["sw_gro_25_50", "sw_boar"]
    for ration in found["rations"]:
        for name in ("old_mix_then", "old_mix_now", "new_mix", "smallest_change"):
            at = ration[name]
            assert sum(at["mix"].values()) == pytest.approx(1)
            assert 0 <= at["chance_pct"] <= 100
            assert at["home_grown_share"] > 0.5
        assert ration["reprint"] == (not ration["holds"])
    assert {row["stage"] for row in found["reprint"]} == {r["stage"] for r in found["rations"] if r["reprint"]}


@pytest.mark.slow
def test_text_csv_and_workbook(farm, tmp_path):
    place = tmp_path / "changes.xlsx"
    text = rationlp("resample", farm, *ASK, "-o", place, "--full")
    assert text.returncode == 0, text.stderr
    for words in (
        "moved by more than chance",
        "Print again:",
        "Smallest change",
        "Home-grown",
        "No mix was kept",
        "nutritionist",
    ):
        assert words in text.stdout, words
    assert load_workbook(place).sheetnames == ["resample n1 n2"]
    rows = list(csv.DictReader(io.StringIO(rationlp("resample", farm, *ASK, "--format", "csv").stdout)))
    grower = [row for row in rows if row["stage"] == "sw_gro_25_50"]
    for column in ("old_share", "new_share", "smallest_change_share"):
        assert sum(float(row[column]) for row in grower) == pytest.approx(1)


@pytest.mark.slow
def test_without_names_the_two_newest_samples_of_a_bin_are_compared(farm):
    text = rationlp("resample", farm, "--stage", "sw_boar").stdout
    assert text.startswith("Bin north: sample n1, then n2.")
    one = rationlp("resample", farm, "--before", "n1")
    assert one.returncode == 2 and "Name both samples" in one.stderr
    with (farm / "samples.csv").open("a", encoding="utf-8") as file:
        file.write("s2,south,2025-11-20,8,,Second sample (invented)\n")
    with (farm / "sorted.csv").open("a", encoding="utf-8") as file:
        file.writelines(f"s2,{crop},{mass}\n" for crop, mass in (("triticale", 400), ("chickpea_desi", 30)))
    two = rationlp("resample", farm)
    assert two.returncode == 2 and "--before n1 --after n2 or --before s1 --after s2" in two.stderr


@pytest.mark.slow
def test_a_new_mix_dearer_by_the_tonne_says_why(farm):
    """Rations are least in cost per unit of energy: a least change can be poorer and cheaper by the tonne."""
    asked = ("resample", farm, "--before", "n0", "--after", "n1", "--stage", "sw_lact_p2_230")
    (change,) = json.loads(rationlp(*asked, "--format", "json").stdout)["rations"]
    dearer = change["new_mix"]["cost_per_tonne"] > change["smallest_change"]["cost_per_tonne"]
    assert dearer is ("holds more energy" in " ".join(rationlp(*asked).stdout.split()))


@pytest.mark.slow
def test_the_mix_kept_beside_the_book_is_the_old_mix(farm, library):
    book = read_book(farm, library.units)
    (ration,) = formulate(Farm(book, library), ["sw_gro_25_50"], ["north"])
    keep(ration, book, book.samples[0].taken_on, sheet="grower sheet", samples=("n1",))
    assert len(find(book)) == 1
    found = json.loads(rationlp("resample", farm, *ASK, "--format", "json").stdout)
    grower, boar = found["rations"]
    assert grower["old_mix_from"].startswith("mix sheet")
    assert grower["sheet"] == "grower sheet"
    assert boar["old_mix_from"] == "calculated from the old sample"
    text = rationlp("offers", farm, "--stage", "sw_gro_25_50", "--bin", "north", "--full")
    assert text.returncode == 0, text.stderr


@pytest.mark.slow
def test_what_the_crew_weighed_is_the_old_mix(farm, library):
    book = read_book(farm, library.units)
    (ration,) = formulate(Farm(book, library), ["sw_gro_25_50"], ["north"])
    lines = [
        f"sw_gro_25_50 north,2025-10-20,,{line.offer},,{500 * line.share:.2f},"
        for line in ration.mix
        if line.share > 1e-4
    ]
    with (farm / "actual.csv").open("a", encoding="utf-8") as file:
        file.writelines(f"{line}\n" for line in lines)
    done = rationlp("resample", farm, *ASK, "--format", "json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["rations"][0]["old_mix_from"].startswith("weighed by the crew")


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--before", "n1"), 2, "--after"),
        (("--before", "n1", "--after", "n7"), 2, "n7"),
        (("--before", "n1", "--after", "s1"), 2, "one bin"),
        ((*ASK, "-o", "changes.txt"), 2, ".xlsx"),
        (("--before", "n1", "--after", "n2", "--stage", "nobody"), 2, "nobody"),
    ],
)
def test_mistakes_have_their_exit_code(farm, arguments, code, words):
    done = rationlp("resample", farm, *arguments)
    assert done.returncode == code, done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


@pytest.mark.slow
def test_a_ration_that_cannot_be_made_any_more_exits_3(farm):
    kept = [
        line
        for line in (farm / "supplements.csv").read_text().splitlines()
        if line.split(",")[0] in ("offer", "limestone", "salt", "premix_pigs")
    ]
    (farm / "supplements.csv").write_text("\n".join(kept) + "\n")
    done = rationlp("resample", farm, "--before", "n1", "--after", "n2", "--stage", "sw_gro_25_50")
    assert done.returncode == 3
    assert "no ration may be fed now" in done.stdout
