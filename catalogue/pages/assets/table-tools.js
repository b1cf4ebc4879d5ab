/*
 * What is done with the table of all units: its view kept in the address, copied as CSV, and up to four units picked to
 * be compared. The last script of the table: it starts with what the address says.
 *
 * Address: what the filters ask, by their fields' names; columns=capacity, or keys with commas; sort=price, or
 * sort=-price from the top; unknown=1; units=a,b picked. Behind "?", from file:// behind "#?".
 */
(function () {
  "use strict";

  const view = window.unitsView, questions = window.unitsQuestions;
  if (!view || !questions) return;
  const MOST = 4;
  const table = document.getElementById("units");
  const tools = document.getElementById("table-tools");
  const isFile = location.protocol === "file:";
  const picked = new Map(); // id → name, in the order in which they were picked

  /* Address */

  function read() {
    return new URLSearchParams(isFile ? location.hash.replace(/^#\??/, "") : location.search);
  }

  function write() {
    const values = new URLSearchParams(questions.told());
    if (view.chosen) values.set("columns", view.chosen.join(","));
    else if (view.set !== "main") values.set("columns", view.set);
    if (view.sorted) values.set("sort", (view.sorted.down ? "-" : "") + view.sorted.key);
    if (view.withUnknown) values.set("unknown", "1");
    if (picked.size) values.set("units", [...picked.keys()].join(","));
    const query = String(values) && `?${values}`.replaceAll("%2C", ",");
    if (isFile) history.replaceState(null, "", `#${query}`); // a page from a folder may change no more than that
    else history.replaceState(null, "", location.pathname + query + location.hash);
  }

  async function follow(values) {
    if (!String(values)) return;
    const data = await view.load();
    const keys = new Set(data.columns.map(({ key }) => key));
    const wanted = (values.get("columns") ?? "main").split(",");
    const chosen = wanted.filter((key) => keys.has(key));
    const set = data.columns.some(({ sets }) => sets.includes(wanted[0])) ? wanted[0] : "main";
    const sort = values.get("sort") ?? "";
    const key = sort.replace(/^-/, "");
    const named = new Map(data.rows.map(({ id, name }) => [id, name]));
    for (const id of (values.get("units") ?? "").split(",")) if (named.has(id) && picked.size < MOST) picked.set(id, named.get(id));
    view.change({
      ...questions.ask(values),
      set: chosen.length ? "main" : set,
      chosen: chosen.length ? chosen : null,
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
    line.hidden = !picked.size;
    if (!picked.size) return;
    const address = window.site.page(`compare/?units=${[...picked.keys()].join(",")}`);
    const full = picked.size >= MOST ? " Four at most." : "";
    line.innerHTML = `<a href="${view.escaped(address)}">Compare (${picked.size})</a> <span>${[...picked.values()].map(view.escaped).join(", ")}.${full}</span> <button type="button" class="clear">none</button>`;
    line.querySelector("button").addEventListener("click", () => {
      picked.clear();
      showPicks();
      write();
      table.querySelector(".pick")?.focus();
    });
  }

  /* CSV: all rows found, in the columns shown; beside each number what is known of it. */

  function csv() {
    const columns = view.columns();
    const heading = ({ heading, words }) => (words ? [plain(heading)] : [plain(heading), "±, or in words"]);
    const rows = [...view.found.yes, ...(view.withUnknown ? view.found.unknown : [])];
    const lines = [["Battery", ...columns.flatMap(heading)], ...rows.map((row) => [row.name, ...columns.flatMap((one) => cellsOf(row, one))])];
    return lines.map((line) => line.map(quoted).join(",")).join("\r\n") + "\r\n";
  }

  function cellsOf(row, column) {
    const [, value, spread] = row.cells[column.place];
    const words = plain(view.html(row.cells[column.place], column.unit));
    if (column.words) return [words];
    if (value === undefined) return ["", words];
    const inUnit = (number) => window.quantities?.chosen(number, column.unit) ?? number;
    const shown = inUnit(value);
    const known = spread ? Number((inUnit(value + spread) - shown).toPrecision(3)) : /[a-z]/.test(words) ? words : "";
    return [Number(shown.toPrecision(6)), known];
  }

  function plain(html) {
    const element = document.createElement("template");
    element.innerHTML = html;
    window.quantities?.within(element.content);
    return element.content.textContent.replace(/\s+/g, " ").trim();
  }

  /* A cell that begins like a formula would be one in a spreadsheet; names come from others. */
  function quoted(value) {
    const text = typeof value === "string" && /^[=+\-@\t]/.test(value) ? `'${value}` : String(value);
    return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  }

  async function copy() {
    await view.load();
    if (!view.found) await view.change({});
    const text = csv();
    try {
      await navigator.clipboard.writeText(text);
      told.textContent = `Copied ${text.trimEnd().split("\r\n").length - 1} rows.`;
    } catch {
      byHand(text);
    }
  }

  /* Where a page may not write to the clipboard, the text is shown and selected. */
  function byHand(text) {
    sheet.hidden = false;
    sheet.value = text;
    sheet.focus();
    sheet.select();
    told.textContent = document.execCommand("copy") ? "Copied." : "Copy what is selected.";
  }

  const button = document.createElement("button");
  const told = document.createElement("span");
  const sheet = document.createElement("textarea");

  function start() {
    button.type = "button";
    button.className = "more";
    button.textContent = "Copy as CSV";
    button.addEventListener("click", copy);
    told.setAttribute("role", "status");
    sheet.hidden = true;
    sheet.readOnly = true;
    sheet.ariaLabel = "The table as CSV";
    tools.append(button, told);
    tools.after(sheet);
    line.hidden = true;
    tools.before(line);
    offerPicks();
    view.lead = (row) => box(row.id, row.name);
    view.heard.push(showPicks, write);
    follow(read());
  }

  start();
})();
