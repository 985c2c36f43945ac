"""The main job as a person does it on a telephone: one function a screen, told by what the screen says."""

from __future__ import annotations

from playwright.sync_api import Locator, Page, expect

from tests.factories import PASSWORD
from tests.journeys.scene import MANAGER, SCRAP

LEFT_OUT = "all painted panels except left rear wing"


def sign_in(page: Page, at: str) -> None:
    """Sign in, and land on Today."""
    page.goto(f"{at}/sign-in/")
    page.get_by_label("Name").fill(MANAGER)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Today")


def find_the_car(page: Page) -> None:
    """Type three characters of the plate, one of them misheard, and tap the one car that answers."""
    page.get_by_role("combobox", name="Find a car").press_sequentially(SCRAP)
    hits = page.get_by_role("option")
    expect(hits).to_have_count(1)
    expect(hits.first).to_contain_text("QA26 DEM")
    expect(hits.first).to_contain_text("Blue Halden Estate · Ada Quill")
    hits.first.tap()


def read_the_file(page: Page) -> dict[str, str]:
    """The three lines for the telephone, each under its word; and the chart with its twin."""
    expect(page.get_by_role("heading", level=1)).to_contain_text("Halden Estate")
    lines = page.locator(".answer > div")
    told = {line.locator("dt").inner_text(): line.locator("dd").inner_text() for line in lines.all()}
    expect(page.locator("svg.coat-drawing:visible")).to_have_count(1)
    twin = page.locator("details", has_text="The same as a table").first
    expect(twin.get_by_role("table")).to_be_hidden()
    twin.locator("summary").tap()
    expect(twin.get_by_role("table")).to_contain_text("Curlew hand wax")
    return told


def take_it_in(page: Page) -> None:
    """The keys are handed in: odometer, condition, acknowledged."""
    page.get_by_role("link", name="Book or take in").tap()
    choose(page, "correction", exact=True)
    page.get_by_label("Odometer").fill("41200")
    page.get_by_label("Condition on arrival").fill("Road film, light swirls")
    page.get_by_label("The owner has seen this").check()
    page.get_by_role("button", name="Take it in").tap()
    expect(page.locator(".page-head .badge")).to_have_text("in the bay")


def grade(page: Page, moment: str, spots: tuple[str, ...], grade: int) -> None:
    """How water behaves: choose the spots, press the grade."""
    water = page.locator("#water")
    choose(water, moment)
    for spot in ("roof", "bonnet", "upper sides"):
        water.get_by_role("checkbox", name=spot).set_checked(spot in spots)
    water.locator(f"button[name=grade][value='{grade}']").tap()
    expect(page.locator("#sayings")).to_contain_text(f": {grade}, ")
    side = 1 if "before" in moment else 2
    row = page.locator(".bay-grades tbody tr", has_text=spots[0])
    expect(row.locator("th, td").nth(side)).to_contain_text(str(grade))


def decontaminate(page: Page) -> None:
    """Two processes on every painted panel."""
    page.get_by_role("link", name="Process").tap()
    steps = page.locator("#steps")
    choose(steps, "iron remover")
    choose(steps, "clay", exact=True)
    steps.get_by_role("button", name="all painted panels", exact=True).tap()
    expect(steps.locator("[data-words]")).to_have_text("all painted panels")
    steps.get_by_role("button", name="Write it down").tap()
    expect(page.locator("#steps .list")).to_contain_text("Clay")


def lay_the_sealant(page: Page) -> None:
    """A layer on all painted panels except one wing, left out by tapping it on the drawing."""
    page.get_by_role("link", name="Layer").tap()
    form = page.locator("#layers form")
    expect(form.get_by_role("heading")).to_be_focused()
    form.get_by_label("Look for a product").press_sequentially("gann")
    expect(form.locator("#bay-products label")).to_have_count(1)
    form.get_by_text("Gannet paint sealant").tap()
    form.get_by_role("button", name="All painted, except…").tap()
    form.locator("[data-surface=left_rear_wing]").tap()
    expect(form.locator("[data-words]")).to_have_text(LEFT_OUT)
    form.get_by_role("textbox", name="Batch").fill("G-114")
    choose(form, "wiped", exact=True)
    for label, reading in (("Air, °C", "18"), ("Humidity, %", "55"), ("Panel, °C", "17")):
        form.get_by_role("textbox", name=label).fill(reading)
    form.get_by_role("textbox", name="Coldest in the bay").fill("14")
    expect(page.locator("#bay-weighed")).to_contain_text("Dew point 8.8 °C")
    form.get_by_role("button", name="Lay it").tap()
    laid = page.locator("#layers article")
    expect(laid).to_contain_text("Gannet paint sealant")
    expect(laid).to_contain_text(LEFT_OUT)


def hand_over(page: Page) -> None:
    """Ready, the sheet is read, and the keys go back."""
    page.get_by_role("button", name="Ready").tap()
    expect(page.locator(".page-head .badge")).to_contain_text("ready")
    page.get_by_role("link", name="Hand over").tap()
    expect(page.locator("main")).to_contain_text("The aftercare note goes to Ada Quill at ada@example.com.")
    expect(page.locator("main")).to_contain_text("left rear wing")
    page.get_by_role("button", name="Hand over").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Aftercare sheet")


def choose(within: Page | Locator, words: str, *, exact: bool = False) -> None:
    """Tap the chip that says so."""
    pattern = within.locator("label.chip").get_by_text(words, exact=exact)
    pattern.first.tap()
