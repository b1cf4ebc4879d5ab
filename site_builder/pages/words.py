"""What pages say of derived numbers in words: how much of the label, at what rate, why a bound is a bound."""

from __future__ import annotations

from dataclasses import replace

from markupsafe import Markup

from site_builder.bench_tests import CapacityTest
from site_builder.derive.results import OneResult, Priced
from site_builder.measured import Measured
from site_builder.pages.safe_text import sentence
from site_builder.pages.switched import held
from site_builder.pages.text import Shown, converted_money, listed, money, quantity, significant, stated
from site_builder.records import ResultsFile

SHARES_OF_CAPACITY = {1.0: "its whole capacity", 1 / 2: "half of its capacity", 1 / 3: "a third of its capacity",
                      1 / 4: "a quarter of its capacity", 1 / 5: "a fifth of its capacity",
                      1 / 10: "a tenth of its capacity", 1 / 20: "a twentieth of its capacity"}  # fmt: skip
NEAR = 0.08  # a rate this close to a simple fraction is told as that fraction
NO_INSTRUMENT = "read on an unnamed instrument"
STATUS = {
    "planned": "planned, not tested yet",
    "testing": "on the bench now, not tested yet",
    "published": "tested",
    "withdrawn": "withdrawn",
}


def name_of(record: ResultsFile) -> str:
    """Maker and model, as on the case."""
    return f"{record.unit.maker} {record.unit.model}"


def plain(words: Markup) -> str:
    """Words of a page without their markup, on one line, with ordinary spaces."""
    return " ".join(words.striptags().split())


def rate_words(rate_it: float) -> str:
    """A rate spelled out: "a fifth of its capacity per hour".

    >>> rate_words(0.2), rate_words(0.022)
    ('a fifth of its capacity per hour', '0.022 of its capacity per hour')
    """
    nearest = min(SHARES_OF_CAPACITY, key=lambda share: abs(rate_it / share - 1))
    if abs(rate_it / nearest - 1) <= NEAR:
        return f"{SHARES_OF_CAPACITY[nearest]} per hour"
    return f"{significant(rate_it)} of its capacity per hour"


def rough(one: Measured) -> Shown:
    """A number that only tells the circumstances: two digits, no ±."""
    return Shown(significant(one.value, digits=2), unit=one.unit, held=held([one.value], one.unit))


def with_reasons(one: Measured, result: OneResult) -> Markup:
    """A number, and in brackets why it is a bound or carries no ±."""
    why = listed(result.reasons) if one.bound != "exact" else ""
    reasons = "; ".join(words for words in (why, NO_INSTRUMENT if one.basis == "as_read" else "") if words)
    return sentence("{} ({})", quantity(one), reasons) if reasons else sentence("{}", quantity(one))


def against_label(share: Measured) -> Markup:
    """Delivered charge against the label, no more exactly than the instruments allow."""
    if share.bound != "exact" or share.basis == "reported":
        return sentence("{} of its label", quantity(share))
    if share.expanded is None:
        return sentence("{} of its label as read", quantity(share))
    if abs(share.value - 1) <= share.expanded:
        return Markup("its label, as far as these instruments can tell")
    away = quantity(replace(share, value=abs(share.value - 1)))
    return sentence("{} {} its label", away, "above" if share.value > 1 else "below")


def delivered(test: CapacityTest, result: OneResult) -> Markup:
    """What one discharge gave, and under which circumstances; without a full stop."""
    metrics = result.metrics
    lead = metrics.get("delivered_ah") or metrics["delivered_wh"]
    words = sentence("Delivered {}", with_reasons(lead, result))
    if current := metrics.get("mean_current_a"):
        rate = metrics.get("rate_it")
        words += sentence(" at {}{}", rough(current), f", {rate_words(rate.value)}" if rate else "")
    ends = {"bms": ", until its own cut-off", "end_voltage": ", down to its end voltage"}
    return words + ends.get(test.ended_by, "")


def projected(result: OneResult) -> Markup | None:
    """What an off-reference discharge would have given at the reference rate, said to be a projection."""
    at = result.metrics.get("comparable_ah")
    if not result.off_reference or at is None:
        return None
    return sentence(
        "At the rate its label is rated for that would be {}, projected from what it delivered.", quantity(at)
    )


def price_words(price: Priced) -> Markup:
    """The price, in the currency of the tag too where that is another."""
    return sentence("{}", own_money(price)) if _is_own(price) else sentence("{} ({})", own_money(price), _tag(price))


def own_money(price: Priced) -> Shown:
    """The price in the catalogue's currency; "about" where it was brought there by a rate, as written where not."""
    if _is_own(price):
        return _tag(price)
    plain = price.known.bound == "exact"
    return converted_money(price.amount, price.currency) if plain else quantity(price.known)


def _is_own(price: Priced) -> bool:
    return price.currency == price.original_currency


def _tag(price: Priced) -> Shown:
    """As it was written: "289 €", "about 300 €", "280 to 320 €"."""
    if price.tag.form == "plain":
        return money(price.original, price.original_currency)
    return stated(price.tag, price.original_currency)
