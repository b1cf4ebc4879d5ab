"""A bench sheet on the phone: taken down test by test, kept, copied, and checked as the results file it makes."""

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pypdfium2
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Locator, Page, expect

from tests.conftest import ROOT

HOSTILE = (
    '"}, <script>alert(1)</script>',
    "yes: {a: &b [*b]}",
    "- {{ 7*7 }} {% include '/etc/passwd' %}",
    "# not a comment\ttab",
    "\u202ereversed\u2066",
    "'single' \"double\" \\back",
    "!!python/object/apply:os.system ['true']",
    "2026-05-04",
    "null",
    "12:30:45",
)


@pytest.fixture
def phone(new_page: Callable[..., Page]) -> Page:
    return new_page(permissions=["clipboard-read", "clipboard-write"])


def part(page: Page, title: str) -> Locator:
    found = page.locator("details", has=page.locator("summary", has_text=title))
    if found.get_attribute("open") is None:
        found.locator("summary").click()
    return found


def copied(page: Page) -> str:
    page.get_by_role("button", name="Copy as YAML").click()
    expect(page.locator("#sheet-says")).to_contain_text("Copied")
    return str(page.evaluate("navigator.clipboard.readText()"))


def checked(folder: Path, name: str, text: str) -> tuple[int, list[dict[str, str]]]:
    """What `check` says of the file among the demo's others."""
    for one in ("results", "catalogue"):
        shutil.copytree(ROOT / one, folder / one, dirs_exist_ok=True)
    path = folder / "results" / name
    path.write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "site_builder", "check", str(path), "--format", "json"]
    done = subprocess.run(command, cwd=ROOT, check=False, capture_output=True, text=True)
    assert not done.stderr, done.stderr
    return done.returncode, json.loads(done.stdout)["problems"]


def take_down_a_day(page: Page) -> None:
    box = part(page, "Unboxing")
    box.get_by_label("Mass, kg").fill("45.4 lb")
    box.get_by_label("Documents in the box").fill("charge limits, curves")
    discharge = part(page, "Full discharge")
    discharge.get_by_label("Started").fill("09:10")
    discharge.get_by_label("Ended", exact=True).fill("14:05 to 14:20")
    discharge.get_by_label("What ended it").select_option("the battery cut off")
    discharge.get_by_label("Current, A").fill("40")
    discharge.get_by_label("Counted, Ah").fill("about 201")
    discharge.get_by_label("Air, °C").fill("70 °F")
    pulses = part(page, "Voltage under two currents")
    for i, (amperes, volts) in enumerate((("40", "13.12"), ("150", "12.94"))):
        pulses.get_by_label("Current, A").nth(i).fill(amperes)
        pulses.get_by_label("Voltage, V").nth(i).fill(volts)
    run = part(page, "An appliance")
    run.get_by_label("What ran").select_option("Table saw")
    run.get_by_label("What happened").select_option("was cut off")
    run.get_by_label("What stopped it").select_option("the battery")
    run.get_by_label("How long").fill("3 to 5")
    cold = part(page, "Charging it frozen")
    cold.get_by_label("Air, °C").fill("about -10")
    for temperature, charge in (("-10", "refused"), ("4", "accepted")):
        cold.get_by_role("button", name="Now", exact=True).last.click()
        cold.get_by_label("Battery, °C").last.fill(temperature)
        cold.get_by_label("Charge", exact=True).last.select_option(charge)


def test_what_was_taken_down_is_a_results_file_that_passes(phone: Page, tmp_path: Path) -> None:
    phone.goto("/sheets/larkstile-l200/")
    take_down_a_day(phone)
    text = copied(phone)
    code, problems = checked(tmp_path, "larkstile-l200.yml", text)
    assert (code, [problem for problem in problems if problem["severity"] == "error"]) == (0, [])
    data = yaml.safe_load(text)
    assert data["unit"]["status"] == "published"
    assert data["tests"]["capacity"]["counted_ah"] == "about 201"
    assert data["tests"]["pulses"]["readings"][1] == {"current_a": 150, "voltage_v": 12.94, "after_s": 1}
    assert [reading["charge"] for reading in data["tests"]["cold"]["readings"]] == ["refused", "accepted"]
    assert "overload" not in data["tests"]  # nothing was entered there, though currents are given


def test_a_battery_that_nobody_knew_gets_a_whole_file(phone: Page, tmp_path: Path) -> None:
    phone.goto("/sheets/blank/")
    battery = phone.locator("[data-head]")
    battery.get_by_label("Maker").fill("Skarvøy")
    battery.get_by_label("Model").fill("Tern 100")
    battery.get_by_label("Chemistry").select_option("LiFePO4")
    battery.get_by_label("Nominal voltage").fill("12.8")
    battery.get_by_label("Capacity, Ah").fill("100")
    battery.get_by_label("Bench").select_option(index=1)
    take_down_a_day(phone)
    text = copied(phone)
    data = yaml.safe_load(text)
    code, problems = checked(tmp_path, f"{data['unit']['id']}.yml", text)
    errors = [problem for problem in problems if problem["severity"] == "error"]
    assert (code, errors) == (0, [])
    link = phone.get_by_role("link", name="Open as a new file")
    address = link.get_attribute("href") or ""
    assert address.startswith("https://git.hollinwater.example/bench/new/main/results?filename=")
    assert f"filename={data['unit']['id']}.yml&value=%23%20yaml-language-server" in address


def test_a_number_that_a_file_would_not_take_is_told_at_the_field(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    box = part(phone, "Unboxing")
    field = box.get_by_label("Mass, kg")
    for text, says in (("20,6", "Write 20.6"), ("heavy", "Not read as a number"), ("about 20 kg", "")):
        field.fill(text)
        note = box.locator(".wrong").first
        expect(note).to_contain_text(says) if says else expect(note).to_be_empty()


def test_entries_stay_until_they_are_cleared(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    take_down_a_day(phone)
    before = copied(phone)
    phone.reload()
    assert copied(phone) == before
    phone.on("dialog", lambda dialog: dialog.accept())
    phone.get_by_role("button", name="Clear this sheet").click()
    expect(part(phone, "Unboxing").get_by_label("Mass, kg")).to_have_value("")


def test_it_works_without_a_network(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    phone.wait_for_load_state("networkidle")  # the icon of the tab comes last
    phone.context.set_offline(True)
    take_down_a_day(phone)
    assert "table-saw" in copied(phone)


def test_now_is_the_phones_clock(phone: Page) -> None:
    phone.clock.set_fixed_time("2026-10-20T19:25:00")
    phone.goto("/sheets/larkstile-l200/")
    discharge = part(phone, "Full discharge")
    discharge.get_by_role("button", name="Now").first.click()
    expect(discharge.get_by_label("Started")).to_have_value("19:25")
    assert 'date: "2026-10-20"' in copied(phone)


def test_pasted_text_stays_text(phone: Page, tmp_path: Path) -> None:
    phone.goto("/sheets/larkstile-l200/")
    field = part(phone, "Unboxing").get_by_label("Anything else")
    for text in HOSTILE:
        field.fill(text)
        assert yaml.safe_load(copied(phone))["tests"]["unboxing"]["note"] == text
    field.fill(" ".join(HOSTILE[:4]))
    code, problems = checked(tmp_path, "larkstile-l200.yml", copied(phone))
    assert (code, [problem for problem in problems if problem["severity"] == "error"]) == (0, [])


def test_any_text_comes_back_as_it_was_typed(phone: Page) -> None:
    """By hypothesis, through the script's own writer and PyYAML's reader."""
    phone.goto("/sheets/blank/")

    @settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), min_size=1))
    def comes_back(text: str) -> None:
        made = phone.evaluate("text => sheetYaml.tests({a: {kind: 'build', note: text}})", text)
        read = yaml.safe_load(made)["tests"]["a"]["note"]
        assert str(read) == text or float(read) == float(text.replace("−", "-"))

    comes_back()


def test_sheets_print_on_two_pages(phone: Page) -> None:
    for sheet in ("larkstile-l200", "blank"):
        phone.goto(f"/sheets/{sheet}/")
        printed = pypdfium2.PdfDocument(phone.pdf(prefer_css_page_size=True))
        assert len(printed) <= 2
        words = "".join(printed[i].get_textpage().get_text_range() for i in range(len(printed)))
        assert "kiloamperes" in words
        assert "Write down" in words
        assert "Copy as YAML" not in words
