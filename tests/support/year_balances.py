"""Every balance of a planned year, recomputed from its JSON and the book alone."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from math import ceil

import pytest


def balances(document, farm, taken=None):
    """Every balance of a plan, from its JSON and the book alone; `taken` are tonnes gone from the bins before it."""
    mixes = {mix["mix"]: mix for mix in document["mixes"]}
    eaten, drawn, bought = defaultdict(float), defaultdict(float), defaultdict(float)
    told = set()
    for use in document["uses"]:
        shares = {part["offer"]: part["share"] for part in mixes[use["mix"]]["parts"]}
        if use["bin"] is not None:
            assert use["tonnes"] == pytest.approx(shares[use["bin"]] * use["mix_tonnes"], abs=1e-3)
        key = (use["month"], use["group"], use["mix"])
        if key not in told:
            told.add(key)
            eaten[use["mix"]] += use["mix_tonnes"]
            for name, share in shares.items():
                (drawn if name in {row.bin for row in farm.book.bins} else bought)[use["month"], name] += (
                    share * use["mix_tonnes"]
                )
    for name, tonnes in eaten.items():
        assert tonnes == pytest.approx(mixes[name]["tonnes"], abs=1e-3)
        assert sum(part["share"] for part in mixes[name]["parts"]) == pytest.approx(1, abs=1e-9)
    purchases = {(row["month"], row["offer"]): row["tonnes"] for row in document["purchases"]}
    assert purchases == pytest.approx(_to_buy(bought, document, farm), abs=1e-3)
    for bin_ in {row["bin"] for row in document["stocks"]}:
        left = farm.bin(bin_).tonnes - (taken or {}).get(bin_, 0.0)
        for row in (row for row in document["stocks"] if row["bin"] == bin_):
            left -= drawn[row["month"], bin_]
            assert row["tonnes"] == pytest.approx(left, abs=1e-3)
            assert left > -1e-3
    for offer in farm.book.supplements:
        rows = [row for row in document["purchases"] if row["offer"] == offer.offer]
        used = sum(row["tonnes"] for row in rows)
        assert offer.stock_kg is None or used <= offer.stock_kg / 1000 + 1e-3
        assert not offer.until_date or all(date.fromisoformat(row["order_by"]) <= offer.until_date for row in rows)
        paid, price = sum(row["paid"] for row in rows), offer.price_per_tonne
        whole = sum(row["packages"] for row in rows) * offer.package_kg / 1000 if offer.package_kg else used
        assert paid == pytest.approx(whole * price)
        if offer.package_kg:
            assert sum(row["packages"] for row in rows) == ceil(used * 1000 / offer.package_kg - 1e-6)
    mixing = (farm.settings.mixing_cost or 0.0) * (1000 / 907.18474 if farm.settings.units == "us" else 1)
    selling = (farm.settings.selling_cost or 0.0) * (1000 / 907.18474 if farm.settings.units == "us" else 1)
    prices = {row.bin: max((row.sale_price_per_tonne or 0.0) - selling, 0.0) for row in farm.book.bins}
    prices |= {row.offer: row.price_per_tonne for row in farm.book.supplements}
    cost = sum(
        mix["tonnes"] * (mixing + sum(part["share"] * prices[part["offer"]] for part in mix["parts"]))
        for mix in document["mixes"]
    )
    assert document["cost"] == pytest.approx(cost, rel=1e-6, abs=1e-3)


def _to_buy(used, document, farm):
    """What is used of the offers by month and offer beyond what was delivered before the plan and not mixed since."""
    first, found = date.fromisoformat(document["from"]), {}
    for month, name in sorted(used):
        flows = [each for each in farm.book.flows if each.name == name and each.on and each.on < first]
        delivered = sum(each.kg for each in flows if each.kind == "delivered")
        mixed = sum(each.kg for each in flows if each.kind == "mixed")
        there = max(delivered - mixed, 0.0) / 1000 if delivered else 0.0
        before = sum(tonnes for (m, n), tonnes in used.items() if n == name and m < month)
        beyond = max(before + used[month, name] - there, 0.0) - max(before - there, 0.0)
        if beyond > 1e-9:
            found[month, name] = beyond
    return found
