"""Notes and labels as people write them: what is said, and what is denied. The phrases are invented."""

from __future__ import annotations

import gc
import weakref
from dataclasses import replace
from datetime import date

import pytest

from rationlp.book.records import Assay, Lot, Place
from rationlp.feeds.labels import label_reasons
from rationlp.library import load_library
from rationlp.library.dangers.poisonous import poisonous_seed
from rationlp.library.dangers.words import dangers_in
from rationlp.library.names.records import Synonym

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
    ("DON 3.2", "mycotoxin"),
    ("vom 4 ppm", "mycotoxin"),
    ("Vomi 2.5", "mycotoxin"),
    ("afla 35 ppb", "mycotoxin"),
    ("fumo 12 ppm", "mycotoxin"),
    ("zea 300 ppb", "mycotoxin"),
    ("T-2 present", "mycotoxin"),
    ("high DON this year", "mycotoxin"),
    ("DON: 1200 ppb (lab)", "mycotoxin"),
    ("DON 0.9 mg/kg", "mycotoxin"),
    ("elevator docked it for vom", "mycotoxin"),
    ("docked for vomitoxin", "mycotoxin"),
    ("toxin test came back high", "mycotoxin"),
    ("failed black light test", "mycotoxin"),
    ("not tested for DON", "mycotoxin"),
    ("DON not known", "mycotoxin"),
    ("DON < 5 ppm", "mycotoxin"),
    ("ZEN 0.4", "mycotoxin"),
    ("OTA 12 ppb", "mycotoxin"),
    ("ergot 0.2 %", "ergot"),
    ("a few ergots per handful", "ergot"),
    ("nitrate 4000 ppm", "contaminant"),
    ("urea in with it", "urea"),
    ("feed grade urea", "urea"),
    ("some NPN in it", "urea"),
    ("46-0-0 in the boot pit", "poison"),
    ("fertiliser from same wagon", "poison"),
    ("hauled with the fertilizer trailer", "poison"),
    ("fertilizer prills seen", "poison"),
    ("ammonium sulfate prills", "poison"),
    ("sprouted in the swath", "sprouted"),
    ("sprouted 10 %", "sprouted"),
    ("some chitted kernels", "sprouted"),
    ("germinated in the ear", "sprouted"),
    ("frozen before ripe", "weathered"),
    ("frosted", "weathered"),
    ("fuel spill", "poison"),
    ("gas can tipped over in it", "poison"),
    ("kerosene smell", "poison"),
    ("smells of petrol", "poison"),
    ("grease in the auger", "poison"),
    ("hydraulic leak on the combine", "poison"),
    ("smells funny", "mould"),
    ("smells like skunk", "mould"),
    ("green fuzz on top", "mould"),
    ("blue eye in the corn", "mould"),
    ("ear rot", "mould"),
    ("diplodia", "mould"),
    ("tombstone kernels", "mould"),
    ("slimy along the wall", "mould"),
    ("balled up / lumpy", "mould"),
    ("mustey smell", "mould"),
    ("moldey", "mould"),
    ("rat turds", "rodents"),
    ("mouse dirt", "rodents"),
    ("mouse nest", "rodents"),
    ("bird poop", "rodents"),
    ("sparrows got in", "rodents"),
    ("cat pee", "rodents"),
    ("possum in bin", "rodents"),
    ("chicken litter", "rodents"),
    ("dead deer in the combine", "rodents"),
    ("broken bottle", "glass"),
    ("staples", "glass"),
    ("bearing came apart", "glass"),
    ("auger flighting chips", "glass"),
    ("magnet picked up bits", "glass"),
    ("stainless slivers", "glass"),
    ("Roundup before harvest", "sprayed"),
    ("dicamba drift", "sprayed"),
    ("2,4-D drift", "sprayed"),
    ("paraquat", "sprayed"),
    ("pre-harvest spray", "sprayed"),
    ("gaucho", "treated_seed"),
    ("swept out of the drill", "treated_seed"),
    ("from the drill box", "treated_seed"),
    ("cleaned out the planter", "treated_seed"),
    ("air seeder cleanout", "treated_seed"),
    ("seed corn left over", "treated_seed"),
    ("seed wheat, tag says treated", "treated_seed"),
    ("red seed in it", "treated_seed"),
    ("pinkish kernels", "treated_seed"),
    ("Cruiser", "treated_seed"),
    ("Phostoxin used", "fumigated"),
    ("fumitoxin tablets in", "fumigated"),
    ("Malathion dust on top", "protectant"),
    ("Actellic", "protectant"),
    ("Rumensin got in", "ionophore"),
    ("Coban premix", "ionophore"),
    ("CTC 400 g/t", "medicated"),
    ("Aureomycin", "medicated"),
    ("sulfa in it", "medicated"),
    ("dewormer", "medicated"),
    ("contains Tylan", "medicated"),
    ("old medicated feed mixed in", "medicated"),
    ("withdrawal 28 d", "medicated"),
    ("hold until tested", "do_not_feed"),
    ("quarantine", "do_not_feed"),
    ("wait for test", "do_not_feed"),
    ("don't use till test is back", "do_not_feed"),
    ("keep out of feed", "do_not_feed"),
    ("keep away from sows", "do_not_feed"),
    ("not for pigs", "do_not_feed"),
    ("cattle only", "other_animals"),
    ("dairy pellets, soybean base", "other_animals"),
    ("ewe nuts 18", "other_animals"),
    ("recalled by the maker", "do_not_feed"),
    ("expired 2024", "old"),
    ("out of date", "old"),
    ("bags wet and hard", "water"),
    ("went in wet", "water"),
    ("binned damp", "water"),
    ("damp on one side", "water"),
    ("tarp blew off in the rain", "water"),
    ("snow blew in", "water"),
    ("condensation under roof", "water"),
    ("salmonella positive", "germs"),
    ("botulism", "germs"),
    ("bakery waste with chocolate", "cocoa"),
    ("kitchen scraps", "swill"),
    ("restaurant waste", "swill"),
    ("green potatoes in it", "waste_plant"),
    ("lead shot", "contaminant"),
    ("battery acid", "poison"),
    ("transformer oil", "poison"),
    ("spray tank leaked in", "poison"),
    ("chemical jug", "poison"),
    ("road salt", "poison"),
    ("lots of nightshade", "poisonous_seed"),
    ("jimson weed seeds", "poisonous_seed"),
    ("cocklebur", "poisonous_seed"),
    ("wild garlic", "weed_seeds"),
    ("wild mustard heavy", "weed_seeds"),
    ("gossypol", "gossypol"),
    ("rancid", "rancid"),
    ("smells of paint", "rancid"),
    ("bin fire last winter", "heated"),
    ("temp 42 C at centre", "heated"),
    ("temp 110 F", "heated"),
    ("went hot in May", "heated"),
    ("pigs refused it", "sick"),
    ("two hens died on it", "sick"),
    ("DON 2 to 4 ppm", "mycotoxin"),
    ("vom was about 2", "mycotoxin"),
    ("fuel leaked from the tractor", "poison"),
    ("temperature at the centre 41 °C", "heated"),
    ("No 2 corn, musty", "mould"),
    ("urea prills in the pit", "urea"),
    ("untested for DON", "mycotoxin"),
    ("hailed on 3 July", "weathered"),
    # as people write them: slips of the pen, what happened to it, what somebody said
    ("salvaged from flooded elevator", "salvaged"),
    ("rescued from the burned barn", "heated"),
    ("moldie smell at the spout", "mould"),
    ("rotton in the middle", "mould"),
    ("weavils since June", "insects"),
    ("rat posion was stored beside it", "rodents"),
    ("sacks of seed wheat, dresed, got mixed in", "treated_seed"),
    ("dressed with something blue", "treated_seed"),
    ("seed left from drilling, orange coloured", "treated_seed"),
    ("ergots in the rye strip", "ergot"),
    ("fumagated on the 3rd", "fumigated"),
    ("gas tablets put in by the elevator", "fumigated"),
    ("sprayed off 5 days before combining", "sprayed"),
    ("deisel from the tractor ran in", "poison"),
    ("caught fire in the dryer", "heated"),
    ("hail flattened it and it sprowted", "weathered"),
    ("sprouts an inch long", "sprouted"),
    ("chitted grain from the low end", "sprouted"),
    ("river came through in May", "water"),
    ("roof blew off and it rained in", "water"),
    ("mice nests along the floor", "rodents"),
    ("cat got in over winter", "rodents"),
    ("bird dirt on top", "rodents"),
    ("a dead raccoon", "rodents"),
    ("hens off feed after this load", "sick"),
    ("sow aborted after eating it", "sick"),
    ("vet says no", "do_not_feed"),
    ("on hold until the lab calls", "do_not_feed"),
    ("glass from the yard light", "glass"),
    ("wire pieces off the belt", "glass"),
    ("bleach spilled near the pit", "poison"),
    ("hairy vetch about 5 %", "weed_seeds"),
    ("nightshade berries in the beans", "weed_seeds"),
    ("DON 3 ppm", "mycotoxin"),
    ("vomatoxin strip test positive", "mycotoxin"),
    ("smells sour and warm", "mould"),
    ("crusty layer on top", "mould"),
    ("bugs", "insects"),
    ("earthy smell", "mould"),
    ("truck rolled over in the ditch", "salvaged"),
    ("salvage grain", "salvaged"),
    ("salvage corn, river was over the road", "salvaged"),
    ("weevel in it", "insects"),
    ("rat poisen blocks put out on top", "rodents"),
    ("ergot bodies in the screenings pile", "ergot"),
    ("fumigated 3 Oct, not aired yet", "fumigated"),
    ("hairy vetch in it", "weed_seeds"),
    ("water stood in the bin", "water"),
    ("birds got in and messed on it", "rodents"),
    ("lead paint flakes from the old bin", "poison"),
    ("tail end of the seed dresser", "treated_seed"),
    ("chickens would not eat it", "sick"),
    ("a jar broke in the pit", "glass"),
    ("nail found by the magnet", "glass"),
    ("hold this one", "do_not_feed"),
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
    "DON nd",
    "DON n.d.",
    "DON <0.2 ppm",
    "DON < 0.1",
    "DON 0.0",
    "DON: none",
    "no DON",
    "DON neg",
    "DON negative",
    "DON below detection",
    "DON not detected",
    "vom none",
    "vom: nil",
    "no vom, no afla",
    "free of vomitoxin",
    "aflatoxin: ND",
    "aflatoxin < 1 ppb",
    "Don took the sample",
    "Don's field",
    "Don and Mary",
    "don't know yet",
    "Donation",
    "no urea",
    "urea free",
    "fertilized with urea at 100 kg/ha",
    "80 kg N/ha urea in spring",
    "fertilizer 80 kg N/ha",
    "fertilizer trial plot",
    "top dressed with urea",
    "side dressed",
    "not sprouted",
    "no sprouts",
    "unsprouted",
    "no sprouting",
    "sprout damage none",
    "not frosted",
    "no smell",
    "smells fine",
    "smells sweet",
    "smells good",
    "good smell",
    "no odor",
    "dry and bright",
    "no chocolate",
    "seed wheat field",
    "grown for certified seed",
    "kept for seed",
    "bin run",
    "drilled 12 May",
    "planted with the air drill",
    "planted 1 May, combined 3 Sept",
    "diesel dried",
    "fuel used 200 L",
    "dryer at 90 C",
    "dried at 60 C",
    "temp 8 C",
    "temp 45 F",
    "test weight 60",
    "wet year",
    "wet harvest",
    "wet autumn, dried down",
    "dried from 18 to 13",
    "damp morning",
    "no rain",
    "rained on in the swath",
    "no pesticide used",
    "no herbicides, no fungicides",
    "organic, not sprayed",
    "treated with inoculant",
    "inoculated",
    "peas inoculated",
    "propionic acid 0.5 %",
    "preservative",
    "greasy? no",
    "hydraulic lift bin",
    "gas dried",
    "natural gas dryer",
    "ammonia none",
    "stones",
    "mustard 2 %",
    "volunteer canola",
    "wild oats",
    "volunteer rye",
    "kochia",
    "green peas",
    "red lentils",
    "black oats",
    "blue barley",
    "blue lupin",
    "white lupins",
    "yellow peas",
    "brown flax",
    "red clover",
    "salt free",
    "40 % protein",
    "0 glass",
    "mix of 5",
    "bin no. 4, good",
    "No 2 yellow corn",
    "#2 corn",
    "Grade 1, no issues",
    "no problems",
    "nothing found",
    "No 2 corn, clean",
    "0 % sprouted",
    "0 pieces of glass",
    "vom n/d",
    "zea mays 90 days",
    "as I recall it was dry",
    "smells like new hay",
    "keep for sows",
    "hold for sows in winter",
    "DON under 0.5 ppm",
    "DON 0.0 ppm",
    "temperature 12 C",
    "fertilizer: no",
    "the neighbours treated us",
    "no rat droppings, no mice",
    "not mouldy anywhere",
    "weevils none",
    "Hot Springs road field",
    "Pink House farm",
    "Rat Creek field",
    "field by the old mill",
    "grown without herbicide",
    "herbicide: none",
    "no fungicide used",
    "hail damage: none",
    "dry and bright, no smell",
    "tested clean for vomitoxin",
    "ergot not found",
    "never wet",
    "cleaned twice, good colour",
    "red clover underseeded",
    "blue lupin border cut off",
    "planted 5 May, cut 2 Aug",
    "combined by cousin Frost",
    "sample mailed to lab",
    "fans run at night",
    "top levelled",
    "bin swept before filling",
    "heat treated? no",
    "seed was untreated",
    "bought from Poisson farm",
    "certified organic",
    "best field of the year",
    "good as gold",
    "early oats, late peas",
    "60:40 by seed weight",
    "weight ticket in the glove box",
    "moved from bin 2",
    "bushel weight good",
    "Metal Creek pasture",
    "purple gate, second bin on the left",
    "pink sunset field",
    "treated us well",
    "Mouse Creek quarter",
    "Glass farm bottom",
    "Poison Ivy Hill field",
    "Warm Springs road",
    "Rat Tail field",
    "hail missed us",
    "Beetle Road",
    "variety Pink Lady oats",
    "bin was washed with hot water and dried",
    "field next to the heat plant",
]


ORDINARY = [
    "2025 crop, field 7, spring wheat and peas, volunteer barley",
    "Dried at 45 C to 13 %, aerated in Nov, 5 C",
    "for the sows, save some for turkeys",
    "rodent stations round the bin, fan ran all winter",
    "fungicide sprayed at flag leaf, herbicide in spring",
    "burned down with glyphosate before seeding",
    "hog manure on field in fall, no-till",
    "inoculated peas, fert 80-30-0, 120 lb/ac seeded 1 May",
    "trucked by Hansen, unloaded with the vac",
]
"""What stands in most notes and means nothing here."""


@pytest.mark.parametrize(("text", "means"), SAID)
def test_what_is_said(library, text, means):
    assert means in [danger.row.means for danger in dangers_in(text, GRAIN, library)]


@pytest.mark.parametrize(
    "text", ["hot section of the bin", "warm quarter of it", "glass by the road", "rat in a field bin"]
)
def test_a_part_of_a_bin_is_no_name_of_a_field(library, text):
    assert dangers_in(text, GRAIN, library)


@pytest.mark.parametrize("text", [*DENIED, *ORDINARY])
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


@pytest.mark.parametrize(
    ("text", "figure"),
    [
        ("DON 3.2", 3.2),
        ("vom: 1,200 ppb (strip test)", 1.2),
        ("DON 2-4 ppm", 4.0),
        ("afla 35 ug/kg", 0.035),
        ("ergot 2 g/kg", 0.2),
        ("DON < 5 ppm", 5.0),
        ("high DON", None),
    ],
)
def test_the_figure_beside_a_contaminant_is_read(library, text, figure):
    (danger,) = dangers_in(text, GRAIN, library)
    assert danger.figure == (pytest.approx(figure) if figure else None)


@pytest.mark.parametrize(("text", "counts"), [("DON <0.9 ppm", False), ("DON <1 ppm", True), ("afla <20", True)])
def test_a_figure_said_to_be_below_every_published_limit_is_no_question(library, text, counts):
    """The lowest for deoxynivalenol is the EU guidance for pigs, 0.9 mg/kg (eu_guid_current2020)."""
    assert bool(dangers_in(text, GRAIN, library)) == counts


@pytest.mark.parametrize("text", ["Don's bin", "Don and Mary", "ask Don", "asfalt yard", "ctc of the meter"])
def test_a_word_in_capitals_counts_only_as_written_in_capitals(library, text):
    assert not dangers_in(text, GRAIN, library)


def test_what_is_bought_has_no_hold_to_set(demo_book, library):
    """The sheet supplements has no column hold: a musty lot was to have its hold set to mould."""
    (corn,) = [offer for offer in demo_book.supplements if offer.offer == "corn_bought"]
    for meaning in library.word_meanings.values():
        assert "hold" not in (meaning.do_bought or meaning.do) or meaning.means == "harmless"
    book = replace(demo_book, lots=(Lot(Place(), "L1", "corn_bought", date(2025, 9, 20), note="musty"),))
    (reason,) = label_reasons(corn, book, library)
    assert "take the lot out of the book" in reason.text


def test_no_feed_of_the_library_alarms_by_its_own_name(library):
    """An offer is named and labelled as the feed it is; raw soybeans say themselves that they are not to be fed."""
    names = {text: feed.feed for feed in library.feeds.values() for text in (feed.label, feed.feed)}
    names |= {
        word: row.means[0]
        for row in library.table("synonyms", Synonym)
        if row.kind == "feed" and row.means
        for word in row.names
    }
    assert {feed for text, feed in names.items() if dangers_in(text, OFFER, library)} == {"soybeans_raw"}


@pytest.mark.parametrize(("of", "said"), [("L1", 0), ("L2", 1)])
def test_a_result_in_the_note_on_a_delivery_is_looked_for_among_its_own(demo_book, library, of, said):
    (corn,) = [offer for offer in demo_book.supplements if offer.offer == "corn_bought"]
    lots = (Lot(Place(), "L1", "corn_bought", note="DON 2"), Lot(Place(), "L2", "corn_bought"))
    result = Assay(Place(), "", "deoxynivalenol", 2.0, "mg/kg", "as_fed", lot=of)
    book = replace(demo_book, lots=lots, assays=(*demo_book.assays, result))
    assert len(label_reasons(corn, book, library)) == said


@pytest.mark.slow
def test_a_library_goes_when_nobody_uses_it_any_more():
    """A program that opens book after book, each with a library of its own, kept them all for what they had read."""
    kept = []
    for _ in range(12):
        library = load_library()
        dangers_in("rats in it", GRAIN, library)
        kept.append(weakref.ref(library))
    del library
    gc.collect()
    assert sum(ref() is not None for ref in kept) <= 8
