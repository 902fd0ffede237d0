"""rationlp library: what a person asks and gets."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys

import pytest
from click.testing import CliRunner, Result

from rationlp.cli.app import app
from rationlp.library import Library
from rationlp.units import as_fed


def ask(*words: str) -> Result:
    return CliRunner().invoke(app, ["library", *words, "--full"])


def rows(*words: str) -> list[dict[str, str]]:
    answer = ask(*words, "--format", "csv")
    assert answer.exit_code == 0, answer.output
    return list(csv.DictReader(io.StringIO(answer.stdout)))


def document(*words: str) -> dict:
    answer = ask(*words, "--format", "json")
    assert answer.exit_code == 0, answer.output
    return json.loads(answer.stdout)


@pytest.mark.slow
def test_without_a_topic_it_checks_and_counts(library: Library) -> None:
    answer = ask()
    assert answer.exit_code == 0
    assert "Check: 0 errors, 0 warnings." in answer.stdout
    assert f"{len(library.feeds)} feeds" in answer.stdout
    assert document()["rows_by_how"]["composition"]["memory"] > 0


@pytest.mark.slow
def test_one_feed_has_every_figure_as_fed_and_on_dry_matter_with_its_source(library: Library) -> None:
    found = {row["nutrient"]: row for row in rows("feeds", "triticale")}
    assert set(library.figures["triticale"]) <= set(found)
    dry_matter = library.feeds["triticale"].dry_matter_pct
    for nutrient, figure in library.figures["triticale"].items():
        line = found[nutrient]
        assert float(line["dry_matter"]) == pytest.approx(figure.value)
        share = library.nutrients[nutrient].kind == "coefficient"
        assert float(line["as_fed"]) == pytest.approx(figure.value if share else as_fed(figure.value, dry_matter))
        assert (line["source"], line["how"]) == (figure.source, figure.how)
    lysine = library.figures["triticale"]["lysine"].value * library.figures["triticale"]["lysine_sid_pig"].value / 100
    assert float(found["sid_lysine_pig"]["dry_matter"]) == pytest.approx(lysine)
    assert found["sid_lysine_pig"]["how"] == "memory"  # as weak as its coefficient, though lysine itself is computed
    assert found["ne_pig"]["equation"] == "net_energy_from_de()"


@pytest.mark.slow
def test_one_feed_in_words() -> None:
    answer = ask("feeds", "camelina_seed")
    assert answer.exit_code == 0
    for words in (
        "As fed",
        "In DM",
        "camelina_2013",
        "What each stage may be given at most",
        "hen_white_100",
        "nutritionist",
    ):
        assert words in answer.stdout


@pytest.mark.slow
def test_premixes_show_what_a_kilogram_adds() -> None:
    found = {row["nutrient"]: row for row in rows("feeds", "premix_swine")}
    assert float(found["vitamin_a"]["as_fed"]) > 1e6 and found["vitamin_a"]["dry_matter"] == ""


@pytest.mark.slow
def test_an_id_alone_is_looked_up_everywhere() -> None:
    assert "Triticale" in ask("triticale").stdout
    assert "Late grower" in ask("sw_gro_50_75").stdout
    assert "richest first" in ask("sid_lysine_pig").stdout.lower()
    assert "South African Journal" in ask("sajas_2000").stdout


@pytest.mark.slow
def test_richest_first(library: Library) -> None:
    found = rows("feeds", "--sort", "sid_lysine_pig")
    values = [float(row["as_fed"]) for row in found]
    assert found[0]["feed"] == "l_lysine_hcl"
    assert values == sorted(values, reverse=True)
    assert {row["feed"] for row in rows("feeds", "soybean_meal", "--sort", "lysine")} == library.families[
        "soybean_meal"
    ]


@pytest.mark.slow
def test_figures_from_memory(library: Library) -> None:
    found = rows("feeds", "--memory")
    recalled = sum(
        row.how == "memory"
        for feed, figures in library.figures.items()
        for row in figures.values()
        if row.nutrient not in library.premix_figures.get(feed, {})  # what a premix adds stands in its own table
    )
    assert len(found) == recalled > 0
    assert {row["how"] for row in found} == {"memory"}
    assert {row["how"] for row in rows("stages", "sw_gro_50_75", "--memory")} == {"memory"}
    assert all(row["source"].startswith("memory") for row in rows("sources", "--memory"))


@pytest.mark.parametrize(
    ("words", "stages"),
    [
        (["--weight", "62kg"], {"sw_gro_50_75", "sw_gro_lean_50_75"}),
        (["--weight", "62"], {"sw_gro_50_75", "sw_gro_lean_50_75"}),
        (["--weight", "140lb"], {"sw_gro_50_75", "sw_gro_lean_50_75"}),
        (["--weight", "50 kg"], {"sw_gro_50_75", "sw_gro_lean_50_75"}),
        (["gestation", "--weight", "190kg"], {"sw_gest_p3_early", "sw_gest_p3_late"}),
        (["turkey", "--age", "10wk"], {"turkey_8_12", "turkey_tom_8_12", "turkey_hen_8_12"}),
        (["turkey", "--age", "70d"], {"turkey_8_12", "turkey_tom_8_12", "turkey_hen_8_12"}),
        (["broiler", "slow", "--age", "5wk"], {"broiler_slow_grower"}),
        (["brown", "--age", "3wk"], {"layer_chick_0_6_brown"}),
        (["boar"], {"sw_boar"}),
    ],
)
def test_stages_are_found_by_weight_age_and_name(words: list[str], stages: set[str]) -> None:
    name = [" ".join(word for word in words if not word.startswith("-") and not word[0].isdigit())]
    options = (
        words[words.index(next((w for w in words if w.startswith("--")), words[-1])) :] if "--" in str(words) else []
    )
    assert {row["stage"] for row in rows("stages", *(n for n in name if n), *options)} == stages


def test_a_stage_says_what_it_needs_and_why(library: Library) -> None:
    stage = document("stages", "hen_peak")["stage"]
    assert {row["nutrient"] for row in stage["needs"]} == {row.nutrient for row in library.requirements["hen_peak"]}
    assert all(row["source"] and row["how"] for row in stage["needs"])
    assert stage["ceilings"]
    assert "kept to compare" in ask("stages", "sw_gro_50_75").stdout


@pytest.mark.slow
def test_limits_of_a_feed_and_of_a_stage_say_why() -> None:
    caps = {row["stage"]: row for row in rows("limits", "flaxseed")}
    assert float(caps["hen_white_100"]["max_pct"]) == 10 and caps["hen_white_100"]["reason"]
    for_hens = {row["word"]: row for row in rows("limits", "hen_white_100")}
    assert (
        float(for_hens["flax"]["max_pct"]) == 10 if "flax" in for_hens else float(for_hens["flaxseed"]["max_pct"]) == 10
    )
    assert all(row["source"] and row["reason"] for row in for_hens.values())
    assert len(rows("limits")) > 400


@pytest.mark.slow
def test_sources_say_what_rests_on_them(library: Library) -> None:
    found = {row["source"]: row for row in rows("sources")}
    assert set(found) == set(library.sources)
    rests = document("sources", "sajas_2000")["source"]
    assert rests["uses"]["composition"] >= 2


def test_equations_are_listed() -> None:
    found = {row["name"]: row for row in rows("equations", "ne_pig")}
    assert found["net_energy_from_de"]["source"] == "NE_FIG5_2018"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("word", "means"),
    [("linseed", "flaxseed"), ("flax", "flaxseed"), ("field peas", "field_peas"), ("late grower", "sw_gro_50_75")],
)
def test_limits_go_by_any_name_of_a_feed_a_family_or_a_stage(word: str, means: str) -> None:
    """`limits linseed` asked whether linseed meal was meant."""
    assert rows("limits", word) == rows("limits", means)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["feeds", "triticalle"], "Did you mean triticale"),
        (["stages", "unicorn"], "a stage of the library"),
        (["stages", "--weight", "900kg", "nursery"], "900 kg"),
        (["feeds", "--sort", "lysin"], "Did you mean lysine"),
        (["sources", "nowhere"], "a source of the library"),
        (["limits", "unobtainium"], "a feed, a family of feeds or a stage of the library"),
        (["limits", "soybeans"], "Did you mean soybeans_raw"),
        (["equations", "perpetual motion"], "an equation"),
        (["unobtainium"], "a feed, a stage, a nutrient, a limit or a source of the library"),
    ],
)
def test_unknown_ids_get_a_line_and_no_traceback(words: list[str], says: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "rationlp", "library", *words], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert says in done.stderr and "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "words",
    [["feeds", "--weight", "62kg"], ["stages", "--weight", "heavy"], ["stages", "--age", "3 moons"], ["feds", "corn"]],
)
def test_wrong_usage(words: list[str]) -> None:
    assert ask(*words).exit_code == 2
