/*
 * Up to four batteries side by side; which ones stands in the address, units=a,b, and only=1 where only what differs is shown.
 *
 * data/compare/index.js assigns compareIndex: {classes: [[title, [[id, name], …]], …], questions: [{anchor, heading,
 * short, picture, rows: [[key, title, what a battery without it says], …]}, …], moved, without: as address.js has them}.
 * data/compare/<id>.js is fetched when a battery is chosen and assigns compared_<id>: {id, name, label, rows: {key: [words,
 * number or null, note, seen]}, absent: {key: what it says without one, where it is not what others say}, curves}, words
 * and note as HTML; two batteries that have both `seen` are compared by that.
 * What differs is worked out here, by measured.js, against the first battery.
 */
(function () {
  "use strict";

  const MOST = 4;
  const LOOKS = ["first", "second", "third", "fourth"];
  const MISTAKE = "more than the instruments can mistake";
  const DIRECTIONS = { s: ["longer", "shorter"], h: ["longer", "shorter"], "°C": ["higher", "lower"], V: ["higher", "lower"] };
  const US = { "°C": "K", kg: "kg", "Wh/kg": "Wh/kg" }; // what measures.js calls a difference in these units
  const form = document.querySelector(".choose");
  const place = document.querySelector(".compared");
  const [find, select] = [form.elements.find, form.elements.battery];
  const said = form.querySelector("[role=status]");
  const { classes, questions } = window.compareIndex;
  const names = new Map(classes.flatMap(([, units]) => units));
  let chosen = [];
  const NONE = { left: [], said: "" };
  let others = NONE; // what the address asked for and has no results here; kept in it until somebody chooses
  let only = false;
  let latest = 0;
  let wanted = location.hash.slice(1); // a question that the address asked for, before there is any

  function make(tag, properties = {}, ...children) {
    const element = Object.assign(document.createElement(tag), properties);
    element.append(...children.filter((child) => child !== null && child !== ""));
    return element;
  }

  function follow() {
    const asked = window.address.read();
    const found = window.address.units(asked.get("units"), names, window.compareIndex, MOST);
    only = asked.get("only") === "1";
    choose(found.ids, found.said, found);
  }

  function keep() {
    const ids = [...chosen, ...others.left].join(",");
    window.address.write(new URLSearchParams({ ...(ids && { units: ids }), ...(only && { only: 1 }) }));
  }

  function choose(ids, words, rest = NONE) {
    [chosen, others] = [ids, rest];
    keep();
    offer();
    show(words);
  }

  /* Names that hold every word typed and are not chosen yet; those of the first one's class come first. */
  function offer() {
    const words = find.value.toLowerCase().split(/\s+/);
    const first = classes.find(([, units]) => units.some(([id]) => id === chosen[0]));
    const groups = first ? [first, ...classes.filter((one) => one !== first)] : classes;
    select.replaceChildren();
    for (const [title, units] of groups) {
      const fitting = units.filter(([id, name]) => !chosen.includes(id) && words.every((word) => name.toLowerCase().includes(word)));
      if (!fitting.length) continue;
      const options = fitting.map(([id, name]) => make("option", { value: id, textContent: name }));
      select.append(make("optgroup", { label: title }, ...options));
    }
    const full = chosen.length === MOST;
    form.elements.add.disabled = full || !select.options.length;
    select.disabled = full || !select.options.length;
  }

  async function unitOf(id) {
    await window.site.script(`data/compare/${id}.js`);
    return window[`compared_${id.replaceAll("-", "_")}`];
  }

  async function show(words = "") {
    const turn = ++latest;
    if (!chosen.length) {
      place.replaceChildren();
      said.textContent = [words, "Choose a first battery."].filter(Boolean).join(" ");
      return;
    }
    try {
      const units = await Promise.all(chosen.map(unitOf));
      if (turn !== latest) return; // somebody has chosen again meanwhile
      draw(units);
      const more = chosen.length === MOST ? `${MOST} are the most that stand beside one another.` : chosen.length === 1 ? "Choose another to stand beside it." : "";
      said.textContent = [words, more].filter(Boolean).join(" ");
    } catch (error) {
      said.textContent = "The figures of one of them did not load. Reloading the page may help.";
      console.error(error);
    }
  }

  function draw(units) {
    const tally = units.map(() => ({ told: [], close: 0, open: 0 }));
    const parts = questions.map((question) => section(question, units, tally)).filter(Boolean);
    const open = [...place.querySelectorAll("details[open]")].map((fold) => fold.parentNode.getAttribute("aria-labelledby"));
    place.replaceChildren(heads(units), ...summary(units, tally), jumps(parts), ...parts.flat());
    place.classList.toggle("only", only && units.length > 1);
    for (const name of open) place.querySelector(`[aria-labelledby="${name}"] > details`)?.setAttribute("open", "");
    window.quantities?.within(place);
    place.querySelectorAll("figure").forEach(window.watchChart);
    if (wanted) document.getElementById(wanted)?.scrollIntoView();
    wanted = "";
  }

  function jumps(parts) {
    const shown = new Set(parts.map(([heading]) => heading.id));
    const links = questions.filter(({ anchor }) => shown.has(anchor)).map(({ anchor, short }) => make("a", { href: `#${anchor}`, textContent: short }));
    return make("nav", { className: "jump", ariaLabel: "On this page" }, ...links);
  }

  function heads(units) {
    return make("ol", { className: "sides" }, ...units.map((unit, i) => head(unit, i)));
  }

  function head({ id, name, label }, i) {
    const line = make("span", { className: `line ${LOOKS[i]}` });
    line.setAttribute("aria-hidden", "true");
    const link = make("a", { href: window.site.page(`units/${id}/`), textContent: name });
    const rest = chosen.filter((one) => one !== id);
    const remove = button("remove", `remove ${name}`, () => choose(rest, `${name} removed.`));
    const lead = i && button("put first", `put ${name} first`, () => choose([id, ...rest], `${name} stands first.`));
    return make("li", {}, line, link, make("span", { className: "u", textContent: label }), make("span", { className: "acts" }, lead || "", remove));
  }

  /* The focus goes where it makes sense once the button is gone. */
  function button(words, label, act) {
    const one = make("button", { type: "button", textContent: words });
    one.setAttribute("aria-label", label);
    one.addEventListener("click", () => (act(), find.focus()));
    return one;
  }

  function summary(units, tally) {
    if (units.length < 2) return [];
    const lines = units.slice(1).map((unit, i) => {
      const { told, close, open } = tally[i + 1];
      const rest = `${close} too close to tell apart, ${open} that cannot be told.`;
      return make("li", {}, make("b", { textContent: unit.name }), ` against ${units[0].name}: ${told.length} of ${told.length + close + open} numbers differ by ${MISTAKE}; ${rest}`);
    });
    const box = make("input", { type: "checkbox", checked: only });
    box.addEventListener("change", () => {
      only = place.classList.toggle("only", box.checked);
      keep();
    });
    return [make("ul", { className: "tally" }, ...lines), make("label", { className: "narrow" }, box, ` Only what differs by ${MISTAKE}`)];
  }

  function section({ anchor, heading, picture, rows }, units, tally) {
    const lines = rows.filter(([key]) => units.some((unit) => unit.rows[key])).map((one) => row(one, units, tally));
    const drawn = picture && window.comparePictures[picture](units, LOOKS, place.clientWidth);
    if (!lines.length && !drawn) return null;
    const names = units.map((unit) => make("th", { scope: "col" }, make("a", { href: window.site.page(`units/${unit.id}/#${anchor}`), textContent: unit.name })));
    const top = make("thead", {}, make("tr", {}, make("th", { scope: "col", textContent: "Figure" }), ...names));
    const table = make("table", { className: "data sides-by" }, top, make("tbody", {}, ...lines));
    table.dataset.count = units.length;
    return [make("h2", { id: anchor, textContent: heading }), drawn ? drawn : "", table].filter(Boolean);
  }

  function row([key, title, missing], units, tally) {
    const first = units[0].rows[key];
    const cells = units.map((unit, i) => {
      const one = unit.rows[key];
      const cell = make("td", one ? {} : { className: "missing", textContent: unit.absent[key] ?? missing });
      cell.dataset.of = unit.name;
      if (!one) return cell;
      const [words, , note] = one;
      cell.innerHTML = words; // made and escaped by the builder
      for (const link of cell.querySelectorAll("a")) link.href = window.site.page(link.href);
      if (note) cell.append(make("small", { innerHTML: note }));
      const [a, b] = alike(first, one);
      if (i && a && b) cell.append(difference(a, b, tally[i], title));
      return cell;
    });
    const line = make("tr", {}, make("th", { scope: "row", textContent: title }), ...cells);
    if (cells.some((cell) => cell.querySelector("strong"))) line.dataset.told = "";
    return line;
  }

  /* Like with like: what both were seen to do, else the other numbers of both. */
  function alike(first, one) {
    const place = first?.[3] && one[3] ? 3 : 1;
    return [first?.[place], one[place]];
  }

  function difference(a, b, tally, title) {
    const found = window.measured.verdict(a, b);
    if (found.told === "more" || found.told === "less") tally.told.push(title);
    else tally[found.told === "close" ? "close" : "open"] += 1;
    return make("small", { className: "verdict" }, b.of ? `both ${b.of}: ` : "", ...verdictWords(found, b.unit));
  }

  function verdictWords({ told, value, U, exact, least }, unit) {
    const { shown, atLeast } = window.measured;
    const size = (value) => (window.quantities?.us && unit in US ? window.quantities.show(value, US[unit], U) : shown(value, U, unit));
    const points = (text) => text.replace(/\u202f%$/, "\u00a0percentage points");
    if (told === "vague") return ["cannot be told: no ±"];
    if (told === "open") return ["cannot be told"];
    if (told === "close") return [`too close to tell apart: ${points(size(value))}`];
    const way = (DIRECTIONS[unit] ?? ["more", "less"])[told === "more" ? 0 : 1];
    const much = points(exact ? size(Math.abs(value)) : atLeast(least, U, unit));
    return [`${much} ${way}, `, make("strong", { textContent: MISTAKE })];
  }

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (form.elements.add.disabled) return;
    const id = select.value;
    find.value = "";
    choose([...chosen, id], `${names.get(id)} added.`);
  });
  find.addEventListener("input", offer);
  document.addEventListener("quantities", () => show(others.said));
  window.address.heard(follow);
  follow();
})();
