"""The reader's own prices and minutes."""

import json

import pytest

from calc import calculators
from calc.calculators import money
from calc.errors import InputError
from calc.frontends import browser

LIST = "balsa 1/8 in 3x36 in 2.60; birch-plywood, 1/16 in, 12 x 12 in, 4,80"
PLAN = {"price_list": LIST, "currency": "EUR"}


def answers(slug: str, **texts: str) -> dict[str, float]:
    """Return the numbers of an answer by name."""
    return {each.name: each.value for each in calculators.run(slug, texts).answers}


def test_list_is_read_as_it_is_written() -> None:
    """Inch fractions, millimetres and decimal commas are understood."""
    balsa, birch = money.prices(LIST)
    assert (balsa.material, balsa.price) == ("balsa", 2.60)
    assert balsa.thickness == pytest.approx(0.125 * 0.0254)
    assert (birch.price, birch.width) == (4.80, pytest.approx(12 * 0.0254))


@pytest.mark.parametrize(
    "text", ["balsa", "balsa 1/8 in 3x36in", "balsawood 1/8 in 3x36in 2", "balsa 0 in 3x36in 2"]
)
def test_bad_lines_are_named(text: str) -> None:
    """A line that is no priced sheet is refused with an example."""
    with pytest.raises(InputError) as problem:
        money.prices(f"balsa 1/8 in 3x36 in 2.60; {text}")
    assert problem.value.name == "price_list"


def test_plan_costs_whole_sheets_and_a_part_its_share() -> None:
    """Sheets are paid whole, at least as many as are sold at once; a part pays what it uses up."""
    found = answers("cutting-plan", **PLAN)
    length = 36 * 0.0254
    assert found["cost"] == pytest.approx(2.60 * found["sheets"])
    used = found["sheets"] - 1 + found["used_length"] / length
    assert found["cost_each"] == pytest.approx(2.60 * used / 4)
    assert 999 * used / 4 < found["thousand_sheets"] < 1001 * used / 4 + 1
    ten = answers("cutting-plan", **PLAN, minimum_order="10")
    assert ten["cost"] == pytest.approx(26.0)


def test_another_size_is_priced_by_its_area() -> None:
    """Where the list has another size of the same sheet, its price per area counts."""
    small = answers("cutting-plan", **PLAN, sheet="3x24in")
    assert small["cost"] == pytest.approx(small["sheets"] * 2.60 * 24 / 36)


def test_nothing_is_invented_beside_real_prices() -> None:
    """With a list the finder prices what is on it and nothing else, in the reader's currency."""
    report = calculators.run("material-finder", PLAN)
    column = [each.label for each in report.tables[0].columns].index("Price, EUR")
    priced = {str(row[0]): row[column] for row in report.tables[0].rows}
    names = {name.split(",")[0] for name, price in priced.items() if price is not None}
    assert names
    assert names <= {"Balsa", "Birch plywood"}


@pytest.mark.parametrize("slug", ["cutting-plan", "material-finder", "rocket"])
def test_answer_with_own_prices_reaches_the_page(slug: str) -> None:
    """The page's answer holds the list of prices among its inputs, as JSON and CSV can."""
    answer = json.loads(browser.answer(slug, json.dumps({**PLAN, "tries": "2"})))
    assert not answer["errors"]
    assert "birch-plywood" in str(answer["json"]["inputs"]["price_list"])
    assert "birch-plywood" in answer["csv"]


def test_whole_rocket_counts_sheet_and_work() -> None:
    """A kit costs its sheets and the minutes of its sets at the reader's wage."""
    texts = {**PLAN, "set_minutes": "90", "hourly_rate": "20", "kit_sets": "2"}
    rocket = calculators.load("rocket")
    values, errors = rocket.read(texts)
    assert not errors
    from calc.calculators import rocket as whole

    outcomes = whole.asked(values)
    spent = {each.name: each.value for each in whole.costs(outcomes, values)}
    share = whole.found_in(outcomes, "cutting-plan", "cost_each")
    assert share is not None
    assert spent["set_sheet"] == pytest.approx(3 * share.value)
    assert spent["kit_cost"] == pytest.approx(2 * (3 * share.value + 30.0))
    assert spent["thousand_kits"] == pytest.approx(1000 * spent["kit_cost"])
