/*
 * What is done with the table of all units: its view kept in the address, and up to four units picked to be compared.
 * The last script of the table: it starts with what the address says. The page holds the table back under .held until
 * that is drawn.
 *
 * Address: what the filters ask, by their fields' names; columns=capacity for a set, which no column is called like, or
 * keys with commas; sort=price, or sort=-price from the top; unknown=1; units=a,b picked.
 */
(function () {
  "use strict";

  const view = window.unitsView, questions = window.unitsQuestions;
  if (!view || !questions) return;
  const MOST = 4;
  const table = document.getElementById("units");
  const tools = document.getElementById("table-tools");
  const picked = new Map(); // id → name, in the order in which they were picked
  const NONE = { ids: [], said: "" };
  let left = NONE; // what an address asked for and nobody can pick, until somebody picks

  /* Address */

  function write() {
    const values = new URLSearchParams(questions.told());
    if (view.chosen) values.set("columns", view.chosen.join(","));
    else if (view.set !== "main") values.set("columns", view.set);
    if (view.sorted) values.set("sort", (view.sorted.down ? "-" : "") + view.sorted.key);
    if (view.withUnknown) values.set("unknown", "1");
    const units = [...picked.keys(), ...left.ids];
    if (units.length) values.set("units", units.join(","));
    window.address.write(values);
  }

  async function start() {
    offer();
    window.address.heard(() => follow(window.address.read()));
    try {
      const asked = window.address.read();
      if (String(asked)) await follow(asked);
    } finally {
      document.documentElement.classList.remove("held");
    }
  }

  async function follow(values) {
    const data = await view.load();
    const keys = new Set(data.columns.map(({ key }) => key));
    const wanted = values.get("columns") ?? "main";
    const isSet = data.columns.some(({ sets }) => sets.includes(wanted));
    const chosen = wanted.split(",").filter((key) => keys.has(key));
    const sort = values.get("sort") ?? "";
    const key = sort.replace(/^-/, "");
    const named = new Map(data.rows.map(({ id, name }) => [id, name]));
    const { ids, ...rest } = window.address.units(values.get("units"), named, data, MOST);
    left = { ids: rest.left, said: rest.said };
    picked.clear();
    for (const id of ids) picked.set(id, named.get(id));
    await view.change({
      ...questions.ask(values),
      set: isSet ? wanted : "main",
      chosen: !isSet && (chosen.length || wanted === "") ? chosen : null,
      sorted: keys.has(key) || key === "name" ? { key, down: sort.startsWith("-") } : null,
      withUnknown: values.has("unknown"),
    });
  }

  /* Picking: a box before each name, and a line that stays in sight while some are picked. */

  function box(id, name) {
    const state = picked.has(id) ? " checked" : picked.size >= MOST ? " disabled" : "";
    return `<input type="checkbox" class="pick" value="${id}" aria-label="Compare ${view.escaped(name)}"${state}> `;
  }

  function offerPicks() {
    for (const row of table.tBodies[0].rows) {
      const link = row.querySelector("a");
      const id = link.pathname.split("/units/")[1].split("/")[0];
      link.insertAdjacentHTML("beforebegin", box(id, link.textContent));
    }
    table.addEventListener("change", ({ target }) => {
      if (!target.classList.contains("pick")) return;
      if (target.checked) picked.set(target.value, target.ariaLabel.replace("Compare ", ""));
      else picked.delete(target.value);
      left = NONE;
      showPicks();
      write();
    });
  }

  const line = document.createElement("p");
  line.className = "picked";
  line.setAttribute("role", "status");

  function showPicks() {
    for (const one of table.querySelectorAll(".pick")) {
      one.checked = picked.has(one.value);
      one.disabled = picked.size >= MOST && !one.checked;
    }
    line.hidden = !picked.size && !left.said;
    if (line.hidden) return;
    const address = window.site.page(`compare/?units=${[...picked.keys()].join(",")}`);
    const full = picked.size >= MOST ? " Four at most." : "";
    const link = `<a href="${view.escaped(address)}">Compare (${picked.size})</a> <span>${[...picked.values()].map(view.escaped).join(", ")}.${full}</span>`;
    line.innerHTML = `${picked.size ? link : ""} ${left.said && `<span>${view.escaped(left.said)}</span>`} <button type="button" class="clear">none</button>`;
    line.querySelector("button").addEventListener("click", () => {
      picked.clear();
      left = NONE;
      showPicks();
      write();
      table.querySelector(".pick")?.focus();
    });
  }

  function offer() {
    line.hidden = true;
    tools.before(line);
    offerPicks();
    view.lead = (row) => box(row.id, row.name);
    view.heard.push(showPicks, write);
  }

  start();
})();
