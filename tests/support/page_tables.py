"""What each table of a farm's page should hold, made from the JSON of the commands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise

import pytest
from page_walk import Walk, numbers

from rationlp.book.records import Group
from rationlp.book_units import BookUnits, units_of
from rationlp.farm import Farm
from rationlp.numbers import figure, largest_first, money, percent, plain
from rationlp.report.page import Report
from rationlp.units import KG_PER_TONNE, Z90


@dataclass
class Told:
    """The page of a book, taken apart, and what the commands say of the book."""

    farm: Farm
    report: Report
    walk: Walk
    said: dict
    words: str

    @property
    def units(self) -> BookUnits:
        return units_of(self.farm.settings)

    def day(self, iso: str | None) -> str:
        return "" if iso is None else date.fromisoformat(iso).strftime(self.farm.settings.date_format)

    def ration(self, place: str) -> dict:
        return next(row for row in self.said["ration"]["rations"] if row["id"] == place.removeprefix("ration-"))

    def of(self, command: str, rows: str, **where: object) -> list[dict]:
        """The rows of an answer that hold these values."""
        found = [row for row in self.said[command][rows] if all(row[name] == value for name, value in where.items())]
        assert found, (command, rows, where)
        return found


# What each table should hold, by its caption: rows of cells; of a cell that has words too, the numbers count -------


def _bins(told, table):
    for name in dict.fromkeys(name for case in told.report.cases for name in case.bins):
        (bin_,), (end,) = told.of("bin", "bins", bin=name), told.of("year", "runs_out", bin=name)
        there, sd = told.units.bulk(bin_["tonnes"]), bin_["tonnes_sd"]
        lasts = "to the harvest"
        if end["on"]:
            days = (date.fromisoformat(end["on"]) - told.report.front.since).days
            latest = f"at the latest {told.day(end['latest'])}" if end["latest"] else "it may last"
            earliest = told.day(end["earliest"]) or "not known"
            lasts = f"{days} days, to {told.day(end['on'])} (at the earliest {earliest}"
            lasts += f", {latest})" if end["latest"] else "; it may last)"
        label = f"{bin_['label']} ({name}) known by {told.report.front.bins[0].known_by}"
        yield label, f"{there} ± {told.units.bulk(Z90 * sd, 2)}" if sd is not None else there, lasts


def _mix(told, table):
    ration = told.ration(table.place)
    for part in sorted((p for p in ration["mix"] if p["share"]), key=lambda p: largest_first(p["share"])):
        mass = part["share"] * told.farm.settings.batch_kg / told.units.mass_kg
        yield f"{part['offer']} {part['label'].split(' (')[0]}", plain(mass, 4), percent(part["share"])


def holds(told, table):
    """A tenth of each bound by its shadow price, at the energy of the ration where that is money per Gcal."""
    ration = told.ration(table.place)
    for row in (*ration["requirements"], *ration["ratios"], *ration["limits"]):
        if row["binding"] and row["shadow_price"]:
            gcal_in_a_tonne = ration["energy_kcal_kg"] / 1000 if row["shadow_price_of"] == "gcal" else 1.0
            if "gives_pct" in row:
                size, kind = row["gives_pct"], "most" if row["max_pct"] is not None else "least"
                bound = f"at {kind} {figure(size, 3)} %"
            else:
                size = row[row["binding"]]
                bound = f"{row['binding']} {figure(size)} {row['unit']}"
            price = 0.1 * abs(row["shadow_price"] * size) * gcal_in_a_tonne
            yield f"{row['label']}, {bound}", told.units.price(price)


def _requirements(told, table):
    for row in told.ration(table.place)["requirements"]:
        chance = "" if row["probability"] is None else f"{100 * row['probability']:.0f}"
        bounds = figure(row["minimum"]), figure(row["maximum"])
        supplies = "not known" if row["gives"] is None else figure(row["gives"])
        yield row["label"], row["unit"], *bounds, supplies, figure(row["sd"] or None, 2), chance, None


def _to_sign(told, table):
    rows = told.ration(table.of)["requirements"]
    for row in sorted(rows, key=lambda row: (row["meets"] is not False, not row["binding"]))[:14]:
        stands = "MISSED" if row["meets"] is False else "holds the mix" if row["binding"] else ""
        cells = row["label"], row["unit"], figure(row["minimum"]), figure(row["maximum"]), figure(row["gives"])
        yield *cells, stands


def _offers(told, table):
    ration, price = told.ration(table.place), told.units.price
    rows = told.of("offers", "offers", stage=ration["stage"], bin=ration["bin"])
    for row in sorted(rows, key=lambda row: row["share"], reverse=True):
        without = "no ration" if row["indispensable"] else price(row["cost_without"]) if row["in_mix"] else ""
        enters = "" if row["in_mix"] else _below(row["enters_below"], price)
        share = percent(row["share"]) if row["in_mix"] else ""
        yield (
            row["offer"],
            share,
            price(row["price"]),
            _span(row["mix_stays_from"], row["mix_stays_to"], price),
            without,
            enters,
        )


def _span(low, high, price):
    if high is None:
        return "any price" if low is None or low <= 0 else f"{price(low)} and up"
    return f"up to {price(high)}" if low is None or low <= 0 else f"{price(low)} to {price(high)}"


def _below(enters, price):
    return "not at any price" if enters is None or enters <= 0 else price(enters)


def amount(told, tonnes):
    heavy = tonnes * KG_PER_TONNE >= told.units.price_kg
    return told.units.bulk(tonnes) if heavy else told.units.weight(tonnes * KG_PER_TONNE, 3)


def _crops(told, table):
    (bin_,) = told.of("bin", "bins", bin=table.of)
    for row in bin_["crops"]:
        yield row["label"], percent(row["sorted_share"]), percent(row["share"]), percent(Z90 * row["sd"])


def _nutrients(told, table):
    (bin_,) = told.of("bin", "bins", bin=table.of)
    for row in bin_["nutrients"]:
        yield row["label"], row["unit"], figure(row["value"]), figure(Z90 * row["sd"], 2), row["from"]


def _fed_first(told):
    """The rations of the cards, with the tonnes that the groups of the book eat of each."""
    for place in (each.first.place for each in told.report.cards):
        ration = told.ration(place)
        groups = [group for group in told.farm.book.groups if group.stage == ration["stage"]]
        yield ration, sum(eaten(group, ration) for group in groups)


def eaten(group: Group, ration: dict) -> float:
    days = (group.to_date - group.from_date).days + 1
    return group.head * days * (group.feed_kg_per_head_per_day or ration["feed_kg_per_head_per_day"]) / KG_PER_TONNE


def _over_all(told):
    """Each offer over the rations of the cards, from the rows of `rationlp offers`."""
    for offer in told.farm.book.supplements:
        tonnes, rows = 0.0, []
        for ration, fed in _fed_first(told):
            every = told.of("offers", "offers", stage=ration["stage"], bin=ration["bin"])
            found = [row for row in every if row["offer"] == offer.offer]  # none where it may not be fed
            tonnes += sum(fed * row["share"] for row in found if row["in_mix"])
            rows += found
        if rows:
            yield offer, tonnes, rows


def _bought(told, table):
    price = told.units.price
    found = [each for each in _over_all(told) if any(row["in_mix"] for row in each[2])]
    for offer, tonnes, rows in sorted(found, key=lambda each: -each[1] * each[0].price_per_tonne):
        stays = [[row[end] for row in rows if row[end] is not None] for end in ("mix_stays_from", "mix_stays_to")]
        low, high = max(stays[0], default=None), min(stays[1], default=None)
        worths = [row["worth_used"] for row in rows if row["in_mix"] and row["worth_used"] is not None]
        needed = [row["stage"] for row in rows if row["indispensable"]]
        worth = f"{price(min(worths))} to {price(max(worths))}" if worths else ""
        if needed:
            more = f" and {len(needed) - 3} more" if len(needed) > 3 else ""
            worth = f"no ration without it: {', '.join(needed[:3])}{more}"
        used = str(sum(row["in_mix"] for row in rows))
        label = f"{offer.offer} {rows[0]['label']}"
        yield label, price(rows[0]["price"]), amount(told, tonnes), used, _span(low, high, price), worth


def idle(told, table):
    found = []
    for offer, _, rows in _over_all(told):
        if not any(row["in_mix"] for row in rows):
            best = max(rows, key=lambda row: row["enters_below"] or 0.0)
            found.append((offer, rows[0], best if (best["enters_below"] or 0.0) > 0 else None))
    order = {row[0].split(" ")[0]: place for place, row in enumerate(table.rows[1:])}
    for offer, row, best in sorted(found, key=lambda each: order[each[0].offer]):
        comes = _below(best["enters_below"] if best else None, told.units.price)
        yield f"{offer.offer} {row['label']}", told.units.price(row["price"]), comes, best["stage"] if best else ""


def _animals(told, table):
    """No month's average is over the most head at once; the first day is in the first month, the last in the last."""
    form = told.farm.settings.date_format
    for name, head, first, last in table.rows[1:]:
        months = told.of("year", "animals", group=name)
        assert max(row["head"] for row in months) <= int(head) + 0.5
        ends = [f"{datetime.strptime(day, form):%Y-%m}" for day in (first, last)]
        assert ends == [months[0]["month"], months[-1]["month"]]
        yield name, head, first, last


def _month(label):
    return f"{datetime.strptime(label, '%Y-%m'):%b %Y}"


def stock(told, table):
    for row in told.of("year", "stocks", bin=table.of):
        spread = told.units.bulk(Z90 * row["sd"], 2) if row["tonnes"] else ""
        yield _month(row["month"]), told.units.bulk(row["tonnes"]), spread


def _mixes(told, table):
    for mix in told.said["year"]["mixes"]:
        parts = sorted(mix["parts"], key=lambda part: -part["share"])
        made = ", ".join(f"{part['offer']} {figure(100 * part['share'], 3)}" for part in parts)
        tonnes, cost = told.units.bulk(mix["tonnes"]).split(" ")[0], told.units.price(mix["cost_per_tonne"])
        yield mix["mix"], None, told.day(mix["first_fed"]), tonnes, cost, mix["verdict"]["verdict"].upper(), made


def _to_buy(told, table):
    month = datetime.strptime(table.caption, "To buy in %b %Y")
    rows = told.of("year", "purchases", month=f"{month:%Y-%m}")
    for row in sorted(rows, key=lambda row: row["cost"], reverse=True):
        yield (
            row["label"],
            told.day(row["order_by"]),
            amount(told, row["tonnes"]),
            str(row["packages"] or ""),
            money(row["cost"]),
        )


def _uses(told, table):
    for use in told.said["year"]["uses"]:
        masses = (told.units.bulk(use[name]).split(" ")[0] for name in ("tonnes", "mix_tonnes"))
        yield _month(use["month"]), use["group"], use["mix"], use["bin"] or "none", *masses


def batches(told, table):
    for batch in reversed(told.said["trace"]["batches"]):
        mass = plain(sum(part["kg"] for part in batch["parts"]) / told.units.mass_kg, 4)
        eaten = f"{told.day(batch['eaten_from'])} to {told.day(batch['eaten_to'])}" if batch["eaten_from"] else ""
        yield batch["batch"], told.day(batch["made_on"]), ", ".join(batch["groups"]), mass, None, eaten


def _steps(told, table):
    """Of the prices of an offer each piece begins where the last one ends; in the piece of today's price stands the
    ration of today, at its cost; and over a piece the cost moves by the share of the offer."""
    ration = told.ration(table.of)
    mix = {part["offer"]: part for part in ration["mix"]}
    today = told.units.price_value(ration["cost_per_tonne"])
    numbers_of = [
        [row[0].split(" ")[0], *(float(n.replace(",", "")) for n in numbers(" ".join(row[1:])))]
        for row in table.rows[1:]
    ]
    for (name, low, high, cost_low, cost_high, share, _), row in zip(numbers_of, table.rows[1:], strict=True):
        assert cost_high - cost_low == pytest.approx(share / 100 * (high - low), abs=0.011 + 6e-5 * (high - low)), row
        if "today" in row[0]:
            part = mix[name]
            price = told.units.price_value(part["price_per_tonne"])
            assert row[0].endswith(money(price)) and row[3] == percent(part["share"])
            assert row[4] == percent(ration["home_grown_share"], 1)
            assert cost_low + share / 100 * (price - low) == pytest.approx(today, abs=0.011 + 6e-5 * (price - low)), row
    for before, after in pairwise(numbers_of):
        assert before[0] != after[0] or before[2] == after[1]
    yield from table.rows[1:]


def _recalled(told, table):
    """Weights of figures are of no command but the review copy, which the page is made from."""
    weights = [float(row[2].replace(",", "")) for row in table.rows[1:]]
    assert weights == sorted(weights, reverse=True)
    known = {told.units.price(row.weight) for each in told.report.review.rations for row in each.recalled}
    assert {row[2] for row in table.rows[1:]} <= known
    yield from table.rows[1:]


TABLES = {
    r"The bins; a ± holds .*": _bins,
    r"(Nearest mix|Mix) of [\d,.]+ (kg|lb)": _mix,
    r"What holds the cost up; a tenth of it costs, in .*": holds,
    r"Requirements against what the mix supplies, as fed": _requirements,
    r"Requirements that hold the mix, those missed, and the first others": _to_sign,
    r"What each offer does in this ration; prices in .*": _offers,
    r"Crops by mass, as fed; a ± holds 9 times in 10": _crops,
    r"Nutrients as fed": _nutrients,
    r"What is bought, the most money first; prices in .*": _bought,
    r"Offers in no mix; prices in .*": idle,
    r"Animals: most head at once, first and last day fed": _animals,
    r".* at the end of each month, in (t|ton); a ± holds 9 times in 10": stock,
    r"In the order in which they are first fed": _mixes,
    r"To buy in \w{3} \d{4}": _to_buy,
    r"Grain drawn and mix eaten, in (t|ton)": _uses,
    r"The newest batches|Older batches": batches,
    r"From price to price, in .*": _steps,
    r"Figures from memory: .*|Lighter figures from memory": _recalled,
}
