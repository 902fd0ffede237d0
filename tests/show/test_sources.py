"""Sources as people read them: short words in every sentence, ids only as the keys of tables that are told below."""

from __future__ import annotations

import re

import pytest
from random_farms import read_sheets, write_sheets

from rationlp.library.cited import cited, short_words
from rationlp.show.text.sources import print_sources

NOT_IDS = ("common practice", "bin_flow")
"""An id in words; one that is a word of the table of probes too."""


@pytest.fixture(scope="module")
def ids(library):
    found = sorted((name for name in library.sources if name not in NOT_IDS), key=len, reverse=True)
    return re.compile(rf"(?<![\w.])(?:{'|'.join(map(re.escape, found))})(?!\w)|\b(?:memory|rule|computed):(?=\S)")


def sentences(text):
    """What was printed without the rows of its tables, which part their columns by two spaces, and the last list."""
    body = re.split(r"\n-* ?Sources -*\n", text)[0]
    return "\n".join(line for line in body.splitlines() if not re.search(r"\S {2,}\S|^ {3,}\S", line))


def own_rows(sheets):
    """Rows of the farm's own that pass what the library allows, each told with the source of what it passes."""
    sheets["own_limits"] = [
        {"stage": "sw_gro_25_50", "feed": "faba_beans", "max_pct": "25"},
        {"stage": "all", "feed": "flaxseed", "max_pct": "99", "reason": "we like it much"},
    ]
    sheets["own_stages"] = [
        {"stage": "sw_gro_25_50", "nutrient": "selenium", "maximum": "2", "unit": "mg/kg", "per": "kg"},
        {"stage": "sw_gro_25_50", "nutrient": "vitamin_d3", "minimum": "900000", "unit": "IU/kg", "per": "kg"},
    ]
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] == "sw_gro_25_50"]
    sheets["groups"][0]["housing"] = "outdoor"
    return sheets


def test_every_source_of_the_library_has_short_words_that_are_no_id(library):
    for source in library.sources.values():
        assert 0 < len(source.short) <= 70, source.source
        assert "_" not in source.short and "memory:" not in source.short, source.source


def test_sources_in_words_each_once_and_what_nobody_saw_is_marked(library):
    told = cited(
        "RBZ2007_HENLYS; memory:NRC 1994 Nutrient Requirements of Poultry, Table 2-1; our vet", library.sources
    )
    assert told == "Rev Bras Zootec 2007b; NRC Poultry 1994, Table 2-1, from memory; our vet"
    assert cited("CFR_573_920; us_573_920", library.sources) == "21 CFR 573.920"
    assert cited("", library.sources) == ""


@pytest.mark.slow
@pytest.mark.parametrize("words", [("bin", "--precision", "1"), ("ration",), ("offers",)], ids=" ".join)
def test_no_sentence_names_a_source_by_its_id(run, two_groups, ids, words):
    for form in ((), ("--full",)):
        assert ids.findall(sentences(run(words[0], two_groups, *words[1:], *form).stdout)) == []


def test_no_problem_of_a_book_names_a_source_by_its_id(run, ids, tmp_path):
    sheets = own_rows(read_sheets())
    told = run("check", write_sheets(sheets, tmp_path / "farm"), "--full", code=1).output
    assert "safe ceiling" in told and ids.findall(told) == []
    poison = read_sheets()
    poison["sorted"].append({"sample": "n1", "crop": "corn cockle", "mass_g": "1"})
    told = run("check", write_sheets(poison, tmp_path / "poison"), "--full", code=(0, 1)).output
    assert "cockle" in told and ids.findall(told) == []


@pytest.mark.slow
def test_what_the_farm_allows_itself_is_told_with_sources_in_words(run, ids, tmp_path):
    sheets = own_rows(read_sheets())
    for row in (*sheets["own_limits"], *sheets["own_stages"]):
        row |= {"approved_by": "A. Vet", "approved_on": "2025-10-01"}
        row["reason" if "feed" in row else "source"] = "trial on our own farm"
    sheets["own_stages"] = sheets["own_stages"][:1]
    sheets["own_limits"] = sheets["own_limits"][:1]
    told = run("ration", write_sheets(sheets, tmp_path / "farm"), "--full").stdout
    assert "outdoors" in told and "own maximum" in told and "own limit" in told
    assert ids.findall(sentences(told)) == []


@pytest.mark.slow
def test_no_sentence_of_the_papers_names_a_source_by_its_id(run, two_groups, ids, tmp_path):
    from openpyxl import load_workbook

    run("report", two_groups, "-o", tmp_path / "farm.html")
    page = re.sub(r"<style.*?</style>|<script.*?</script>", " ", (tmp_path / "farm.html").read_text(), flags=re.DOTALL)
    page = re.sub(r'<span class="url">.*?</span>', " ", page)
    assert ids.findall(re.sub(r"<[^>]*>", " ", page)) == []
    run("ration", two_groups, "--review", tmp_path / "copy.xlsx")
    for sheet in load_workbook(tmp_path / "copy.xlsx"):
        if sheet.title.startswith(("Sign", "Summary")):
            cells = (cell.value for row in sheet.iter_rows() for cell in row)
            assert ids.findall("\n".join(cell for cell in cells if isinstance(cell, str))) == []


def test_a_source_is_told_in_full_once_under_whatever_it_was_called(capsys, library):
    print_sources("of 21 [NDSU 2019], and\nof it\n  NDSU\n  2019; a table with NUTMODEL_T4.1.", library)
    told = capsys.readouterr().out
    assert told.count("ndsu_store2019 (NDSU 2019): Corn and Soybean Drying") == 1
    assert told.count("NUTMODEL_T4.1:") == 1 and "seen:" not in told
    print_sources("of no source", library)
    assert capsys.readouterr().out == ""


def test_a_source_is_found_by_what_sentences_call_it(run, library):
    told = run("library", "sources", "NDSU 2019").output
    assert told.startswith("ndsu_store2019 (") and "In sentences: NDSU 2019." in told
    assert short_words(library.sources["ndsu_store2019"]) == "NDSU 2019"
