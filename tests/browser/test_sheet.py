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

from tests.browser.site_pages import violations
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
    box.get_by_label("Date").fill("2026-10-04")
    box.get_by_label("Mass, kg").fill("45.4 lb")
    box.get_by_label("Documents in the box").fill("charge limits, curves")
    discharge = part(page, "Full discharge")
    discharge.get_by_label("Date").fill("2026-10-05")
    discharge.get_by_label("Started").fill("09:10")
    discharge.get_by_label("Ended", exact=True).fill("14:05 to 14:20")
    discharge.get_by_label("What ended it").select_option("the battery cut off")
    discharge.get_by_label("Current, A").fill("40")
    discharge.get_by_label("Counted, Ah").fill("about 201")
    discharge.get_by_label("Air, °C").fill("70 °F")
    pulses = part(page, "Voltage under two currents")
    pulses.get_by_label("Date").fill("2026-10-05")
    for i, (amperes, volts) in enumerate((("40", "13.12"), ("150", "12.94"))):
        pulses.get_by_label("Current, A").nth(i).fill(amperes)
        pulses.get_by_label("Voltage, V").nth(i).fill(volts)
    run = part(page, "An appliance")
    run.get_by_label("Date").fill("2026-10-06")
    run.get_by_label("What ran").select_option("Table saw")
    run.get_by_label("Through which inverter").select_option("2 kW sine inverter in the galley")
    run.get_by_label("What happened").select_option("was cut off")
    run.get_by_label("What stopped it").select_option("the battery")
    run.get_by_label("How long").fill("3 to 5")
    cold = part(page, "Charging it frozen")
    cold.get_by_label("Date").fill("2026-10-06")
    cold.get_by_label("Air, °C").fill("about -10")
    for temperature, charge in (("-10", "refused"), ("4", "accepted")):
        cold.get_by_role("button", name="Now: add a reading").click()
        cold.get_by_label("Battery, °C").last.fill(temperature)
        cold.get_by_label("Charge", exact=True).last.select_option(charge)


def test_what_was_taken_down_is_a_results_file_that_passes(phone: Page, tmp_path: Path) -> None:
    phone.goto("/sheets/larkstile-l200/")
    take_down_a_day(phone)
    phone.get_by_label("This battery is").select_option("ready to publish")
    text = copied(phone)
    code, problems = checked(tmp_path, "larkstile-l200.yml", text)
    assert (code, [problem for problem in problems if problem["severity"] == "error"]) == (0, [])
    data = yaml.safe_load(text)
    assert data["unit"]["status"] == "published"
    assert data["tests"]["capacity"]["counted_ah"] == "about 201"
    assert data["tests"]["pulses"]["readings"][1] == {"current_a": 150, "voltage_v": 12.94, "after_s": 1}
    assert [reading["charge"] for reading in data["tests"]["cold"]["readings"]] == ["refused", "accepted"]
    assert data["tests"]["load-run"]["inverter"] == "galley"
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
    assert data["unit"]["id"] == "skarvoy-tern-100"
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
        expect(box.locator(".wrong").first).to_contain_text(says) if says else expect(
            field
        ).to_have_accessible_description("")


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


@pytest.mark.parametrize("sheet", ["larkstile-l200", "blank"])
def test_it_opens_again_without_a_network(phone: Page, sheet: str) -> None:
    """A phone drops pages that were not looked at for a while, and loads them anew."""
    phone.goto(f"/sheets/{sheet}/")
    part(phone, "Unboxing").get_by_label("Mass, kg").fill("20.6")
    kept = "async () => Boolean(await (await caches.open('sheets')).match(location.href))"
    phone.wait_for_function(kept)
    phone.context.set_offline(True)
    for _ in range(2):  # from a page that the worker did not answer for, and from one that it did
        phone.reload()
        expect(part(phone, "Unboxing").get_by_label("Mass, kg")).to_have_value("20.6")
        assert yaml.safe_load(copied(phone))["tests"]["unboxing"]["mass_kg"] == 20.6
    assert phone.locator("link[rel=stylesheet]").evaluate_all("all => all.every(one => one.sheet.cssRules.length)")


def test_a_newer_sheet_is_shown_where_there_is_a_network(phone: Page) -> None:
    phone.goto("/sheets/blank/")
    phone.wait_for_function("async () => Boolean(await (await caches.open('sheets')).match(location.href))")
    old = "async () => (await caches.open('sheets')).put(location.href, new Response('old'))"
    phone.evaluate(old)
    phone.reload()
    expect(phone.get_by_role("heading", name="Bench sheet, blank")).to_be_visible()


def test_two_tabs_of_one_sheet_lose_nothing(phone: Page) -> None:
    other = phone.context.new_page()
    for tab in (phone, other):
        tab.goto("/sheets/larkstile-l200/")
    part(phone, "Unboxing").get_by_label("Mass, kg").fill("20,6")
    mass = part(other, "Unboxing").get_by_label("Mass, kg")
    expect(mass).to_have_value("20,6")
    expect(mass).to_have_attribute("aria-invalid", "true")
    part(other, "Unboxing").get_by_label("Terminals", exact=True).fill("M8")
    cold = part(other, "Charging it frozen")
    cold.get_by_role("button", name="Now: add a reading").click()
    cold.get_by_label("Battery, °C").fill("-10")
    appliance = part(phone, "An appliance")
    appliance.get_by_role("button", name="Another appliance").click()
    appliance.get_by_label("How long").last.fill("40 s")
    expect(other.locator("#yaml")).to_contain_text("load-run-2")
    tests = yaml.safe_load(copied(phone))["tests"]
    assert yaml.safe_load(other.locator("#yaml").inner_text())["tests"] == tests
    assert tests["unboxing"] == {"kind": "build", "mass_kg": "20,6", "terminals": "M8"}
    assert [reading["battery_c"] for reading in tests["cold"]["readings"]] == [-10]
    assert tests["load-run-2"]["duration_s"] == "40 s"


def test_a_tab_that_heard_nothing_looks_before_it_goes_on(phone: Page) -> None:
    """A page that sleeps, or is kept for the way back, is not told of what another one keeps."""
    phone.goto("/sheets/larkstile-l200/")
    part(phone, "Unboxing").get_by_label("Mass, kg").fill("20.6")
    key = "sheet larkstile-l200"
    change = "key => localStorage.setItem(key, localStorage.getItem(key).replaceAll('20.6', '20.7'))"
    phone.evaluate(change, key)  # the tab that changes it is not told either
    phone.evaluate("dispatchEvent(new Event('pageshow'))")
    expect(part(phone, "Unboxing").get_by_label("Mass, kg")).to_have_value("20.7")


def test_what_is_cleared_in_one_tab_does_not_come_back_from_another(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    part(phone, "Unboxing").get_by_label("Mass, kg").fill("20.6")
    other = phone.context.new_page()
    other.goto("/sheets/larkstile-l200/")
    phone.on("dialog", lambda dialog: dialog.accept())
    phone.get_by_role("button", name="Clear this sheet").click()
    expect(other.locator("#yaml")).to_be_hidden()
    expect(part(other, "Unboxing").get_by_label("Mass, kg")).to_have_value("")


def test_now_is_the_phones_clock(phone: Page) -> None:
    phone.clock.set_fixed_time("2026-10-20T19:25:00")
    phone.goto("/sheets/larkstile-l200/")
    discharge = part(phone, "Full discharge")
    discharge.get_by_role("button", name="Now").first.click()
    expect(discharge.get_by_label("Started")).to_have_value("19:25")
    day = discharge.get_by_label("Date")
    expect(day).to_have_value("2026-10-20")
    day.fill("2026-10-19")
    discharge.get_by_role("button", name="Now").last.click()
    assert yaml.safe_load(copied(phone))["tests"]["capacity"] == {
        "kind": "capacity", "date": "2026-10-19", "started": "19:25", "ended": "19:25"
    }  # fmt: skip


def test_a_reading_in_the_cold_brings_its_time_and_date(phone: Page) -> None:
    phone.clock.set_fixed_time("2026-10-20T19:25:00")
    phone.goto("/sheets/larkstile-l200/")
    cold = part(phone, "Charging it frozen")
    cold.get_by_role("button", name="Now: add a reading").click()
    expect(cold.get_by_label("At", exact=True)).to_have_value("19:25")
    expect(cold.get_by_label("Date")).to_have_value("2026-10-20")


def test_copying_tells_which_fields_still_need_mending(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    discharge = part(phone, "Full discharge")
    discharge.get_by_role("button", name="Now").first.click()
    discharge.get_by_label("Counted, Wh").fill("1,259")
    text = copied(phone)
    assert yaml.safe_load(text)["tests"]["capacity"]["counted_wh"] == "1,259"
    expect(phone.locator("#sheet-says")).to_contain_text(
        "2 fields still need mending: What ended it (Full discharge); Counted, Wh (Full discharge)."
    )
    discharge.locator("summary").click()
    phone.get_by_role("button", name="Go to the first of them").click()
    expect(discharge.get_by_label("What ended it")).to_be_focused()
    discharge.get_by_label("What ended it").select_option("the battery cut off")
    discharge.get_by_label("Counted, Wh").fill("1259")
    copied(phone)
    expect(phone.locator("#sheet-says")).not_to_contain_text("mending")
    expect(phone.get_by_role("button", name="Go to the first of them")).to_be_hidden()


def test_a_reading_with_a_time_alone_is_asked_what_was_seen(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    cold = part(phone, "Charging it frozen")
    cold.get_by_role("button", name="Now: add a reading").click()
    copied(phone)
    expect(phone.locator("#sheet-says")).to_contain_text("1 field still needs mending: Battery, °C")
    cold.get_by_label("Charge", exact=True).select_option("refused")
    copied(phone)
    expect(phone.locator("#sheet-says")).not_to_contain_text("mending")


def test_flags_are_there_again_after_a_reload(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    part(phone, "Full discharge").get_by_label("Air, °C").fill("68 F")
    phone.reload()
    expect(part(phone, "Full discharge").get_by_label("Air, °C")).to_have_accessible_description("Write 68 °F.")


def test_a_battery_is_published_only_on_request(phone: Page, tmp_path: Path) -> None:
    phone.goto("/sheets/larkstile-l200/")
    take_down_a_day(phone)
    text = copied(phone)
    assert yaml.safe_load(text)["unit"]["status"] == "testing"
    code, problems = checked(tmp_path, "larkstile-l200.yml", text)
    assert (code, [problem for problem in problems if problem["severity"] == "error"]) == (0, [])
    phone.get_by_label("This battery is").select_option("ready to publish")
    assert yaml.safe_load(copied(phone))["unit"]["status"] == "published"
    phone.reload()
    expect(phone.get_by_label("This battery is")).to_have_value("published")


THERE = """unit: {id: a, status: testing}
tests:
    # the first day
    capacity:
        kind: capacity
        date: 2026-10-05
        counted_ah: 1
    refill: {kind: charge, date: 2026-10-05, tail_a: 5}
history: []
"""


@pytest.mark.parametrize(
    ("day", "names", "replaced"),
    [
        pytest.param("2026-10-05", ["capacity", "refill"], ["capacity"], id="an earlier copy makes room"),
        pytest.param("2026-10-09", ["capacity-2", "capacity", "refill"], [], id="another day's stays"),
    ],
)
def test_a_second_copy_goes_into_the_file_that_the_first_made(
    phone: Page, day: str, names: list[str], replaced: list[str]
) -> None:
    phone.goto("/sheets/larkstile-l200/")
    test = {"kind": "capacity", "date": day, "counted_ah": {"plain": "98.40"}}
    made = phone.evaluate("args => sheetYaml.into(args[0], {capacity: args[1]}, 'testing')", [THERE, test])
    data = yaml.safe_load(made["text"])
    assert list(data["tests"]) == names
    assert data["tests"][names[0]]["counted_ah"] == 98.4
    assert data["history"] == []
    assert made["replaced"] == replaced
    assert "counted_ah: 98.40" in made["text"], "the last zero says how closely it was read"


def test_a_draft_whose_sheet_is_gone_is_found_on_the_blank_one(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    part(phone, "Unboxing").get_by_label("Mass, kg").fill("20.6")
    text = copied(phone)
    phone.goto("/sheets/blank/")
    expect(phone.locator("#drafts")).to_be_hidden()
    phone.evaluate("localStorage.setItem('sheet gone-100', localStorage.getItem('sheet larkstile-l200'))")
    phone.reload()
    phone.get_by_role("button", name="Copy gone-100").click()
    expect(phone.locator("#sheet-says")).to_contain_text("Copied: results/gone-100.yml")
    assert phone.evaluate("navigator.clipboard.readText()") == text
    phone.on("dialog", lambda dialog: dialog.accept())
    phone.get_by_role("button", name="Clear gone-100").click()
    expect(phone.locator("#drafts")).to_be_hidden()
    assert phone.evaluate("Object.keys(localStorage).filter(one => one.startsWith('sheet '))") == [
        "sheet larkstile-l200"
    ]


def test_inverters_are_those_of_the_bench_and_none_on_direct_current(phone: Page) -> None:
    phone.goto("/sheets/blank/")
    run = part(phone, "An appliance")
    inverter = run.get_by_label("Through which inverter")
    expect(inverter).to_be_hidden()
    phone.locator("[data-head]").get_by_label("Bench").select_option("Upper hut bench")
    run.get_by_label("What ran").select_option("Table saw")
    assert inverter.locator("option:enabled").all_inner_texts() == ["", "3 kW sine inverter in the hut"]
    inverter.select_option("hut")
    assert yaml.safe_load(copied(phone))["tests"]["load-run"]["inverter"] == "hut"
    run.get_by_label("What ran").select_option("Cabin lights")
    expect(inverter).to_be_hidden()
    assert "inverter" not in yaml.safe_load(copied(phone))["tests"]["load-run"]


def test_a_second_appliance_has_fields_of_its_own(phone: Page) -> None:
    phone.clock.set_fixed_time("2026-10-20T19:25:00")
    phone.goto("/sheets/larkstile-l200/")
    run = part(phone, "An appliance")
    run.get_by_label("How long").fill("1:30 h")
    run.get_by_role("button", name="Another appliance").click()
    second = run.locator("[data-test=load-run-2]")
    expect(second.locator(".wrong")).to_have_count(0)
    second.get_by_role("button", name="Today").click()
    expect(second.get_by_label("Date")).to_have_value("2026-10-20")
    expect(run.get_by_label("Date").first).to_have_value("")


def test_a_log_is_named_in_every_test_that_is_read_from_one(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    fields = phone.locator("[data-path=log]")
    tests = fields.evaluate_all("all => all.map(one => one.closest('[data-test]').dataset.test)")
    assert tests == ["capacity", "refill", "pulses", "load-run", "overload", "cold"]
    field = part(phone, "Full discharge").get_by_label("Log")
    field.fill("first run.xlsx")
    expect(field).to_have_accessible_description("Call it run.csv, .tsv, .txt (or packed: .gz, .xz) or .parquet.")
    field.fill("first-run.csv")
    assert yaml.safe_load(copied(phone))["tests"]["capacity"]["log"] == "first-run.csv"


def test_text_that_is_a_number_stays_text(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    box = part(phone, "Unboxing")
    box.get_by_label("Terminals", exact=True).fill("8")
    box.get_by_label("Anything else").fill("true")
    box.get_by_label("Mass, kg").fill("020.60")
    made = yaml.safe_load(copied(phone))["tests"]["unboxing"]
    assert (made["terminals"], made["note"], made["mass_kg"]) == ("8", "true", "020.60")


def test_the_form_is_one_tap_away(phone: Page) -> None:
    phone.goto("/sheets/larkstile-l200/")
    link = phone.get_by_role("link", name="Fill it in on this phone")
    assert (link.bounding_box() or {"y": 9999})["y"] < 844, "on the first screen"
    link.click()
    expect(phone.get_by_role("heading", name="Write it down here")).to_be_in_viewport()
    expect(phone.get_by_label("How long").first).to_have_attribute("placeholder", "12 min, 40 s, 1.5 h")


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
        assert read == text

    comes_back()


def test_open_and_flagged_it_fits_a_phone_and_reads_well(phone: Page) -> None:
    phone.goto("/sheets/blank/")
    phone.evaluate("localStorage.setItem('sheet gone-100', '{}')")
    phone.reload()
    phone.locator("[data-head]").get_by_label("Bench").select_option(index=1)
    take_down_a_day(phone)
    part(phone, "Full discharge").get_by_label("Counted, Wh").fill("1,259")
    copied(phone)
    phone.evaluate("document.querySelectorAll('#form details').forEach(one => { one.open = true })")
    assert phone.evaluate("document.documentElement.scrollWidth") == 390
    assert violations(phone) == []


def test_sheets_print_on_two_pages(phone: Page) -> None:
    for sheet in ("larkstile-l200", "blank"):
        phone.goto(f"/sheets/{sheet}/")
        printed = pypdfium2.PdfDocument(phone.pdf(prefer_css_page_size=True))
        assert len(printed) <= 2
        words = "".join(printed[i].get_textpage().get_text_range() for i in range(len(printed)))
        assert "kiloamperes" in words
        assert "Write down" in words
        assert "Copy as YAML" not in words
        assert "on this phone" not in words
