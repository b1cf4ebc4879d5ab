/*
 * The form of the page of running times: what was chosen, checked beside each field and kept in the address. Whatever
 * changes is handed on as {uses, chainFor, chosen, idleOfDay, warmth, wanted, per, which, left}, or null where an entry is
 * wrong.
 *
 * In the address a load is "fridge_h4" (4 hours a day); one of the visitor's own "own_w100_p300_s0.5_d50_h2_v12":
 * watts, peak, its seconds, per cent of the time, hours, volts without an inverter.
 */
(function () {
  "use strict";

  const $ = (id) => document.getElementById(id);
  const DAY_H = 24;
  const OWN = [
    ["w", "Power while on, W", { least: 0.01, most: 100000 }],
    ["p", "Peak at its start, W", { least: 0, most: 1000000, optional: true }],
    ["s", "for, s", { least: 0.001, most: 600, optional: true }],
    ["d", "On, % of that time", { least: 0.01, most: 100 }],
  ];
  const SUPPLIES = [["", "an inverter"], ["12", "12 V"], ["24", "24 V"], ["48", "48 V"]];
  const USUAL = { h: "24", d: "100", s: "1" };
  // What the address keeps besides the loads, and what stands there first
  const KEPT = new Map(["inverter", "efficiency", "idle", "stop", "on", "warmth", "want", "per", "which"].map((id) => [id, ""]));

  let data, listener;
  let made = 0;

  function element(tag, properties = {}, ...children) {
    const one = Object.assign(document.createElement(tag), properties);
    one.append(...children);
    return one;
  }

  function field(row, key, label, value, control = element("input", { inputMode: "decimal" })) {
    control.id = `use-${row.dataset.number}-${key}`;
    control.value = value ?? "";
    control.dataset.key = key;
    control.setAttribute("aria-label", `${label}, ${row.dataset.title}`); // several loads have the same fields
    row.append(element("p", { className: "entry" }, element("label", { htmlFor: control.id, textContent: label }), control));
    return control;
  }

  /* A row for a load of the list, or one of the visitor's own */
  function addUse(id, values = {}) {
    const load = data.loads[id];
    if (!load && id !== "own") return null;
    if (load && $("uses").querySelector(`[data-id="${CSS.escape(id)}"]`)) return null;
    made += 1;
    const title = load ? load.title : `Load of your own ${$("uses").querySelectorAll('[data-id="own"]').length + 1}`;
    const row = element("li");
    Object.assign(row.dataset, { id, number: made, title });
    row.append(element("p", { className: "name" }, element("b", { textContent: title }), load ? ` ${load.says}` : ""));
    if (!load) {
      for (const [key, label] of OWN) field(row, key, label, values[key] ?? USUAL[key]);
      const supplies = SUPPLIES.map(([value, words]) => element("option", { value, textContent: words }));
      field(row, "v", "Runs from", values.v ?? "", element("select", {}, ...supplies));
    }
    field(row, "h", "Hours a day", values.h ?? USUAL.h);
    const remove = element("button", { type: "button", className: "clear", textContent: "remove" });
    remove.setAttribute("aria-label", `Remove ${title}`);
    remove.addEventListener("click", () => {
      const next = row.nextElementSibling || row.previousElementSibling;
      row.remove();
      (next ? next.querySelector("button") : $("add")).focus();
      changed();
    });
    row.append(remove);
    $("uses").append(row);
    return row;
  }

  const inputOf = (row, key) => row.querySelector(`[data-key="${key}"]`);

  function useOf(row) {
    const { id, title, number } = row.dataset;
    const hours = window.entries.number(inputOf(row, "h"), { least: 0.01, most: DAY_H });
    if (id !== "own") return { ...data.loads[id], id, ofDay: hours / DAY_H };
    const [w, p, s, d] = OWN.map(([key, , limits]) => window.entries.number(inputOf(row, key), limits));
    if (p !== null && p < w) {
      window.entries.wrong(inputOf(row, "p"), `The peak is the most it draws: no less than the ${w} W it runs at, or empty.`);
      return null;
    }
    const volts = Number(inputOf(row, "v").value);
    return {
      id: `own ${number}`, title, w: [w, 0], start: p === null ? null : [p, s ?? 1], duty: [d / 100, 0],
      mains: !volts, volts: volts ? [volts] : [], ofDay: hours / DAY_H, caution: "",
    };
  }

  const holds = (value) => typeof value !== "number" || !Number.isNaN(value);
  const whole = (use) => use && [use.ofDay, ...use.w, ...(use.start || []), ...(use.duty || [])].every(holds);

  function chainChoice() {
    const choice = $("inverter").value;
    document.querySelector(".own-inverter").hidden = choice !== "own";
    if (choice !== "own") return (unit) => namedChain(unit, choice);
    const efficiency = window.entries.number($("efficiency"), { least: 1, most: 100 });
    const idle_w = window.entries.number($("idle"), { least: 0, most: 1000 });
    if (![efficiency, idle_w].every(holds)) return null;
    const stop = Number($("stop").value);
    const own = { name: "own", idle_w, off_w: idle_w, slope: 100 / efficiency, square: 0, u: data.rules.chain_u };
    return (unit) => ({ ...own, cut_off_v: stop ? stop * Math.max(Math.round(unit.volts / 12), 1) : null });
  }

  function namedChain(unit, choice) {
    const name = choice || unit.inverter;
    const chain = name && data.inverters[name];
    const fits = chain && window.runtimeSums.sameVoltage(chain.volts, unit.volts, data.rules);
    return fits ? { ...chain, name } : null;
  }

  function idleHours(uses) {
    const on = window.entries.number($("on"), { least: 0, most: DAY_H });
    const longest = Math.max(0, ...uses.filter((use) => use && use.mains).map((use) => use.ofDay * DAY_H));
    if (on < longest - 1e-9) {
      window.entries.wrong($("on"), `Its loads need it for ${Number(longest.toPrecision(6))} hours a day.`);
      return NaN;
    }
    return on;
  }

  function entered() {
    const uses = [...$("uses").children].map(useOf);
    $("through").hidden = !uses.some((use) => !use || use.mains);
    const chainFor = chainChoice();
    const on = $("through").hidden ? DAY_H : idleHours(uses);
    const warmth = warmthC();
    const wanted = window.entries.number($("want"), { least: 0.01, most: 100000, optional: true });
    if (!uses.every(whole) || !chainFor || ![on, warmth, wanted].every(holds)) return null;
    const [per, which] = [$("per").value, $("which").value];
    const inverter = $("inverter").value;
    return { uses, chainFor, chosen: inverter, idleOfDay: on / DAY_H, warmth, wanted, per, which, left: left.said };
  }

  /* In °C, whatever unit the visitor chose for the field. */
  function warmthC() {
    const { quantities } = window;
    const of = (celsius) => (quantities ? quantities.chosen(celsius, "°C") : celsius);
    const typed = window.entries.number($("warmth"), { least: of(-60), most: of(100) });
    return quantities ? quantities.metric(typed, "°C") : typed;
  }

  /* The field follows the switch between °C and °F. */
  function followUnit(celsius) {
    if (!window.quantities || !holds(celsius)) return;
    $("warmth").value = Number(window.quantities.chosen(celsius, "°C").toPrecision(4));
    document.querySelector("[for=warmth] span").textContent = window.quantities.unit("°C");
  }

  function writeAddress(warmth) {
    const kept = new URLSearchParams();
    for (const row of $("uses").children) {
      const parts = [...row.querySelectorAll("[data-key]")].filter((one) => one.value && one.value !== USUAL[one.dataset.key]);
      kept.append("load", [row.dataset.id, ...parts.map((one) => one.dataset.key + one.value.trim().replace(",", "."))].join("_"));
    }
    for (const [id, usual] of KEPT) {
      const value = id === "warmth" ? String(Number(warmth.toPrecision(4))) : $(id).value.trim();
      if (value !== usual && value !== "NaN") kept.append(id, value);
    }
    if (left.ids.length) kept.append("unit", left.ids.join(","));
    window.address.write(kept);
  }

  function readAddress() {
    const wanted = window.address.read();
    $("uses").replaceChildren();
    for (const text of wanted.getAll("load")) {
      const [id, ...parts] = text.split("_");
      addUse(id, Object.fromEntries(parts.map((part) => [part[0], part.slice(1)])));
    }
    for (const [name, usual] of KEPT) {
      const [control, value] = [$(name), wanted.get(name)];
      const fits = control.tagName !== "SELECT" || [...control.options].some((option) => option.value === value);
      control.value = value !== null && fits ? value : usual;
    }
    const which = wanted.get("which") || "";
    readUnit(which.startsWith("unit=") ? which.slice(5) : wanted.get("unit"));
    followUnit(Number($("warmth").value.replace(",", ".")));
  }

  /* One battery alone, for whoever comes from its page; of one that is not here it is said, as long as all are shown. */
  function readUnit(text) {
    const names = new Map(data.units.map(({ id, name }) => [id, name]));
    const { ids: [id], ...rest } = window.address.units(text, names, data, 1);
    left = { ids: rest.left, said: rest.said };
    if (!id) return;
    const value = `unit=${id}`;
    if (![...$("which").options].some((one) => one.value === value)) {
      $("which").append(element("option", { value, textContent: names.get(id) }));
    }
    $("which").value = value;
  }

  let celsius = 20;
  const NONE = { ids: [], said: "" };
  let left = NONE; // what the address names and this page has no answer of

  function changed() {
    const now = entered();
    if (holds(warmthC())) celsius = warmthC();
    writeAddress(celsius);
    listener(now, data);
  }

  function start() {
    for (const [id] of KEPT) KEPT.set(id, $(id).value);
    readAddress();
    window.address.heard(() => {
      readAddress();
      changed();
    });
    $("which").addEventListener("input", () => (left = NONE));
    $("add-it").addEventListener("click", () => {
      const row = addUse($("add").value);
      if (row) inputOf(row, row.dataset.id === "own" ? "w" : "h").focus();
      changed();
    });
    $("runtime").addEventListener("input", changed);
    $("runtime").addEventListener("submit", (event) => event.preventDefault());
    document.addEventListener("quantities", () => {
      followUnit(celsius);
      changed();
    });
    changed();
  }

  /* `show` is called with what was entered, now and at every change. */
  window.runtimeForm = (show) => {
    [listener, data] = [show, window.runtimeData];
    start();
  };
})();
