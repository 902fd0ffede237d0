"""`--format csv -o DIR`: a tidy file for each kind of row, shares 0 to 1, safe in a spreadsheet, whole or not."""

from __future__ import annotations

import errno
import json
from pathlib import Path

import pandas as pd
import pytest
from jsonschema import Draft202012Validator

from rationlp.errors import InputError
from rationlp.show.data import tidy
from rationlp.show.schema.made import DOCUMENTS, schema_of

ONE = ("--stage", "sw_gro_25_50", "--bin", "north")
ASKED = [
    (("check",), {"answer"}),
    (("bin", "--bin", "north", "--precision", "5"), {"bins", "bins_crops", "bins_nutrients", "bins_precision_plans"}),
    (
        ("ration", *ONE, "--price", "lysine=1000"),
        {"rations", "rations_mix", "rations_requirements", "rations_limits", "today"},
    ),
    (("ration", *ONE, "--concentrate"), {"concentrates", "concentrates_parts", "concentrates_uses_grain"}),
    (("ration", *ONE, "--frontier"), {"frontier"}),
    (("offers", *ONE, "--sweep", "soy48_bulk:300:500:5"), {"offers", "sweep_points", "sweep_pieces_mix", "all_groups"}),
    (("sheets", *ONE), {"sheets", "sheets_mixer", "sheets_bucket"}),
    (("actual",), {"stock", "batches", "batches_lines", "batches_ration_mix"}),
    (("trace",), {"batches", "batches_parts"}),
    (("library", "feeds", "triticale"), {"feed_figures", "feed_caps"}),
]


@pytest.mark.slow
@pytest.mark.parametrize(("words", "tables"), ASKED, ids=[" ".join(map(str, words)) for words, _ in ASKED])
def test_every_command_writes_its_tables(run, weighed_farm, tmp_path, words, tables):
    book = [] if words[0] == "library" else [weighed_farm]
    folder = tmp_path / "answer"
    told = run(words[0], *book, *words[1:], "--format", "csv", "-o", folder)
    assert not told.stdout and f"Written: {folder}" in told.stderr
    found = {path.stem for path in folder.glob("*.csv")}
    assert tables <= found
    described = json.loads((folder / "datapackage.json").read_text())
    assert {each["name"] for each in described["resources"]} == found
    for each in described["resources"]:
        frame = pd.read_csv(folder / each["path"])
        assert len(frame) and list(frame.columns) == [field["name"] for field in each["schema"]["fields"]]
        assert not frame.columns.duplicated().any()
        for column in [name for name in frame.columns if name == "share" or name.endswith("_share")]:
            assert frame[column].dropna().between(0, 1.000001).all(), (each["name"], column)


@pytest.mark.slow
def test_the_tables_say_what_the_json_says(run, two_groups, tmp_path):
    run("ration", two_groups, *ONE, "--format", "csv", "-o", tmp_path / "answer")
    (ration,) = json.loads(run("ration", two_groups, *ONE, "--format", "json").stdout)["rations"]
    mix = pd.read_csv(tmp_path / "answer" / "rations_mix.csv")
    assert list(mix["share"]) == pytest.approx([line["share"] for line in ration["mix"]])
    assert set(mix["stage"]) == {"sw_gro_25_50"} and set(mix["currency"]) == {"USD"}
    rows = pd.read_csv(tmp_path / "answer" / "rations_requirements.csv")
    assert list(rows["nutrient"]) == [line["nutrient"] for line in ration["requirements"]]
    assert rows["meets"].dropna().isin([True, False]).all()


def test_a_label_that_looks_like_a_formula_is_text(tmp_path):
    tidy.write_tables(tmp_path / "a", "check", {"rows": [{"label": "=1+1", "value": -1.5}]})
    assert (tmp_path / "a" / "rows.csv").read_text() == "label,value\n'=1+1,-1.5\n"


@pytest.mark.slow
def test_nothing_is_written_over_and_all_is_written_or_nothing(run, two_groups, tmp_path, monkeypatch):
    folder = tmp_path / "answer"
    ask = ("check", two_groups, "--format", "csv", "-o", folder)
    run(*ask)
    before = sorted(path.name for path in folder.iterdir())
    assert "--overwrite" in run(*ask, code=2).stderr
    again = run(*ask, "--overwrite")
    assert "kept as answer.before-" in again.stderr
    assert sorted(path.name for path in folder.iterdir()) == before and len(list(tmp_path.iterdir())) == 2
    (folder / "notes.txt").write_text("a year of notes")
    assert "such tables alone" in run(*ask, "--overwrite", code=2).stderr
    assert "--format csv" in run("check", two_groups, "-o", tmp_path / "b", code=2).stderr

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(tidy.csv.DictWriter, "writerows", full)
    with pytest.raises(InputError, match="No space left"):
        tidy.write_tables(tmp_path / "c", "check", {"rows": [{"label": "a"}]})
    assert not (tmp_path / "c").exists() and not list(Path(tmp_path).glob(".c*"))


@pytest.mark.parametrize("command", DOCUMENTS)
def test_objects_by_name_are_known(command):
    """What the schema calls an object of any keys is a row a key, and no heading."""

    def names(node, name=""):
        if isinstance(node, dict):
            if "additionalProperties" in node and "properties" not in node:
                yield name
            for key, each in node.items():
                yield from names(each, key if key not in ("anyOf", "items", "additionalProperties") else name)
        elif isinstance(node, list):
            for each in node:
                yield from names(each, name)

    schema = schema_of(command)
    Draft202012Validator.check_schema(schema)
    found = {name for each in schema["$defs"].values() for name in names(each.get("properties", {}))}
    assert found <= {*tidy.LISTS_BY_NAME, "rations"}
