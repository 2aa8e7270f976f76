"""One order for several beds: in words, as a table, and for a program."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from datetime import date
from typing import Any

from forecaster.plan.order import Entry, Order
from forecaster.words.as_json import rounded
from forecaster.words.book import one_line
from forecaster.words.buying import flats_words, how_many, money, weeks_words
from forecaster.words.layout import wrap
from forecaster.words.measures import mass
from forecaster.words.phrases import count, listed, say_day
from forecaster.words.plan import heap_words
from forecaster.words.plan_forms import heap_json, safe_cell

WIDEST, NARROWEST = 88, 40
COLUMNS = (
    "season", "crop", "variety", "colour", "begun", "plants", "spare", "flats", "flat_size",
    "bought", "left_over", "price", "cost", "currency", "or_flats", "weeks_least", "weeks_most",
    "order_by", "set_out", "beds",
)  # fmt: skip


def order_text(order: Order, today: date, width: int = 72) -> str:
    """Return the order as a page of plain words; the first sentence adds it up."""
    width = max(NARROWEST, min(WIDEST, width))
    blocks = [wrap(order_lead(order), width)]
    for season in dict.fromkeys(entry.season for entry in order.entries):
        year, name = season.split("-")
        lines = [f"For {name} {year}"]
        for entry in (one for one in order.entries if one.season == season):
            head, *behind = entry_words(entry, today)
            lines += [wrap(head, width, "  "), *(wrap(words, width, "    ") for words in behind)]
        blocks.append("\n".join(lines))
    bulk = [*(heap_words(heap) for heap in order.heaps), *_feed_words(order)]
    if order.heaps:
        bulk.append(
            f"{count(order.loads, 'load')} at the volume and weight set for the vehicle; its own "
            "label is the limit"
        )
    if bulk:
        blocks.append("\n".join(["Bulk", *(wrap(f"· {words}", width, "  ") for words in bulk)]))
    if order.left_out:
        out = [wrap(f"· {words}", width, "  ") for words in left_out_words(order)]
        blocks.append("\n".join(["Not in this order", *out]))
    return "\n\n".join(blocks) + "\n"


def order_lead(order: Order) -> str:
    """Return the sentence that adds the order up."""
    if not order.entries:
        return "Nothing to order."
    beds = {name for entry in order.entries for name, _ in entry.beds}
    flats = sum(entry.chosen.flats for entry in order.entries if entry.chosen is not None)
    many = count(order.plants, "plant") if order.plants else "Seed"
    words = f"{many} for {count(len(beds), 'bed')}"
    if order.spare:
        words += f" and {order.spare:,} spare"
    if flats:
        words += f", {count(flats, 'flat')}"
    for currency, amount in order.money.items():
        words += f", {money(amount, one_line(currency) or 'without a currency')}"
    unpriced = sum(
        entry.chosen is not None and entry.chosen.cost is None for entry in order.entries
    )
    if unpriced:
        words += f"; {count(unpriced, 'item')} without a price"
    return f"{words}."


def entry_words(entry: Entry, today: date) -> list[str]:
    """Return one thing to order: what, how much, in which flats, for which beds, by when."""
    name = ", ".join(one_line(part) for part in (entry.what, entry.variety, entry.colour) if part)
    many = how_many(entry.plants, "" if entry.flats else entry.use)
    spare = f" and {entry.spare:,} spare" if entry.spare else ""
    words = [f"{name}: {many}{spare}"]
    if entry.flats:
        words.append(flats_words(entry.flats, one_line(entry.currency)))
    beds = listed(
        [f"{one_line(bed)} {plants:,}" if plants else one_line(bed) for bed, plants in entry.beds]
    )
    words.append(f"in {beds}")
    when = []
    if entry.order_by is not None:
        late = entry.order_by < today
        passed = ", which has passed: ask what is in stock" if late else ""
        verb = "order by" if entry.flats else "have it by"
        when.append(f"{verb} {say_day(entry.order_by, today)}{passed}")
    if entry.set_out is not None:
        when.append(f"goes in about {say_day(entry.set_out, today)}")
    if entry.weeks is not None and entry.flats:
        when.append(f"growers need {weeks_words(entry.weeks)}")
    if when:
        words.append("; ".join(when))
    return words


def _feed_words(order: Order) -> list[str]:
    return [
        f"{mass(feed.mass_kg)} of {label}; the label's rate stands above this"
        for label, feed in order.feeds.items()
    ]


def left_out_words(order: Order) -> list[str]:
    """Say which beds nothing is ordered for, and why."""
    return [f"{one_line(bed)}: {why}" for bed, why in order.left_out]


def order_csv(order: Order) -> str:
    """Return the order as CSV, a row for each thing, by RFC 4180 with plain line ends."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(COLUMNS)
    for entry in order.entries:
        flat, (least, most) = entry.chosen, entry.weeks or (None, None)
        row = {
            "season": entry.season,
            "crop": entry.what,
            "variety": entry.variety,
            "colour": entry.colour,
            "begun": entry.use,
            "plants": entry.plants,
            "spare": entry.spare,
            "currency": entry.currency,
            "or_flats": "; ".join(f"{one.flats} of {one.size}" for one in entry.flats[1:]),
            "weeks_least": least,
            "weeks_most": most,
            "order_by": entry.order_by,
            "set_out": entry.set_out,
            "beds": "; ".join(f"{bed} {plants}" for bed, plants in entry.beds),
        }
        if flat is not None:
            row |= {
                "flats": flat.flats,
                "flat_size": flat.size,
                "bought": flat.plants,
                "left_over": flat.left_over,
                "price": flat.price,
                "cost": None if flat.cost is None else f"{flat.cost:.2f}",
            }
        writer.writerow([safe_cell(row.get(name)) for name in COLUMNS])
    return buffer.getvalue()


def order_json(order: Order) -> dict[str, Any]:
    """Return the order as JSON's own types: ISO dates, SI numbers, US units beside them."""
    return {
        "answer": order_lead(order),
        "plants": order.plants,
        "spare": order.spare,
        "money": [{"currency": c, "amount": round(a, 2)} for c, a in order.money.items()],
        "items": [
            {
                "season": entry.season,
                "what": entry.what,
                "variety": entry.variety,
                "colour": entry.colour,
                "begun": entry.use,
                "plants": entry.plants,
                "spare": entry.spare,
                "beds": [{"bed": bed, "plants": plants} for bed, plants in entry.beds],
                "flats": [
                    {k: rounded(v) if isinstance(v, float) else v for k, v in asdict(f).items()}
                    for f in entry.flats
                ],
                "currency": entry.currency,
                "weeks": None if entry.weeks is None else list(entry.weeks),
                "order_by": None if entry.order_by is None else entry.order_by.isoformat(),
                "set_out": None if entry.set_out is None else entry.set_out.isoformat(),
            }
            for entry in order.entries
        ],
        "bulk": [heap_json(heap) for heap in order.heaps],
        "loads": order.loads,
        "fertilizer": [
            {"label": label, "mass_kg": rounded(feed.mass_kg)}
            for label, feed in order.feeds.items()
        ],
        "left_out": [{"bed": bed, "why": why} for bed, why in order.left_out],
    }
