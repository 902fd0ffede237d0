"""Every JSON answer is what `rationlp schema COMMAND` says of it, on metric and US books, and has no key beside."""

from __future__ import annotations

import json

import pytest
from click import Choice
from jsonschema import Draft202012Validator

from rationlp.cli.app import app
from rationlp.cli.overview import COMMANDS
from rationlp.show.schema.made import DOCUMENTS, schema_of

ONE = ("--stage", "sw_gro_25_50", "--bin", "north")
ASKED = [
    ("check",),
    ("bin",),
    ("bin", "--bin", "north", "--precision", "5"),
    ("ration",),
    ("ration", *ONE, "--price", "lysine=1000"),
    ("ration", *ONE, "--set", "confidence_pct=90", "--set", "confidence_of=all"),
    ("ration", *ONE, "--concentrate"),
    ("ration", *ONE, "--frontier"),
    ("offers", *ONE, "--what-if", "sunflower_meal_dehulled_solvent", "--price", "lysine=1000"),
    ("offers", *ONE, "--compare", "soy48_bulk", "--compare", "soy48_bags", "--draws", "20"),
    ("offers", *ONE, "--sweep", "soy48_bulk:300:500:5"),
    ("actual", "--uniformity", "salt: 0.31 0.29 0.33 0.30"),
    ("trace",),
]
MISTAKEN = [("ration", "--stage", "nothing"), ("ration", *ONE, "--set", "batch_mass=-3")]
LIBRARY = [
    (),
    ("feeds",),
    ("feeds", "triticale"),
    ("feeds", "--sort", "lysine"),
    ("feeds", "--memory"),
    ("stages",),
    ("stages", "sw_boar"),
    ("stages", "--sort", "lysine"),
    ("stages", "--memory", "--weight", "62kg"),
    ("limits",),
    ("limits", "flaxseed"),
    ("limits", "sw_boar"),
    ("sources",),
    ("sources", "nrc1994_appB"),
    ("nutrients",),
    ("nutrients", "lysine"),
    ("equations",),
    ("nothing",),
]


@pytest.fixture(scope="session")
def held():
    """Holds an answer against the schema of its command, as it is printed and with nothing let in beside it."""
    made = {}

    def held(command, text):
        if command not in made:
            schema = schema_of(command)
            Draft202012Validator.check_schema(schema)
            made[command] = (schema, closed(schema))
        for schema in made[command]:
            errors = Draft202012Validator(schema).iter_errors(json.loads(text))
            assert not [told(error) for error in errors], command

    return held


def told(error):
    """What is wrong, by the alternative that comes nearest."""
    while error.context:
        error = max(error.context, key=lambda each: len(each.absolute_path))
    return "/".join(map(str, error.absolute_path)), error.message[:300]


def closed(schema):
    """The schema with every object shut; those that are merged with others are shut where they are merged."""
    schema = json.loads(json.dumps(schema))
    parts = [part for each in objects(schema) for part in each.get("allOf", ())]
    merged = [schema["$defs"][part["$ref"].rsplit("/", 1)[1]] if "$ref" in part else part for part in parts]
    for each in list(objects(schema)):
        if "allOf" in each or ("properties" in each and each is not schema and each not in merged):
            each["unevaluatedProperties"] = False
    for each in schema["$defs"].values():
        each.get("properties", {})["schema_version"] = {}  # of the whole answer, whichever it is
    return schema


def objects(node):
    """Every object within a schema."""
    if isinstance(node, dict):
        yield node
        for each in node.values():
            yield from objects(each)
    elif isinstance(node, list):
        for each in node:
            yield from objects(each)


@pytest.mark.slow
@pytest.mark.parametrize("words", ASKED, ids=" ".join)
def test_the_answers_of_a_metric_book(run, weighed_farm, held, words):
    held(words[0], run(words[0], weighed_farm, *words[1:], "--format", "json").stdout)


@pytest.mark.slow
@pytest.mark.parametrize("words", MISTAKEN, ids=" ".join)
def test_mistakes_of_the_command_line(run, weighed_farm, held, words):
    held(words[0], run(words[0], weighed_farm, *words[1:], "--format", "json", code=2).stdout)


@pytest.mark.slow
@pytest.mark.parametrize("words", ASKED[:6], ids=" ".join)
def test_the_answers_of_a_us_book(run, us_farm, held, words):
    held(words[0], run(words[0], us_farm, *words[1:], "--format", "json").stdout)


@pytest.mark.slow
@pytest.mark.parametrize("words", LIBRARY, ids=" ".join)
def test_the_answers_of_the_library(run, held, words):
    held("library", run("library", *words, "--format", "json", code=(0, 2)).stdout)


@pytest.mark.slow
def test_mix_sheets_and_many_books(run, us_farm, metric_farm, held, tmp_path):
    held("sheets", run("sheets", us_farm, "-o", tmp_path / "mix.csv", *ONE, "--format", "json").stdout)
    place = tmp_path / "all.jsonl"
    done = run("many", metric_farm, tmp_path / "no", "-o", place, "--jobs", 1, "--format", "json", code=1)
    for line in done.stdout.splitlines():
        held("many", line)


def test_a_book_with_mistakes_and_a_mistake_of_the_command_line(run, write_book, held):
    book = write_book({"bins": [{"bin": "a", "mass": "many"}]})
    for command in ("check", "ration"):
        found = run(command, book, "--format", "json", code=1).stdout
        held(command, found)
        assert json.loads(found)["problems"]


def test_every_command_that_answers_in_json_has_a_schema(run):
    answering = set()
    for name in COMMANDS:
        command = app.get_command(None, name)
        forms = [param.type.choices for param in command.params if isinstance(param.type, Choice)]
        if any("json" in choices for choices in forms):
            answering.add(name)
    assert answering == set(DOCUMENTS)
    printed = json.loads(run("schema", "ration").stdout)
    assert printed["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "Did you mean ration?" in run("schema", "rations", code=2).stderr


def test_the_keys_of_the_interface_are_promised():
    """What programs may rely on is required, not only allowed."""
    mix = schema_of("ration")["$defs"]["MixLine"]
    assert {"offer", "feed", "share", "price_per_tonne", "reduced_cost"} <= set(mix["required"])
    verdict = schema_of("trace")["$defs"]["VerdictObject"]
    assert set(verdict["required"]) == {"verdict", "words", "probability_all", "reasons"}


@pytest.mark.slow
def test_a_missing_key_and_a_further_one_are_seen(run, two_groups, held):
    answer = json.loads(run("ration", two_groups, *ONE, "--format", "json").stdout)
    mix = answer["rations"][0]["mix"][0]
    with pytest.raises(AssertionError):
        held("ration", json.dumps(answer | {"rations": [answer["rations"][0] | {"mix": [mix | {"further": 1}]}]}))
    del mix["share"]
    with pytest.raises(AssertionError):
        held("ration", json.dumps(answer))
