/*
 * Measured numbers in the browser, by the same arithmetic as site_builder/measured.py and pages/text.py.
 *
 * A number is {value, unit, bound, low, high, vague, components}: bound "at_least", "at_most" or "between" (absent:
 * exact); low and high for "between"; vague where nobody can say its ±. components holds, by source, [u, limit, dof]:
 * the signed standard uncertainty, the half-width that it never exceeds and the degrees of freedom (null or absent:
 * none, infinite). Two numbers with the same source had the same error, which cancels in their difference.
 *
 * measured.difference(a, b)    b − a, with the components that are left
 * measured.expanded(one)       U for two-sided 95 %
 * measured.verdict(a, b)       what can be told: {told: "more" | "less" | "close" | "open" | "vague", …}
 * measured.shown(value, U, …)  in words, rounded as on every page
 */
(function () {
  "use strict";

  const THIN = "\u202f", FIXED = "\u00a0", MINUS = "−";
  const RECTANGULAR = 1.65, DOMINANCE = 0.3; // as in measured.py, with their sources
  const NORMAL = 1.959963984540054;

  function hypot(components) {
    return Math.hypot(...Object.values(components).map(([u]) => u));
  }

  /* Student's t for two-sided 95 % at whole degrees of freedom: a table, and beyond it the expansion in 1/ν. */
  function coverage(dof) {
    if (dof === Infinity) return NORMAL;
    const whole = Math.max(Math.floor(dof), 1), table = window.studentT;
    if (whole <= table.length) return table[whole - 1];
    const x = NORMAL; // Abramowitz and Stegun 1964, 26.7.5
    const terms = [
      (x ** 3 + x) / 4,
      (5 * x ** 5 + 16 * x ** 3 + 3 * x) / 96,
      (3 * x ** 7 + 19 * x ** 5 + 17 * x ** 3 - 15 * x) / 384,
      (79 * x ** 9 + 776 * x ** 7 + 1482 * x ** 5 - 1920 * x ** 3 - 945 * x) / 92160,
    ];
    return terms.reduce((sum, term, i) => sum + term / whole ** (i + 1), x);
  }

  function effectiveDof(components, u) {
    const finite = Object.values(components).filter(([, , dof]) => dof);
    const fourth = finite.reduce((sum, [each, , dof]) => sum + each ** 4 / dof, 0);
    return fourth > 0 ? u ** 4 / fourth : Infinity;
  }

  function expanded({ components }) {
    const u = hypot(components);
    if (u === 0) return 0;
    const all = Object.values(components);
    const largest = all.reduce((a, b) => (Math.abs(b[0]) > Math.abs(a[0]) ? b : a));
    const others = Math.sqrt(Math.max(u ** 2 - largest[0] ** 2, 0));
    const rules = largest[1] != null && others < DOMINANCE * Math.abs(largest[0]);
    const k = rules ? RECTANGULAR : coverage(effectiveDof(components, u));
    const open = all.some(([, limit]) => limit == null);
    return open ? k * u : Math.min(k * u, all.reduce((sum, [, limit]) => sum + limit, 0));
  }

  /* Limits grow with their u; a source without one in either number has none in the difference. */
  function left(a = [0], b = [0]) {
    const u = b[0] - a[0];
    if (u === 0) return null;
    const sources = [a, b].filter(([each]) => each !== 0);
    const open = sources.some(([, limit]) => limit == null);
    const limit = open ? null : Math.abs(u) * Math.max(...sources.map(([each, most]) => most / Math.abs(each)));
    const dof = Math.min(...sources.map(([, , each]) => each ?? Infinity));
    return [u, limit, dof === Infinity ? null : dof];
  }

  function difference(a, b) {
    const components = {};
    for (const source of new Set([...Object.keys(a.components), ...Object.keys(b.components)])) {
      const one = left(a.components[source], b.components[source]);
      if (one) components[source] = one;
    }
    return { value: b.value - a.value, unit: a.unit, components };
  }

  function ends({ value, bound, low, high }) {
    return [bound === "at_most" ? -Infinity : low ?? value, bound === "at_least" ? Infinity : high ?? value];
  }

  /* Whether b is more or less than a by more than the instruments can mistake, whatever a bound leaves open. */
  function verdict(a, b) {
    if (a.vague || b.vague) return { told: "vague" };
    const apart = difference(a, b);
    const U = expanded(apart);
    const [[lowA, highA], [lowB, highB]] = [ends(a), ends(b)];
    const [least, most] = [lowB - highA - U, highB - lowA + U];
    const exact = !a.bound && !b.bound;
    const told = least > 0 ? "more" : most < 0 ? "less" : exact ? "close" : "open";
    return { told, value: apart.value, U, exact, least: told === "more" ? least : -most };
  }

  /* Twelve digits drop what binary arithmetic adds, as in text.py. */
  function digitsOf(value) {
    const [digits, power] = Math.abs(value).toExponential(11).split("e");
    return { digits, power: Number(power), first: Number(digits[0]) };
  }

  function placeOf(U) {
    const { power, first } = digitsOf(U);
    return power - (first === 1 ? 1 : 0);
  }

  function atPlace(value, place, round = (x) => Math.floor(x + 0.5)) {
    const { digits, power } = digitsOf(value);
    const whole = round(Number(`${digits}e${power - place}`));
    const [before, after] = Number(`${whole}e${place}`).toFixed(Math.max(0, -place)).split(".");
    const grouped = before.replace(/\B(?=(\d{3})+$)/g, THIN);
    return (value < 0 && whole !== 0 ? MINUS : "") + grouped + (after ? `.${after}` : "");
  }

  /* Three digits, four if it starts with 1, and no empty zeros. */
  function withoutSpread(value) {
    const text = atPlace(value, value ? placeOf(value) - 2 : 0);
    return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
  }

  const DAY = 86400;
  const TIMES = [["s", 1, 120], ["min", 60, 7200], ["h", 3600, 4 * DAY], ["days", DAY, Infinity]];

  /* In the unit that a reader should see: percent, and times by their size; with the finest place of its ±. */
  function inWords(size, unit) {
    if (unit === "1") return { factor: 100, words: "%" };
    if (unit !== "s") return { factor: 1, words: unit };
    const [words, length] = TIMES.find(([, , below]) => Math.abs(size) < below);
    return { factor: 1 / length, words, finest: -2 };
  }

  function shown(value, U, unit) {
    const { factor, words, finest } = inWords(value, unit);
    const tail = words ? THIN + words : "";
    if (!U) return withoutSpread(value * factor) + tail;
    const spread = finest === undefined ? U * factor : Math.max(U * factor, 10 ** finest);
    const place = Math.max(placeOf(spread), finest ?? -Infinity);
    return `${atPlace(value * factor, place)}${FIXED}±${THIN}${atPlace(spread, place)}${tail}`;
  }

  /* The least that is sure, never rounded up. */
  function atLeast(value, U, unit) {
    const { factor, words } = inWords(value, unit);
    const { power, first } = digitsOf(value * factor);
    const finest = power - 2 - (first === 1 ? 1 : 0);
    const text = atPlace(value * factor, U ? Math.max(finest, Math.min(placeOf(U * factor), power)) : finest, Math.floor);
    return `at least ${text}${words ? THIN + words : ""}`;
  }

  window.measured = { atLeast, coverage, difference, expanded, shown, verdict };
})();
