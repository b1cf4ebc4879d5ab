/*
 * °C or °F, kg or lb, mm or in: one switch in the header, remembered on this device, for pages, tables, charts, forms.
 *
 * A page holds such a quantity as <data value=6.132±0.471°C>6.1<span class="u"> ± 0.5 °C</span></data>: the numbers
 * behind the words, in their order, then ± and the unit; "K" is a difference of temperatures. Without this script the
 * words stand as they are. For other scripts, which should work where this one is not there:
 *
 * quantities.us                        whether °F, lb and in are chosen
 * quantities.unit("°C")                "°C" or "°F"; a unit that does not switch comes back as it is
 * quantities.show(6.132, "°C", 0.471)  "6.1 ± 0.5 °C" or "43.0 ± 0.8 °F"; without ± three digits, four after a 1
 * quantities.chosen(20, "°C")          20 or 68: a number in the unit chosen, for a field of a form
 * quantities.metric(68, "°C")          20, back from the unit chosen
 * quantities.within(element)           brings what was just put into a page to the unit chosen
 * document hears "quantities" after every change.
 */
(function () {
  "use strict";

  const KEY = "measures";
  const THIN = "\u202f", FIXED = "\u00a0", MINUS = "−";
  // 1 lb is 0.45359237 kg, 1 in is 25.4 mm, both exactly; a kelvin is 1.8 degrees Fahrenheit, whose zero lies 32 lower.
  const LB = 0.45359237;
  const KINDS = {
    "°C": { unit: "°F", by: 1.8, plus: 32 },
    K: { unit: "°F", by: 1.8, plus: 0 },
    kg: { unit: "lb", by: 1 / LB, plus: 0 },
    mm: { unit: "in", by: 1 / 25.4, plus: 0 },
    "Wh/kg": { unit: "Wh/lb", by: LB, plus: 0 },
  };
  const NUMBER = /[−-]?\d+(?:\u202f\d{3})*(?:\.\d+)?/g;
  const UNIT = /°C|\bK\b|Wh\/kg|kg|mm/;
  const HELD = /^([^±]*?)(?:±([\d.e+-]+))?(°C|K|kg|mm|Wh\/kg)$/;
  const written = new WeakMap(); // what a text said before it was changed

  let us = remembered();

  function remembered() {
    try {
      return localStorage.getItem(KEY) === "us";
    } catch {
      return false; // a browser that keeps nothing still switches, until the next page
    }
  }

  function remember() {
    try {
      localStorage.setItem(KEY, us ? "us" : "metric");
    } catch {
      // as above
    }
  }

  const kindOf = (unit) => (us && KINDS[unit]) || { unit, by: 1, plus: 0 };
  const chosen = (value, unit) => value * kindOf(unit).by + kindOf(unit).plus;
  const metric = (value, unit) => (value - kindOf(unit).plus) / kindOf(unit).by;

  /* Rounding as pages do it (pages/text.py): halves away from zero, on twelve digits, which binary arithmetic keeps. */
  const ROUNDED = {
    half: (scaled) => Math.sign(scaled) * Math.floor(Math.abs(scaled) + 0.5),
    floor: Math.floor,
    ceil: Math.ceil,
  };

  function atPlace(value, place, padded = true, way = "half") {
    // Divided by a whole power of ten, since 10 ** -1 is none that binary arithmetic knows.
    const scaled = place < 0 ? value * 10 ** -place : value / 10 ** place;
    const whole = ROUNDED[way](Number(scaled.toPrecision(12)));
    const number = place < 0 ? whole / 10 ** -place : whole * 10 ** place;
    const fixed = Math.abs(number).toFixed(Math.max(0, -place));
    const parts = (padded ? fixed : String(Number(fixed))).split(".");
    parts[0] = (whole < 0 ? MINUS : "") + parts[0].replace(/\B(?=(\d{3})+$)/g, THIN);
    return parts.join(".");
  }

  /* The power of ten at which so many digits end, one more where the first is 1. */
  function placeOf(value, digits) {
    if (value === 0) return 0;
    const [mantissa, exponent] = Number(Math.abs(value).toPrecision(12)).toExponential().split("e");
    return Number(exponent) + 1 - digits - (mantissa[0] === "1" ? 1 : 0);
  }

  /* After a conversion the nearest place that keeps the digits shown: 307 mm is 12.09 in, 2 °C is 36 °F. */
  function placeOfStep(shown, by) {
    const step = 10 ** -(shown.split(".")[1] || "").length * by;
    return Math.min(Math.floor(Math.log10(2 * step) + 1e-9), 0);
  }

  function show(value, unit, spread) {
    const kind = kindOf(unit);
    const tail = kind.unit ? THIN + kind.unit : "";
    if (!spread) return atPlace(chosen(value, unit), placeOf(chosen(value, unit), 3), false) + tail;
    const place = placeOf(spread * kind.by, 1);
    return `${atPlace(chosen(value, unit), place)}${FIXED}±${THIN}${atPlace(spread * kind.by, place)}${tail}`;
  }

  function textsOf(element) {
    const walker = document.createTreeWalker(element, NodeFilter.SHOW_TEXT);
    const texts = [];
    while (walker.nextNode()) texts.push(walker.currentNode);
    return texts;
  }

  function change(element) {
    const found = HELD.exec(element.getAttribute("value"));
    if (!found || !(us || element.hasAttribute("data-us"))) return;
    element.toggleAttribute("data-us", us);
    const texts = textsOf(element);
    for (const text of texts) {
      if (!written.has(text)) written.set(text, text.data);
      text.data = written.get(text);
    }
    if (us) inWords(texts, found);
  }

  /* Each number in the words is the next of those held, or their ±; what stands before it says how a bound is rounded. */
  function inWords(texts, [, values, spread, unit]) {
    const kind = KINDS[unit];
    const numbers = values ? values.split("~").map(Number) : [];
    const isPair = spread && texts.some((text) => text.data.includes("±"));
    const fine = isPair ? placeOf(spread * kind.by, 1) : null;
    for (const text of texts) {
      const said = text.data;
      const told = said.replace(NUMBER, (shown, at) => {
        const before = said.slice(0, at);
        if (/±\s*$/.test(before)) return isPair ? atPlace(spread * kind.by, fine) : shown;
        if (!numbers.length) return shown;
        const value = numbers.shift() * kind.by + kind.plus;
        if (isPair) return atPlace(value, fine);
        return atPlace(value, placeOfStep(shown, kind.by), Boolean(spread), wayOf(before));
      });
      text.data = told.replace(UNIT, kind.unit);
    }
  }

  function wayOf(before) {
    if (/at least $|between $/.test(before)) return "floor";
    return /at most $|between .* and $/.test(before) ? "ceil" : "half";
  }

  function within(element) {
    for (const one of element.querySelectorAll("data[value]")) change(one);
  }

  /* The switch names what is chosen; to a screen reader it is on or off. */
  function offer(tools) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "measures";
    button.title = button.ariaLabel = "Fahrenheit, pounds and inches";
    button.addEventListener("click", () => choose(!us));
    tools.prepend(button);
    return button;
  }

  function choose(wanted) {
    if (wanted === us) return;
    us = wanted;
    remember();
    follow();
    document.dispatchEvent(new CustomEvent("quantities"));
  }

  let button;
  function follow() {
    within(document);
    if (!button) return;
    button.textContent = kindOf("°C").unit;
    button.ariaPressed = String(us);
  }

  function start() {
    const tools = document.querySelector(".site-tools");
    if (tools) button = offer(tools);
    follow();
    addEventListener("storage", (event) => event.key === KEY && choose(remembered()));
  }

  window.quantities = {
    get us() {
      return us;
    },
    unit: (unit) => kindOf(unit).unit,
    show,
    chosen,
    metric,
    within,
  };
  if (document.readyState === "loading") addEventListener("DOMContentLoaded", start);
  else start();
})();
