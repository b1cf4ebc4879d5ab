/*
 * The page of own weights: sliders and numbers for the weights, and the batteries of a class in the visitor's order.
 * The sums are in weights-sums.js; data/weights/<class>.js assigns what they work on. The address keeps class and weights.
 */
(function () {
  "use strict";

  const $ = (id) => document.getElementById(id);
  const THIN = "\u202f", FIXED = "\u00a0", ROUNDING = 1e-9;
  const MOST = 1000;
  const COUNTS = ["Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve"];
  const rows = [...document.querySelectorAll(".weights > li")];
  const siteWeights = Object.fromEntries(rows.map((row) => [row.dataset.name, Number(row.dataset.site)]));
  const slider = (row) => row.querySelector("[type=range]");
  const typed = (row) => row.querySelector(`[id="weight-${row.dataset.name}"]`);

  function element(tag, className, ...children) {
    const one = document.createElement(tag);
    if (className) one.className = className;
    one.append(...children);
    return one;
  }

  /* In words, as pages have it (pages/grade_words.py) */

  function ordinal(place) {
    const ending = [11, 12, 13].includes(place % 100) ? "th" : { 1: "st", 2: "nd", 3: "rd" }[place % 10] || "th";
    return place + ending;
  }

  function span({ low, high }) {
    return low === high ? ordinal(low) : `${ordinal(low)} ${high === low + 1 ? "or" : "to"} ${ordinal(high)}`;
  }

  function placeWords(place) {
    if (place.of === 1) return "the only one with a score";
    return `${span(place)} of ${place.of}${place.low === place.high ? "" : ", too close to tell apart"}`;
  }

  const points = (value) => String(Math.floor(value + 0.5 + ROUNDING));

  function scoreSpan({ low, high }) {
    if (high - low <= ROUNDING) return "";
    return `${Math.floor(low + ROUNDING)}${FIXED}to${FIXED}${Math.ceil(high - ROUNDING)}`;
  }

  const percent = (share) => `${Math.floor(100 * share + 1e-6)}${THIN}%`;

  /* What was entered */

  function weights() {
    const found = rows.map((row) => [row.dataset.name, window.entries.number(typed(row), { most: MOST, what: "a weight" })]);
    return found.some(([, weight]) => Number.isNaN(weight)) ? null : Object.fromEntries(found);
  }

  function showShares(own) {
    const total = Object.values(own).reduce((all, one) => all + one, 0);
    for (const row of rows) {
      const weight = own[row.dataset.name];
      slider(row).value = weight;
      row.querySelector("output").textContent = total ? `${Number(((100 * weight) / total).toPrecision(2))}${THIN}%` : "";
    }
    return total;
  }

  const isSites = (own) => rows.every((row) => own[row.dataset.name] === siteWeights[row.dataset.name]);

  function writeAddress(own) {
    const kept = new URLSearchParams({ class: $("class").value });
    for (const [name, weight] of Object.entries(own)) if (weight !== siteWeights[name]) kept.append(`w-${name}`, weight);
    window.address.write(kept);
  }

  function readAddress() {
    const wanted = window.address.read();
    const named = [...$("class").options].findIndex((one) => one.value === wanted.get("class"));
    $("class").selectedIndex = Math.max(named, 0);
    for (const row of rows) typed(row).value = wanted.get(`w-${row.dataset.name}`) ?? row.dataset.site;
  }

  /* The order of a class */

  async function classData(name) {
    await window.site.script(`data/weights/${name}.js`);
    return window[`weights_${name.replaceAll("-", "_")}`];
  }

  function link(unit) {
    const one = element("a", "", unit.name);
    one.href = window.site.page(`units/${unit.id}/#grade`);
    return one;
  }

  function bar({ value, low, high }) {
    const one = element("span", "dot-bar");
    for (const [name, end] of [["v", value], ["low", low], ["high", high]]) one.style.setProperty(`--${name}`, end.toFixed(2));
    return one;
  }

  function line({ unit, score, place }, sites) {
    const could = scoreSpan(score);
    const number = element("p", "", element("b", "", points(score.value)), could ? element("span", "u", ` ${could}`) : "");
    const words = element("p", "", `${placeWords(place)}.`);
    if (unit.cap !== null) words.append(` Capped at ${points(unit.cap)}: ${unit.gates.join("; ")}.`);
    if (sites) words.append(element("span", "u was", `By the site’s weights: ${here(sites.get(unit.id))}.`));
    return element("li", "", element("p", "name", link(unit)), element("div", "", bar(score)), number, words);
  }

  const here = (place) => (place ? `${span(place)} of ${place.of}` : "no score");

  function inOrder(a, b) {
    return b.score.value - a.score.value || a.unit.id.localeCompare(b.unit.id, "en");
  }

  function top(graded) {
    const first = graded.filter((one) => one.place.low === 1);
    if (!first.length) return "None of them has a score by these weights.";
    if (graded.length === 1) return `${first[0].unit.name} is the only one with a score.`;
    if (first.length === 1) return `${first[0].unit.name} leads, by more than the evidence can be off.`;
    const more = first.length > 4 ? ` and ${first.length - 4} more` : "";
    const count = COUNTS[first.length - 2] || first.length;
    return `${count} cannot be told apart at the top: ${first.slice(0, 4).map((one) => one.unit.name).join(", ")}${more}.`;
  }

  function show(data, own) {
    const all = window.weightsSums.ranking(data, own);
    const graded = all.filter((one) => one.place).sort(inOrder);
    const sites = isSites(own) ? null : placesByHere(data);
    $("summary").textContent = top(graded);
    $("legend").hidden = !graded.length;
    $("places").replaceChildren(...graded.map((one) => line(one, sites)));
    $("ungraded").replaceChildren(
      ...all.filter((one) => !one.place).map(({ unit, score }) =>
        element("li", "", link(unit), `: no score, ${percent(score.tested)} of the weight tested of ${percent(data.least)} that it takes`)
      )
    );
  }

  function placesByHere(data) {
    return new Map(window.weightsSums.ranking(data, siteWeights).map(({ unit, place }) => [unit.id, place]));
  }

  function nothing(words) {
    $("summary").textContent = words;
    $("legend").hidden = true;
    $("places").replaceChildren();
    $("ungraded").replaceChildren();
  }

  let latest = 0;

  async function changed() {
    latest += 1;
    const turn = latest;
    const own = weights();
    $("back").disabled = Boolean(own) && isSites(own);
    if (!own) return nothing("Mend the weight that is marked: until then there is no order.");
    const total = showShares(own);
    writeAddress(own);
    $("whose").textContent = isSites(own)
      ? "These are still the site’s weights: the order below is the site’s own."
      : "By your own weights. This is your order, not the site’s grade.";
    if (!total) return nothing("Give at least one question a weight.");
    const data = await classData($("class").value).catch(missing);
    if (data && turn === latest) show(data, own); // another change may have come meanwhile
    return undefined;
  }

  function missing() {
    $("summary").textContent = "What this page works with did not load: try again later.";
  }

  function start() {
    readAddress();
    window.address.heard(() => {
      readAddress();
      changed();
    });
    for (const row of rows) {
      slider(row).addEventListener("input", () => (typed(row).value = slider(row).value));
      row.querySelector(".only").addEventListener("click", () => {
        for (const each of rows) typed(each).value = each === row ? 100 : 0;
        changed();
      });
    }
    $("weights").addEventListener("input", changed);
    $("weights").addEventListener("submit", (event) => event.preventDefault());
    $("back").addEventListener("click", () => {
      for (const row of rows) typed(row).value = row.dataset.site;
      changed();
      slider(rows[0]).focus(); // the button just switched itself off
    });
    changed();
  }

  start();
})();
