"""Slips in assays, offers, own figures and groups: each gives exactly its line, in both kinds of book."""

from __future__ import annotations

from typing import Any

import pytest

# id: (what to do to the demo, [(severity and place, words of `found`, words of `do`), ...])
CASES: dict[str, tuple[Any, list[tuple[str, str, str]]]] = {
    # assays
    "assay without a basis": (
        lambda d: d.set("assays", 3, "basis", ""),
        [("error assays!E3", "no basis", "Fill in basis")],
    ),
    "assay of no sample": (
        lambda d: d.set("assays", 3, "sample", "n7"),
        [("error assays!A3", "the sample 'n7'", "Add it to samples")],
    ),
    "unknown nutrient": (
        lambda d: d.set("assays", 3, "nutrient", "crude_protien"),
        [("error assays!B3", "'crude_protien'", "Did you mean crude_protein?")],
    ),
    "unknown unit": (
        lambda d: d.set("assays", 3, "unit", "% of DM"),
        [("error assays!D3", "the unit '% of DM'", "say the basis")],
    ),
    "unit of something else": (
        lambda d: d.set("assays", 3, "unit", "kcal/kg"),
        [("error assays!D3", "kcal/kg for crude_protein", "Correct the unit")],
    ),
    "more than there can be": (
        lambda d: d.set("assays", 3, "value", "149"),
        [("error assays!C3", "149 % of crude_protein", "Correct the value")],
    ),
    "an assay as a share": (
        lambda d: d.set("assays", 3, "value", "0.149"),
        [("error assays!C3", "0.149 % crude_protein", "Write 14.9 if")],
    ),
    "negative assay": (lambda d: d.set("assays", 3, "value", "-14.9"), [("error assays!C3", "-14.9", "Correct it")]),
    # offers
    "two offers of one name": (
        lambda d: d.set("supplements", 3, "offer", "Soy_pressed"),
        [("error supplements!A3", "a second row for offer 'Soy_pressed'", "another name")],
    ),
    "an offer named like a bin": (
        lambda d: d.set("supplements", 2, "offer", "North"),
        [("error supplements!A2", "named like the bin 'north' (bins!A2)", "Rename the offer")],
    ),
    "unknown feed": (
        lambda d: d.set("supplements", 2, "feed", "soybean_meal_expellerr"),
        [("error supplements!B2", "'soybean_meal_expellerr'", "Did you mean soybean_meal_expeller")],
    ),
    "no price": (
        lambda d: d.set("supplements", 2, "price", ""),
        [("error supplements!D2", "no price", "Fill in price")],
    ),
    "negative price": (
        lambda d: d.set("supplements", 2, "price", "-468"),
        [("error supplements!D2", "-468", "Correct it")],
    ),
    "price in words": (
        lambda d: d.set("supplements", 2, "price", "468 or so"),
        [("error supplements!D2", "'468 or so'", "number alone")],
    ),
    "price for nothing": (
        lambda d: d.set("supplements", 4, "per_mass", "0 kg"),
        [("error supplements!E4", "'0 kg'", "check its unit")],
    ),
    "floor above cap": (
        lambda d: d.set("supplements", 2, "min_pct", "30").set("supplements", 2, "max_pct", "20"),
        [("error supplements!H2", "min_pct 30 above max_pct 20 (I2)", "Correct one")],
    ),
    "floors above 100": (
        lambda d: d.set("supplements", 2, "min_pct", "60").set("supplements", 3, "min_pct", "50"),
        [("error supplements!H3", "adds up to 110 %", "Lower some")],
    ),
    "cap above 100": (
        lambda d: d.set("supplements", 2, "max_pct", "101"),
        [("error supplements!I2", "101", "Correct it")],
    ),
    "yes or no": (
        lambda d: d.set("supplements", 2, "organic", "maybe"),
        [("error supplements!K2", "'maybe'", "Write yes or no")],
    ),
    # own feeds
    "own feed on dry matter without it": (
        lambda d: d.add(
            "own_feeds", feed="pea_screenings", nutrient="lysine", value="1.1", unit="%", basis="dry_matter"
        ).set("supplements", 9, "feed", "pea screenings"),
        [("error own_feeds!E4", "'pea_screenings' on dry_matter, without its dry matter", "Add its dry matter")],
    ),
    "own feed not used": (
        lambda d: d.add("own_feeds", feed="pea_feild", nutrient="dry_matter", value="87", unit="%", basis="as_fed"),
        [
            (
                "warning own_feeds!A4",
                "'pea_feild', which is neither offered nor in a bin",
                "Did you mean peas_field (Field peas, white-flowered)?",
            )
        ],
    ),
    "own figure twice": (
        lambda d: d.add("own_feeds", feed="peas_field", nutrient="crude_protein", value="22", unit="%", basis="as_fed"),
        [("error own_feeds!B4", "a second row for feed 'peas_field', nutrient 'crude_protein'", "one row of the two")],
    ),
    "new nutrient in two units": (
        lambda d: (
            d.add("own_feeds", feed="peas_field", nutrient="tannin", value="1", unit="%", basis="as_fed")
            .add("own_feeds", feed="corn", nutrient="tannin", value="2", unit="g/kg", basis="as_fed")
            .add("own_stages", stage="sw_gro_25_50", nutrient="tannin", maximum="2", unit="%", per="kg")
        ),
        [("error own_feeds!D5", "unit g/kg for tannin, which has % at own_feeds!D4", "one unit")],
    ),
    "new nutrient on two bases": (
        lambda d: (
            d.add("own_feeds", feed="peas_field", nutrient="tannin", value="1", unit="%", basis="as_fed")
            .add("own_feeds", feed="corn", nutrient="tannin", value="2", unit="%", basis="dry_matter")
            .add("own_stages", stage="sw_gro_25_50", nutrient="tannin", maximum="2", unit="%", per="kg")
        ),
        [("error own_feeds!E5", "basis dry_matter for tannin, which has as_fed at own_feeds!E4", "one basis")],
    ),
    "a slip in a nutrient": (
        lambda d: d.add("own_feeds", feed="peas_field", nutrient="lysin", value="1.5", unit="%", basis="as_fed"),
        [("warning own_feeds!B4", "a new nutrient 'lysin', used once", "Did you mean lysine?")],
    ),
    "dry matter of nothing": (
        lambda d: d.set("own_feeds", 2, "value", "0"),
        [("error own_feeds!C2", "dry matter of 0 %", "Correct")],
    ),
    # own stages and limits
    "requirement of nothing": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", unit="%", per="kg"),
        [("error own_stages!C2", "neither minimum nor maximum", "Fill one in")],
    ),
    "minimum above maximum": (
        lambda d: d.add(
            "own_stages", stage="hen_peak", nutrient="calcium", minimum="4.5", maximum="4", unit="%", per="kg"
        ),
        [("error own_stages!C2", "minimum 4.5 above maximum 4 (D2)", "Correct one")],
    ),
    "per nothing": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", minimum="4", unit="%"),
        [("error own_stages!F2", "no per", "Fill in per")],
    ),
    "a concentration per day": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", minimum="4", unit="%", per="day"),
        [("error own_stages!E2", "the unit '%'", "state it per kg")],
    ),
    "per mcal of what": (
        lambda d: d.add("own_stages", stage="our_hens", nutrient="calcium", minimum="1.4", unit="%", per="mcal"),
        [("error own_stages!F2", "calcium per mcal, in a stage without an energy", "Add the energy row")],
    ),
    "energy per energy": (
        lambda d: d.add(
            "own_stages", stage="hen_peak", nutrient="amen_poultry", minimum="1", unit="kcal/kg", per="mcal"
        ),
        [("error own_stages!F2", "the energy amen_poultry per mcal", "State the energy per kg")],
    ),
    "two energies": (
        lambda d: d.add(
            "own_stages", stage="our_hogs", nutrient="ne_pig", minimum="2300", unit="kcal/kg", per="kg"
        ).add("own_stages", stage="our_hogs", nutrient="me_pig", minimum="3200", unit="kcal/kg", per="kg"),
        [("error own_stages!B3", "me_pig, beside ne_pig in B2", "Delete the rows of one")],
    ),
    "per day of what": (
        lambda d: d.add("own_stages", stage="our_hens", nutrient="calcium", minimum="4", unit="g", per="day"),
        [("error own_stages!F2", "feed per day is not known", "Fill it in on groups")],
    ),
    "a slip in a stage": (
        lambda d: d.add("own_stages", stage="hen_peek", nutrient="calcium", minimum="4", unit="%", per="kg"),
        [("warning own_stages!A2", "a new stage 'hen_peek'", "Did you mean hen_peak?")],
    ),
    "requirement no feed has": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="xanthophyll", minimum="10", unit="mg/kg", per="kg"),
        [("warning own_stages!B2", "'xanthophyll', of which no feed has a figure", "Give the figures")],
    ),
    "requirement twice": (
        lambda d: d.add("own_stages", stage="hen_peak", nutrient="calcium", minimum="4", unit="%", per="kg").add(
            "own_stages", stage="hen_peak", nutrient="calcium", maximum="5", unit="%", per="kg"
        ),
        [
            (
                "error own_stages!F3",
                "a second row for stage 'hen_peak', nutrient 'calcium', per 'kg'",
                "one row of the two",
            )
        ],
    ),
    "limit of nothing": (
        lambda d: d.set("own_limits", 2, "max_pct", ""),
        [("error own_limits!C2", "neither min_pct nor max_pct", "Fill one in")],
    ),
    "limit on no feed": (
        lambda d: d.set("own_limits", 2, "feed", "tritical"),
        [("error own_limits!B2", "'tritical'", "Did you mean triticale?")],
    ),
    "limit for no stage": (
        lambda d: d.set("own_limits", 2, "stage", "hens"),
        [("error own_limits!A2", "the stage 'hens'", "")],
    ),
    # groups and what was weighed
    "unknown stage": (
        lambda d: d.set("groups", 2, "stage", "sw_nur_11_52"),
        [("error groups!B2", "'sw_nur_11_52'", "Did you mean sw_nur_11_25 (Late nursery / starter pig)")],
    ),
    "group twice": (
        lambda d: d.set("groups", 3, "group", "weaners"),
        [("error groups!A3", "a second row for group 'weaners'", "another name")],
    ),
    "days reversed": (
        lambda d: d.set("groups", 2, "to", "2025-10-01"),
        [("error groups!E2", "to 2025-10-01 before from 2025-10-06 (D2)", "Correct one")],
    ),
    "no animals": (lambda d: d.set("groups", 2, "head", "0"), [("error groups!C2", "0", "Correct it")]),
    "weighed what": (
        lambda d: d.add("actual", sheet="north hens", made_on="2025-10-01", feed="soy_presed", mass="50"),
        [("error actual!D2", "'soy_presed'", "Did you mean soy_pressed?")],
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_one_slip_gives_its_line(case, gives):
    gives(*CASES[case])
