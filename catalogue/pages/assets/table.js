/*
 * The table of all units: draws it, sorts it, chooses its columns. table-questions.js filters it, table-tools.js keeps
 * it in the address, copies it and picks from it.
 *
 * The page holds the main columns of the first rows; everything else comes with assets/units-table.js, which assigns
 * window.unitsTable = {columns, rows} and is fetched when somebody first asks for anything. A row has a cell for each
 * column: [words, value, U, isBound, bar], cut where nothing follows. Words are HTML, or 0 where they are value ± U;
 * a bound is known from one side only, and a cell without a value not at all: those stand last whichever way the table
 * is sorted. Of many rows the first 80 are drawn; all are sorted, found and copied.
 *
 * window.unitsView, for the other two:
 *   ask(row)        1 yes, 0 no, -1 not known: whether a row is shown; set by the filters
 *   lead(row)       HTML before a row's name; set by the tools
 *   heard(view)     functions called after each drawing
 *   set, chosen     the set of columns, or the keys of those chosen one by one (null: the set)
 *   sorted          {key, down}, or null for the order of names
 *   withUnknown     whether rows of which an answer is not known are drawn too, behind the others
 *   found           {yes, unknown}: rows after the last drawing, in their order; null before the first
 *   load()          promises the data; change(values) takes some of the above, and draws
 *   columns()       those shown, each with its place in a row's cells; html(cell, unit) what stands in a cell
 */
(function () {
  "use strict";

  const DRAWN_ROWS = 80;
  const FORM = 'class=bar viewBox="0 0 100 9" preserveAspectRatio=none aria-hidden=true'; // as table_views.py has it
  const EXACT = 0, BOUND = 1, MISSING = 2;
  const table = document.getElementById("units");
  if (!table) return;
  const [head, body, frame] = [table.tHead, table.tBodies[0], table.parentNode];
  const note = document.getElementById("table-note");
  const names = new Intl.Collator("en", { numeric: true });

  const view = {
    ask: () => 1,
    lead: () => "",
    heard: [],
    set: "main",
    chosen: null,
    sorted: null,
    withUnknown: false,
    found: null,
    limit: DRAWN_ROWS,
    load,
    change,
    columns,
    html,
    escaped,
  };

  let loading;
  function load() {
    loading ??= window.site.script("assets/units-table.js").then(
      () => window.unitsTable,
      () => {
        note.textContent = "The rest of the table could not be loaded; the rows stand by name.";
        throw new Error("assets/units-table.js did not load");
      }
    );
    return loading;
  }

  async function change(values) {
    await load();
    Object.assign(view, { limit: DRAWN_ROWS }, values);
    draw();
  }

  function columns() {
    const isShown = ({ key, sets }) => (view.chosen ? view.chosen.includes(key) : sets.includes(view.set));
    return window.unitsTable.columns.map((column, place) => ({ ...column, place })).filter(isShown);
  }

  /* Sorting starts from the order of names each time, so that an address brings the same order to everybody. */
  function inOrder(rows) {
    if (!view.sorted) return rows;
    const { key, down } = view.sorted;
    const sign = down ? -1 : 1;
    if (key === "name") return [...rows].sort((a, b) => sign * names.compare(a.name, b.name));
    const place = window.unitsTable.columns.findIndex((column) => column.key === key);
    if (place < 0) return rows;
    // The sort is stable: rows that are alike keep the order of names.
    return [...rows].sort((a, b) => compare(a.cells[place], b.cells[place], sign));
  }

  const kindOf = (cell) => (cell.length === 1 ? MISSING : cell[3] ? BOUND : EXACT);

  function compare(a, b, sign) {
    return kindOf(a) - kindOf(b) || sign * ((a[1] ?? 0) - (b[1] ?? 0));
  }

  function draw() {
    const rows = inOrder(window.unitsTable.rows);
    const yes = [], unknown = [];
    for (const row of rows) {
      const answer = view.ask(row);
      if (answer > 0) yes.push(row);
      else if (answer < 0) unknown.push(row);
    }
    view.found = { yes, unknown };
    const shown = columns();
    drawHead(shown);
    const drawn = [...yes, ...(view.withUnknown ? unknown : [])];
    body.innerHTML = drawn.slice(0, view.limit).map((row, i) => rowHtml(row, shown, i >= yes.length)).join("");
    offerMore(drawn.length);
    window.quantities?.within(table);
    say();
    view.heard.forEach((hear) => hear(view));
    requestAnimationFrame(fit);
  }

  /* On a phone the main columns leave room for four; whoever chose others gets them all, and moves sideways. */
  const isMain = () => !view.chosen && view.set === "main";

  function classOf(column) {
    const classes = [column.text && "text", isMain() && !column.phone && "desk"].filter(Boolean).join(" ");
    return classes && ` class="${classes}"`;
  }

  function rowHtml(row, shown, isUnknown) {
    const note = isUnknown ? ' <span class="u">not known</span>' : "";
    const address = window.site.page("units/" + row.id + "/"); // no template in a template: what packs scripts trips on it
    const name = `<a href="${escaped(address)}">${escaped(row.name)}</a>${note}`;
    const cells = shown.map((column) => `<td${classOf(column)}>${html(row.cells[column.place], column.unit)}</td>`);
    return `<tr><th scope="row">${view.lead(row)}${name}</th>${cells.join("")}</tr>`;
  }

  /* As the page has it (table_views.py). */
  function html([words, value, spread, , bar], unit) {
    return (words === 0 ? inWords(value, spread, unit) : words) + (bar ? drawing(bar) : "");
  }

  function inWords(value, spread, unit) {
    const said = window.quantities.show(value, "", spread).replace(/\u00a0.*/, '<span class="u">$&</span>');
    return unit ? `<data value=${value}±${spread}${unit}>${said}</data>` : said;
  }

  function drawing([end, low, high, mark, isOpen]) {
    const whisker = high > low ? `<path class=w d="M${low} 1v7m0-3.5H${high}m0-3.5v7"/>` : "";
    const known = isOpen ? `<path class=o d="M${end} 4.5H100"/>` : whisker;
    const marked = mark ? `<path class=m d="M${mark} 0v9"/>` : "";
    return `<svg ${FORM}><path d="M0 4.5H${end}"/>${known}${marked}</svg>`;
  }

  function escaped(text) {
    const named = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" };
    return text.replace(/[&<>"]/g, (found) => named[found]);
  }

  /* Only where other columns are shown: a heading that was pressed keeps the focus. */
  function drawHead(shown) {
    const cells = shown.map((column) => `<th scope="col" data-key="${column.key}"${classOf(column)}>${column.heading}</th>`);
    const had = [...head.rows[0].cells].slice(1).map((cell) => cell.dataset.key + cell.className);
    if (had.join() !== shown.map((column) => column.key + classOf(column).slice(8, -1)).join()) {
      while (head.rows[0].cells.length > 1) head.rows[0].lastChild.remove();
      head.rows[0].insertAdjacentHTML("beforeend", cells.join(""));
      offerSorting();
    }
    for (const cell of head.rows[0].cells) {
      if (cell.dataset.key === view.sorted?.key) cell.ariaSort = view.sorted.down ? "descending" : "ascending";
      else cell.removeAttribute("aria-sort");
    }
  }

  function offerSorting() {
    for (const cell of head.rows[0].cells) {
      if (cell.firstElementChild?.tagName === "BUTTON") continue;
      const button = document.createElement("button");
      button.type = "button";
      button.append(...cell.childNodes);
      button.addEventListener("click", () => sort(cell.dataset.key));
      cell.append(button);
    }
  }

  async function sort(key) {
    const first = (await load()).columns.find((column) => column.key === key)?.down ?? false;
    const isAgain = view.sorted?.key === key && view.sorted.down === first;
    change({ sorted: { key, down: isAgain ? !first : first }, limit: view.limit });
  }

  function say() {
    if (!view.sorted) return;
    const { key, down } = view.sorted;
    const place = window.unitsTable.columns.findIndex((column) => column.key === key);
    const kinds = place < 0 ? [] : view.found.yes.map((row) => kindOf(row.cells[place]));
    const count = (kind) => kinds.filter((one) => one === kind).length;
    const words = [[BOUND, "known from one side only"], [MISSING, "not tested"]];
    const apart = words.filter(([kind]) => count(kind)).map(([kind, said]) => `${count(kind)} ${said}`);
    const last = apart.length ? `; last, whichever way: ${apart.join(", ")}` : "";
    const heading = head.querySelector(`[data-key="${key}"]`)?.textContent.trim() ?? key;
    note.textContent = `Sorted by ${heading}, ${down ? "descending" : "ascending"}${last}.`;
  }

  const more = document.createElement("button");
  function offerMore(count) {
    more.hidden = count <= view.limit;
    more.textContent = `Show all ${count}`;
  }

  /* A table wider than its frame gets a frame that scrolls, in which head and names stay; else the page scrolls. */
  function fit() {
    frame.classList.toggle("is-wide", table.offsetWidth > frame.clientWidth);
  }

  /* Columns by sets, and one by one. */
  function offerColumns() {
    const choice = document.getElementById("columns");
    const list = choice.querySelector("details .controls");
    choice.hidden = false;
    choice.addEventListener("change", ({ target }) => {
      if (target.name === "columns") change({ set: target.value, chosen: null });
      else change({ chosen: [...list.querySelectorAll(":checked")].map((box) => box.value) });
    });
    choice.querySelector("details").addEventListener("toggle", () => load().then(() => listColumns(list)));
    view.heard.push(() => {
      for (const radio of choice.querySelectorAll("[name=columns]")) radio.checked = !view.chosen && radio.value === view.set;
      if (list.children.length) listColumns(list);
    });
  }

  function listColumns(list) {
    const shown = new Set(columns().map(({ key }) => key));
    if (!list.children.length) {
      const boxes = window.unitsTable.columns.map(
        ({ key, heading }) => `<label><input type="checkbox" value="${key}"> ${heading}</label>`
      );
      list.innerHTML = boxes.join("");
      window.quantities?.within(list);
    }
    for (const box of list.querySelectorAll("input")) box.checked = shown.has(box.value);
  }

  function start() {
    more.type = "button";
    more.className = "more";
    more.hidden = true;
    more.addEventListener("click", () => change({ limit: Infinity }));
    document.getElementById("table-tools").append(more);
    offerSorting();
    offerColumns();
    offerMore(Number(table.dataset.rows)); // the page holds no more than are drawn
    document.addEventListener("quantities", () => view.sorted && say());
    new ResizeObserver(fit).observe(frame);
    window.unitsView = view;
  }

  start();
})();
