"""What a person calls a feed, stage or nutrient, and what is meant by it."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from rationlp.book.columns import FOREIGN_MATTER
from rationlp.finder import Finder, Name, _mended, names_of, words_of
from rationlp.library.dangers.poisonous import poisonous_seed
from rationlp.library.names.known import POISON, crop_finder, feed_finder, nutrient_finder, stage_finder
from rationlp.library.names.stages import stages_by_size

DATA = Path(__file__).parent / "library" / "data" / "names.csv"
"""Kind, the words as typed, and the id that is meant; `?` before it: it must be among what is asked; `!`: none of it
may be suggested alone. Words of the trade are common practice, as in feed_library/synonyms.csv."""


def names():
    with DATA.open(encoding="utf-8", newline="") as lines:
        return [(row["kind"], row["typed"], row["wanted"]) for row in csv.DictReader(lines)]


@pytest.fixture(scope="module")
def finders(library):
    return {
        "feed": feed_finder(library),
        "crop": crop_finder(library, FOREIGN_MATTER),
        "stage": stage_finder(library),
        "nutrient": nutrient_finder(library),
    }


def test_there_are_two_hundred_names():
    assert len(names()) >= 200


@pytest.mark.parametrize(("kind", "typed", "wanted"), names())
def test_a_name_is_read_as_what_is_meant(finders, library, kind, typed, wanted):
    finder = finders[kind]
    meant = finder.meant(typed) or (stages_by_size(typed, library) if kind == "stage" else ())
    if wanted.startswith("?"):
        near = meant or finder.near(typed)
        assert len(meant) != 1
        assert set(wanted[1:].split()) <= set(near), near
    elif wanted.startswith("!"):
        assert meant == ()
        assert wanted[1:] not in finder.near(typed)[:1]
    else:
        assert meant == (wanted,)


@pytest.mark.slow
def test_no_suggestion_is_of_another_class_or_species_alone(finders, library):
    """Every typed name that is not known, with one letter left out, still finds the kin of what was meant."""
    for kind, typed, wanted in names():
        if wanted.startswith(("?", "!")) or len(typed) < 6 or kind == "nutrient":
            continue
        slip = typed[:2] + typed[3:]
        near = finders[kind].near(slip)
        kins = {finders[kind].names[id_].kin for id_ in near}
        assert not near or finders[kind].names[wanted].kin in kins, (slip, near)


def test_every_id_and_label_finds_itself(library, finders):
    for finder in finders.values():
        for name in finder.names.values():
            if name.kin != POISON:
                assert finder.meant(name.id) == (name.id,)
    for row in (*library.stages.values(), *library.feeds.values()):
        finder, id_ = (finders["stage"], row.stage) if hasattr(row, "stage") else (finders["feed"], row.feed)
        assert finder.meant(row.label) == (id_,)


PLANTS = (
    "corn wheat barley oat rye triticale sorghum pea soybean flax canola sunflower hemp mustard lentil quinoa peanut"
)
EATEN = "oil meal hulls bran straw silage protein starch gluten germ flour screenings pellets fat"


@pytest.mark.slow
def test_a_part_of_a_plant_is_not_taken_for_another_part_or_another_plant(finders):
    """`flax oil` is no flaxseed, `wheat gluten` no corn gluten meal."""
    finder = finders["feed"]
    for plant in PLANTS.split():
        for part in EATEN.split():
            for id_ in finder.near(f"{plant} {part}"):
                held = {word for text in (id_, *finder.names[id_].words) for word in words_of(text)}
                assert set(words_of(part)) <= held, (plant, part, id_)
                assert any(word.startswith(words_of(plant)[0]) for word in held), (plant, part, id_)


def test_a_poisonous_seed_is_never_read_as_a_crop(library, finders):
    for row in library.poisonous:
        for word in (row.seed, *row.names):
            assert poisonous_seed(word, library)
            assert finders["crop"].meant(word) == (row.seed,)
    assert "poisonous" in finders["crop"].suggestion("castir", "")
    assert "corn" not in finders["crop"].suggestion("castor oil", "")


def test_one_word_of_the_trade_does_not_pass_over_a_label(finders):
    """No synonym takes away the name of another feed, stage or nutrient."""
    for kind, finder in finders.items():
        for name in finder.names.values():
            assert name.id in finder.meant(name.id), kind


def test_a_name_is_found_by_its_words_and_its_slips():
    finder = Finder([Name("soy48", ("Soybean meal 48 %, bulk",)), Name("barley"), Name("wheat_bran", kin="bran")])
    assert finder.meant("bulk soybean meal 48") == ("soy48",)
    assert finder.meant("Soybean meal, bulk, 48%") == ("soy48",)
    assert finder.near("barly") == ("barley",)
    assert finder.suggestion("tractor", "Correct it.") == "Correct it."
    assert names_of(["a", "b", "c"]).told(["a", "b", "c"], 2) == "a, b or 1 more"


@pytest.mark.parametrize(
    ("token", "known", "mended"),
    [
        ("peasfield", {"peas", "field"}, ["peas", "field"]),  # two words without the blank between them
        ("sunflowers", {"sunflower", "sun", "flowers"}, ["sunflower"]),  # all but the word itself: not taken apart
        ("barlye", {"barley", "rye"}, ["barley"]),
        ("tirticale", {"triticale"}, ["triticale"]),
        ("44", {"48"}, ["44"]),  # a number is no slip of another
        ("oat", {"oats"}, ["oat"]),
    ],
)
def test_a_word_is_mended_before_it_is_taken_apart(token, known, mended):
    assert _mended(token, known) == mended


@pytest.mark.parametrize(
    "typed",
    ["lamb premix", "calf starter", "goat mineral", "quail premix", "horse feed", "mink ration", "fish premix"],
)
def test_a_feed_of_other_animals_finds_none_of_ours(library, typed):
    assert feed_finder(library).near(typed) == () and stage_finder(library).near(typed) == ()


@pytest.mark.parametrize("typed", ["cassava", "cass ava", "coffee", "sweet potato", "mung beans", "ricin", "jatropha"])
def test_a_poison_that_only_looks_or_sounds_alike_is_never_suggested(library, typed):
    poisons = {seed.seed for seed in library.poisonous}
    assert not poisons.intersection(feed_finder(library).near(typed))
    assert not poisons.intersection(crop_finder(library, "foreign_matter").near(typed))


@pytest.mark.parametrize(
    ("typed", "seed"), [("corn cokle", "corn_cockle"), ("nitshade", "nightshade"), ("kidny beans", "kidney_beans_raw")]
)
def test_a_poison_is_told_for_a_slip_in_its_own_name(library, typed, seed):
    assert feed_finder(library).near(typed) == (seed,)
