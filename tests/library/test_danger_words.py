"""Notes and labels as people write them: what is said, and what is denied. The phrases are invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rationlp.book.records import Lot, Place
from rationlp.feeds.labels import label_reasons
from rationlp.library.dangers.poisonous import poisonous_seed
from rationlp.library.dangers.words import dangers_in

GRAIN = ("any", "grain")
OFFER = ("any",)
PROCESSED = ("any", "processed")

SAID = [
    ("contains treated seed", "treated_seed"),
    ("fungicide coated seed", "treated_seed"),
    ("SEED DRESSING", "treated_seed"),
    ("bought seed, purple colour", "treated_seed"),
    ("left-over seed from spring", "treated_seed"),
    ("some pink kernels seen", "treated_seed"),
    ("thiram on part of it", "treated_seed"),
    ("dressed with imidacloprid", "treated_seed"),
    ("not only treated seed", "treated_seed"),
    ("not all treated", "treated_seed"),
    ("not sure if it was treated", "treated_seed"),
    ("don't know whether it is treated", "treated_seed"),
    ("no more than 5 % treated seed", "treated_seed"),
    ("not without treated kernels", "treated_seed"),
    ("not free of treated seed", "treated_seed"),
    ("can't rule out treated seed", "treated_seed"),
    ("treated: not known", "treated_seed"),
    ("treated? yes", "treated_seed"),
    ("no ergot but treated seed", "treated_seed"),
    ("not cleaned of coloured kernels", "treated_seed"),
    ("sprayed with glyphosate before harvest", "sprayed"),
    ("desiccated 10 days before combining", "sprayed"),
    ("herbicide drift on the headland", "sprayed"),
    ("rat poison dropped in", "poison"),
    ("Rodenticide found at the door", "poison"),
    ("mouse bait by the ladder", "poison"),
    ("diesel from the auger", "poison"),
    ("rat droppings on top", "rodents"),
    ("mice", "rodents"),
    ("smells musty at the door", "mould"),
    ("mouldy near the wall", "mould"),
    ("not tested for mold", "mould"),
    ("no longer mouldy", "mould"),
    ("mould not removed", "mould"),
    ("not mouldy but heated", "heated"),
    ("not mouldy, heated", "heated"),
    ("top is warm", "heated"),
    ("hot spot in the middle", "heated"),
    ("no glass and it heated", "heated"),
    ("glass", "glass"),
    ("a light bulb broke over it", "glass"),
    ("could not remove the glass", "glass"),
    ("nails in it", "glass"),
    ("fumigated with phosphine yesterday", "fumigated"),
    ("aluminium phosphide tablets", "fumigated"),
    ("under gas", "fumigated"),
    ("DO NOT FEED", "do_not_feed"),
    ("Don’t feed!", "do_not_feed"),
    ("Not for feed", "do_not_feed"),
    ("do not feed to pigs", "do_not_feed"),
    ("unfit for feed", "do_not_feed"),
    ("must not be fed", "do_not_feed"),
    ("Do not feed until the vet has looked", "do_not_feed"),
    ("medicated", "medicated"),
    ("with tylosin, withdrawal period 21 days", "medicated"),
    ("broiler grower with lasalocid", "ionophore"),
    ("monensin 110 g per ton", "ionophore"),
    ("semduramicin", "ionophore"),
    ("coccidiostats added", "coccidiostat"),
    ("with amprolium", "coccidiostat"),
    ("ergot in the rye", "ergot"),
    ("weed seeds in the screenings", "weed_seeds"),
    ("weevils in the top", "insects"),
    ("weevily", "insects"),
    ("live insects in the probe", "insects"),
    ("lesser grain borer found", "insects"),
    ("Indian meal moth, webbing on the surface", "insects"),
    ("mites in the fines", "insects"),
    ("infestation near the door", "insects"),
    ("not checked for weevils", "insects"),
    ("no longer free of insects", "insects"),
    ("no mould but weevils", "insects"),
    ("roof leaked in March", "water"),
    ("rain got in", "water"),
    ("flood water reached the auger", "water"),
    ("wet spot under the vent", "water"),
    ("aflatoxin positive", "mycotoxin"),
    ("vomitoxin 4 ppm by strip test", "mycotoxin"),
    ("top went bad", "mould"),
    ("stinks", "mould"),
    ("spoilage on top", "mould"),
    ("scabby wheat", "mould"),
    ("bunt", "mould"),
    ("overheated in the dryer", "heated"),
    ("pigeon mess on top", "rodents"),
    ("carcass of a pigeon", "rodents"),
    ("hauled in a fertilizer truck", "poison"),
    ("dressed with ipconazole", "treated_seed"),
    ("sedaxane on it", "treated_seed"),
    ("treated with captan, not with thiram", "treated_seed"),
    ("deltamethrin at intake", "protectant"),
    ("pirimiphos-methyl applied", "protectant"),
]
DENIED = [
    "no weevils seen",
    "free of insects",
    "weevils: none",
    "no insects or mites",
    "without any sign of infestation",
    "not infested",
    "not infested with weevils",
    "bug-free",
    "no moth webbing",
    "free from moths and mites",
    "weevil traps set, none caught",
    "pigeon peas",
    "roof does not leak",
    "not flooded",
    "no wet spots",
    "aflatoxin negative",
    "vomitoxin: not detected",
    "tested clean for aflatoxin",
    "mycotoxin binder added",
    "no scab",
    "scab resistant variety",
    "no smut",
    "no rodent droppings",
    "no dead animals",
    "not treated with thiram",
    "never mixed with glass",
    "no captan",
    "no malathion",
    "fertilized with 80 kg N",
    "insect pollinated",
    "unsprayed",
    "never sprayed",
    "no glyphosate used",
    "not treated",
    "no treated seed",
    "untreated",
    "un-treated seed",
    "never treated",
    "non-treated",
    "Treated: no",
    "has never been anywhere near treated seed",
    "no sign at all of any treated seed",
    "treated seed: none",
    "grown from treated seed",
    "heat treated",
    "steam treated barley",
    "neither treated nor dyed",
    "dyed kernels: 0",
    "free of glass",
    "glass free",
    "glass-free",
    "free of glass, metal and bait",
    "without glass and wire",
    "no mould, glass or metal",
    "no glass, no metal",
    "glass: none found",
    "no mouldy or musty spots",
    "not musty",
    "mould not found",
    "mould was not seen",
    "mould absent",
    "tested negative for mould",
    "mold inhibitor added",
    "ergot not detected",
    "dry and cool, no ergot, not musty, free of weed seeds",
    "no rats, no mice",
    "clear of ergot",
    "not heated",
    "hot summer, cut early",
    "warm autumn",
    "not fumigated",
    "never been fumigated",
    "no bait used",
    "do not feed to cattle or other ruminants",
    "do not feed undiluted",
    "non-medicated",
    "not medicated",
    "unmedicated",
    "no coccidiostat",
    "without ionophores",
    "ionophore free",
    "chot wheat",
    "hard red wheat",
    "purple barley",
    "metal bin behind the barn",
    "heavy metals tested",
    "unfit for malting",
    "not for human consumption",
    "",
    "rejected for malting, protein too high",
    "coloured-flowered beans",
    "field by the glasshouse",
]


@pytest.mark.parametrize(("text", "means"), SAID)
def test_what_is_said(library, text, means):
    assert means in [danger.row.means for danger in dangers_in(text, GRAIN, library)]


@pytest.mark.parametrize("text", DENIED)
def test_what_is_denied_or_harmless(library, text):
    assert [danger.written for danger in dangers_in(text, GRAIN, library)] == []


@pytest.mark.parametrize(
    ("text", "raw"),
    [
        ("Soybeans RAW, not roasted", True),
        ("not roasted", True),
        ("unroasted beans", True),
        ("not raw", False),
        ("raw material of the EU", False),
        ("roasted", False),
    ],
)
def test_raw_counts_on_a_heated_feed_only(library, text, raw):
    assert ("raw" in [d.row.means for d in dangers_in(text, PROCESSED, library)]) == raw
    assert not [d for d in dangers_in(text, OFFER, library) if d.row.means == "raw"]


def test_words_of_grain_mean_nothing_on_a_label(library):
    assert not dangers_in("Faba beans, coloured, hot air dried, metal proteinate", OFFER, library)


def test_a_label_may_say_several_things_and_which_animals_it_kills(library):
    found = dangers_in("Swine premix MEDICATED monensin salinomycin 2 %", OFFER, library)
    assert [(d.row.means, d.row.stop_for) for d in found] == [
        ("medicated", ()),
        ("ionophore", ()),
        ("ionophore", ("turkey",)),
    ]
    assert found[2].row.source == "salinomycin_turkeys1986"


@pytest.mark.parametrize(
    ("name", "seed"),
    [
        ("castor", "castor"),
        ("Castor beans", "castor"),
        ("castor_oil_plant", "castor"),
        ("kidney_beans", "kidney_beans_raw"),
        ("raw kidney bean", "kidney_beans_raw"),
        ("red_kidney_beans", "kidney_beans_raw"),
        ("ergot", "ergot"),
        ("jimson_weed", "jimsonweed"),
        ("Datura seeds", "jimsonweed"),
        ("crotalaria", "rattlepod"),
        ("rattlepod", "rattlepod"),
        ("lathyrus", "grass_pea"),
        ("grass_peas", "grass_pea"),
        ("corn_cockle", "corn_cockle"),
        ("darnel", "darnel"),
        ("nightshade", "nightshade"),
        ("hemlock", "hemlock"),
        ("rapeseed_high_erucic", "rapeseed_high_erucic"),
    ],
)
def test_poisonous_seeds_by_their_names(library, name, seed):
    assert poisonous_seed(name, library).seed == seed


@pytest.mark.parametrize(
    "name", ["corn", "kidney_beans_cooked", "castor_free", "cottonseed_meal", "hempseed", "faba_beans", "wheat", "flax"]
)
def test_other_names_are_left_alone(library, name):
    assert poisonous_seed(name, library) is None


def test_no_feed_of_the_library_is_called_poisonous(library):
    assert [feed for feed in (*library.feeds, *library.families) if poisonous_seed(feed, library)] == []


def test_a_note_on_a_delivery_is_read_like_one_on_a_bin(demo_book, library):
    """Weevils in bought corn were read on no lot: only what is dangerous on any label was."""
    (corn,) = [offer for offer in demo_book.supplements if offer.offer == "corn_bought"]
    for note, said in (("weevils and rat droppings", 2), ("no weevils, no rat droppings", 0)):
        book = replace(demo_book, lots=(Lot(Place(), "L1", "corn_bought", date(2025, 9, 20), note=note),))
        assert len(label_reasons(corn, book, library)) == said
