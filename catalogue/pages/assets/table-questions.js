/*
 * What the table of all units is asked: by name, class, price, energy, heater, current carried, load. Each row answers
 * from its evidence: yes, no, or not known, which is counted apart. What is asked stands in words above the table.
 *
 * A row has: name; of, the id of its class (null: none); price (null: not known); heats; wh, the limits of the energy
 * delivered (null: open); points, [surely at least A, A, at least s] of what it carried, and where it cut off then also
 * [at most s, surely at most A] (null: open); loads, a letter for each load as the form lists them: r ran, s started and cut off later,
 * p should start, b borderline, n will not, u not known; borderline is neither a yes nor a no.
 *
 * window.unitsQuestions, for table-tools.js and tests:
 *   carries(points, amps, seconds)   1, 0 or -1, as site_builder/derive/overload.py decides of a start
 *   within(limits, least, most)      1, 0 or -1
 *   told()                           [[name, text], …], what is asked, for the address
 *   ask(values)                      fills the form; gives what view.change takes
 */
(function () {
  "use strict";

  const view = window.unitsView;
  const form = document.getElementById("filters");
  if (!view || !form) return;
  const YES = 1, NO = 0, UNKNOWN = -1;
  const THIN = "\u202f";
  const LOADS = { r: "ran it", s: "started it and cut off later", p: "should start it" };
  const field = (name) => form.elements[name];
  const currency = field("price").dataset.unit;

  /* Carried: a hold as long, of surely as much. Cut off: a trip no later, at surely no more. Both, or neither: not known. */
  function carries(points, amps, seconds) {
    let smallest = null;
    for (const point of points) {
      const [, value, , longest = null] = point;
      if (longest !== null && longest <= seconds && (!smallest || value < smallest[1])) smallest = point;
    }
    const held = points.filter(([low, , shortest]) => low !== null && low >= amps && shortest >= seconds);
    if (smallest && smallest[4] !== null && smallest[4] <= amps) return held.length ? UNKNOWN : NO;
    return held.some(([, value]) => !smallest || value < smallest[1]) ? YES : UNKNOWN;
  }

  /* Of an energy between limits: yes where both lie inside, no where both lie outside on one side. */
  function within(limits, least, most) {
    if (!limits) return UNKNOWN;
    const [low, high] = [limits[0] ?? -Infinity, limits[1] ?? Infinity];
    if (high < least || low > most) return NO;
    return low >= least && high <= most ? YES : UNKNOWN;
  }

  const number = (text, open) => (text === "" ? open : Number(text));
  const amount = (value) => (value === null ? null : [value, value]);

  /* Thousands set apart, as on every page. */
  const digits = (text) => String(Number(text)).replace(/^\d+/, (whole) => whole.replace(/\B(?=(\d{3})+$)/g, THIN));

  function timeWords(seconds) {
    return seconds >= 120 && seconds % 60 === 0 ? `${digits(seconds / 60)}${THIN}min` : `${digits(seconds)}${THIN}s`;
  }

  function rangeWords(least, most, unit, what) {
    if (least !== "" && most !== "") return `${what}${digits(least)} to ${digits(most)}${THIN}${unit}`;
    return least !== "" ? `${what}at least ${digits(least)}${THIN}${unit}` : `${what}up to ${digits(most)}${THIN}${unit}`;
  }

  const chosenText = (name) => field(name).selectedOptions[0].textContent;

  /* Each question: the fields that ask it, its answer for a row, its words. The first field empty (of a range: both),
     it is not asked. */
  const QUESTIONS = [
    {
      fields: ["words"],
      answer: ({ words }) => {
        const wanted = words.toLowerCase().split(/\s+/);
        return ({ name }) => (wanted.every((word) => name.toLowerCase().includes(word)) ? YES : NO);
      },
      words: ({ words }) => `“${words}”`,
    },
    {
      fields: ["class"],
      answer: (asked) => ({ of }) => (of === asked.class ? YES : NO),
      words: () => chosenText("class"),
    },
    {
      fields: ["heater"],
      answer: ({ heater }) => ({ heats }) => (heats === (heater === "yes") ? YES : NO),
      words: () => chosenText("heater"),
    },
    {
      fields: ["least", "price"],
      answer: ({ least, price: most }) => ({ price }) => within(amount(price), number(least, -Infinity), number(most, Infinity)),
      words: ({ least, price }) => rangeWords(least, price, currency, ""),
    },
    {
      fields: ["wh", "most"],
      answer: ({ wh, most }) => (row) => within(row.wh, number(wh, -Infinity), number(most, Infinity)),
      words: ({ wh, most }) => rangeWords(wh, most, "Wh", "delivered "),
    },
    {
      fields: ["amps"],
      answer: ({ amps, seconds }) => ({ points }) => carries(points, Number(amps), Number(seconds)),
      words: ({ amps, seconds }) => `carries at least ${digits(amps)}${THIN}A for ${timeWords(Number(seconds))}`,
    },
    {
      fields: ["load"],
      answer: () => {
        const place = field("load").selectedIndex - 1;
        return ({ loads }) => (loads[place] in LOADS ? YES : loads[place] === "n" ? NO : UNKNOWN);
      },
      words: () => `ran or starts: ${chosenText("load").toLowerCase()}`,
    },
  ];

  const controls = [...form.elements].filter(({ name }) => name);
  const isRefused = ({ validity }) => validity.rangeUnderflow || validity.badInput;

  /* What is no number, or below nothing, is not asked, and the form says so. */
  function asked() {
    const values = Object.fromEntries(controls.map((one) => [one.name, isRefused(one) ? "" : one.value.trim()]));
    if (values.seconds === "") values.seconds = field("seconds").defaultValue;
    return values;
  }

  const active = (values) => QUESTIONS.filter(({ fields }) => fields.some((name) => values[name] !== ""));

  /* One "no" is a no, whatever else is not known. */
  function together(answers) {
    return (row) => {
      let result = YES;
      for (const answer of answers) {
        const one = answer(row);
        if (one === NO) return NO;
        if (one === UNKNOWN) result = UNKNOWN;
      }
      return result;
    };
  }

  const [inForce, refused] = [form.querySelector(".in-force"), form.querySelector(".refused")];
  const [clear, unknown] = [form.querySelector(".clear"), form.querySelector(".unknown")];
  const all = Number(document.getElementById("units").dataset.rows);

  function refuse() {
    for (const one of controls) one.ariaInvalid = isRefused(one) ? "true" : null;
    const names = controls.filter(isRefused).map((one) => `“${one.ariaLabel}”`);
    refused.textContent = names.length ? `${names.join(", ")}: needs a number from 0 up, and is not asked.` : "";
  }

  function say() {
    refuse();
    const values = asked();
    const words = active(values).map((question) => question.words(values));
    const { yes, unknown: open } = view.found;
    inForce.textContent = words.length ? `${words.join(" · ")}: ${yes.length} of ${all}${howLoads(values, yes)}` : `all ${all}`;
    clear.hidden = !words.length;
    unknown.hidden = !open.length;
    unknown.textContent = `${open.length} more: not known`;
    unknown.ariaPressed = String(view.withUnknown);
    unknown.title = view.withUnknown ? "Leave them out" : "Show them too";
  }

  /* Seen or summed: of a load the words tell how many of each. */
  function howLoads({ load }, yes) {
    if (!load || !yes.length) return "";
    const place = field("load").selectedIndex - 1;
    const count = (letter) => yes.filter(({ loads }) => loads[place] === letter).length;
    const told = Object.entries(LOADS).filter(([letter]) => count(letter));
    return ` (${told.map(([letter, words]) => count(letter) + " " + words).join(", ")})`;
  }

  function apply() {
    const values = asked();
    view.change({ ask: together(active(values).map((question) => question.answer(values))) });
  }

  function ask(values) {
    for (const control of controls) {
      control.value = values.get(control.name) ?? control.defaultValue ?? ""; // lists have no default: their first entry
      if (control.selectedIndex < 0) control.selectedIndex = 0; // a list that has no such entry
    }
    const current = asked();
    return { ask: together(active(current).map((question) => question.answer(current))) };
  }

  /* Only what is asked: for the address. */
  function told() {
    const values = asked();
    const names = active(values).flatMap(({ fields }) => fields.filter((name) => values[name] !== ""));
    if (names.includes("amps")) names.push("seconds");
    return names.map((name) => [name, values[name]]);
  }

  form.addEventListener("input", apply);
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("reset", () => setTimeout(() => view.change({ ask: () => YES, withUnknown: false })));
  unknown.addEventListener("click", () => view.change({ withUnknown: !view.withUnknown }));
  form.hidden = false; // without scripts it could do nothing, so it is not there
  // On a desk there is room for the controls beside the words; on a phone they fold away.
  form.querySelector("details").open = matchMedia("(min-width: 60em)").matches;
  inForce.textContent = `all ${all}`;
  view.heard.push(say);
  window.unitsQuestions = { carries, within, ask, told };
})();
