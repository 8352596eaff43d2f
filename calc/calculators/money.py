"""The reader's own sheets, prices, wages and minutes, and what parts cost with them.

Nothing here is invented: without a price of the reader's, nothing is priced.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple, TypedDict

from calc import materials, units
from calc.calculators.lists import TypedList
from calc.errors import InputError
from calc.forms import Input
from calc.report import Answer
from calc.workshop.parts import Plan

GROUP = "More: your prices and time"
WANTS = (
    "sheets with semicolons between, each as material, thickness, width x length and price: "
    "balsa 1/8 in 3x36 in 2.60"
)
LONGEST = 2000
"""Longest list of prices [characters]."""
SAME = 0.01
"""Relative difference up to which two thicknesses are the same trade size."""
MANY = 1000


class Priced(NamedTuple):
    """A sheet that the reader can buy or has: material, sizes [m], price in the own currency.

    A tuple, so that the JSON of an answer can repeat it among the inputs.
    """

    material: str
    thickness: float
    width: float
    length: float
    price: float

    @property
    def per_area(self) -> float:
        """Return the price of a square metre."""
        return self.price / (self.width * self.length)


_SHEET = re.compile(
    r"""(?P<material>[a-z][a-z0-9-]*)[\s,]+(?P<thickness>\S.*?)[\s,]+
    (?P<width>\d+(?:\.\d+)?)\s*[x×]\s*(?P<length>\d+(?:\.\d+)?)\s*(?P<unit>in|mm|cm)?[\s,]+
    (?P<price>\d+(?:[.,]\d{1,2})?)""",
    re.VERBOSE | re.IGNORECASE,
)


def prices(text: str, name: str = "price_list") -> tuple[Priced, ...]:
    """Return the sheets of a price list.

    >>> prices("balsa 1/8 in 3x36in 2.60; basswood, 1.5 mm, 100 x 1000 mm, 4,10")[1].price
    4.1
    """
    found = []
    for one in filter(None, (part.strip() for part in re.split(r"[;\n]", text))):
        match = _SHEET.fullmatch(one)
        if match is None:
            raise InputError(name, one, WANTS)
        material = match["material"].lower()
        if material != "own" and material not in materials.names():
            raise InputError(name, one, f"a material by its name: {', '.join(materials.names())}")
        thickness = units.parse(match["thickness"], "length", unit="in", name=name)
        scale = units.KINDS["length"].units[(match["unit"] or "in").lower()]
        width, length = (float(match[end]) * scale for end in ("width", "length"))
        price = float(match["price"].replace(",", "."))
        if not (width > 0.0 and length > 0.0 and thickness > 0.0):
            raise InputError(name, one, WANTS)
        found.append(Priced(material, thickness, width, length, price))
    return tuple(found)


PRICES = TypedList(
    "price_list",
    "Your sheets and their prices",
    "text",
    "",
    help="One after another with semicolons: balsa 1/8 in 3x36 in 2.60; basswood 1/16 in 3x24 in "
    "3.10. They are kept for all your rockets.",
    group=GROUP,
    optional=True,
    parse=prices,
    wants=WANTS,
    longest=LONGEST,
)
CURRENCY = Input(
    "currency", "Currency", "text", "", help="As you write it.", group=GROUP, optional=True
)
ORDER = Input(
    "minimum_order", "Smallest order, in sheets", "integer", "", group=GROUP, low=1, high=10000,
    optional=True,
)  # fmt: skip
TIME = (
    Input("hourly_rate", "An hour of work costs", "number", "", group=GROUP, low=0.0, high=1e6,
          optional=True),
    Input("set_minutes", "Minutes of work for a set of fins", "number", "", group=GROUP, low=0.0,
          high=1e5, help="Cutting, shaping, sealing and gluing on.", optional=True),
    Input("kit_sets", "Sets of fins in a kit", "integer", "1", group=GROUP, low=1, high=20),
)  # fmt: skip


class PlanPriceValues(TypedDict):
    """What `of_plan` reads."""

    price_list: tuple[Priced, ...] | None
    material: str
    thickness: float
    currency: str | None
    minimum_order: int | None


class TimeValues(TypedDict):
    """Values of `TIME`."""

    hourly_rate: float | None
    set_minutes: float | None
    kit_sets: int


class WorkValues(TimeValues):
    """What `of_rocket` reads."""

    currency: str | None


def find(
    listed: Sequence[Priced] | None,
    material: str,
    *,
    thickness: float,
    width: float = 0.0,
    length: float = 0.0,
) -> Priced | None:
    """Return the listed sheet of a material and thickness [m], of this size where there is one."""
    same = [
        each
        for each in listed or ()
        if each.material == material and abs(each.thickness / thickness - 1.0) <= SAME
    ]
    exact = [
        each
        for each in same
        if math.isclose(each.width, width, rel_tol=SAME)
        and math.isclose(each.length, length, rel_tol=SAME)
    ]
    return next(iter(exact or same), None)


def used(plan: Plan) -> float:
    """Return how many sheets a plan uses up; of the last one only the length cut into."""
    if not plan.sheets:
        return 0.0
    return plan.sheet_count - 1 + plan.sheets[-1].used_length / plan.stock[0].length


def of_plan(values: PlanPriceValues, plan: Plan, parts: int) -> tuple[Answer, ...]:
    """Return what a cutting plan costs by the reader's prices; nothing without one."""
    sheet = plan.stock[0]
    listed = find(
        values.get("price_list"),
        values["material"],
        thickness=values["thickness"],
        width=sheet.width,
        length=sheet.length,
    )
    if listed is None or not plan.sheets:
        return ()
    price = listed.per_area * sheet.width * sheet.length
    currency = f", {values['currency']}" if values.get("currency") else ""
    least = values.get("minimum_order") or 1
    bought = max(plan.sheet_count, least)
    share = used(plan) / parts
    thousand = max(math.ceil(MANY * share), least)
    note = "by area, from another size of your list" if price != listed.price else "your price"
    return (
        Answer("cost", f"Price of the sheets to buy{currency}", bought * price, "number",
               note=f"{bought} sheets, the fewest sold" if bought > plan.sheet_count else note),
        Answer("cost_each", f"Sheet in one part{currency}", share * price, "number",
               note="waste included, the offcut kept"),
        Answer("thousand_sheets", f"Sheets for {MANY} parts", thousand, "number", digits=4,
               note="by repeating this plan"),
        Answer("thousand_cost", f"Price of these{currency}", thousand * price, "number", digits=4),
    )  # fmt: skip


def of_rocket(values: WorkValues, each: float | None, parts: int) -> tuple[Answer, ...]:
    """Return material and work of a set of fins, a kit and a thousand kits.

    Parameters
    ----------
    values
        Of `TIME`, with `currency`.
    each
        Price of the sheet in one part; None where it is not known.
    parts
        Fins in a set.
    """
    minutes, rate = values.get("set_minutes"), values.get("hourly_rate")
    sets = values.get("kit_sets") or 1
    currency = f", {values['currency']}" if values.get("currency") else ""
    wood = None if each is None else each * parts
    work = None if minutes is None or rate is None else minutes / 60.0 * rate
    found = []
    if minutes is not None:
        found.append(Answer("work", "Bench time for a set, hours", minutes / 60.0, "number"))
    if wood is not None:
        found.append(Answer("set_sheet", f"Sheet in a set of fins{currency}", wood, "number"))
    known = [part for part in (wood, work) if part is not None]
    if known:
        one = sum(known)
        what = "sheet and work" if len(known) == 2 else "sheet" if work is None else "work"
        found += [
            Answer("kit_cost", f"Fins of a kit{currency}", one * sets, "number", note=what),
            Answer("thousand_kits", f"Fins of {MANY} kits{currency}", one * sets * MANY, "number",
                   digits=4, note=what),
        ]  # fmt: skip
    return tuple(found)
