/*
 * The table of all units: draws it and sorts it. table-columns.js chooses its columns, table-questions.js filters it,
 * table-csv.js copies it, table-tools.js keeps it in the address and picks from it.
 *
 * The page holds the main columns of the first rows; everything else comes with assets/units-table.js, which assigns
 * window.unitsTable = {columns, rows, letters, last, moved, without} and is fetched when somebody first asks for anything. A row has a
 * cell for each column: [words, value, U, kind, bar], cut where nothing follows. Words are HTML, or 0 where they are
 * value ± U. A kind is 1 where something is known in part, 2 where its evidence was not kept ("last" has words for
 * both); a cell of words alone has nothing. Those stand last whichever way the table is sorted. The last columns, of
 * loads, have one of the letters' cells each. Of many rows the first 80 are drawn; all are sorted, found and copied.
 *
 * window.unitsView, for the others:
 *   ask(row)        1 yes, 0 no, -1 not known: whether a row is shown; set by the filters
 *   lead(row)       HTML before a row's name; set by the tools
 *   heard(view)     functions called after each drawing
 *   set, chosen     the set of columns, or the keys of those chosen one by one (null: the set)
 *   sorted          {key, down}, or null for the order of names
 *   withUnknown     whether rows of which an answer is not known are drawn too, behind the others
 *   found           {yes, unknown}: rows after the last drawing, in their order; null before the first
 *   load()          promises the data; change(values) takes some of the above, and draws
 *   columns()       those shown, each with its place in a row's cells; html(cell, unit) what stands in a cell
 *   plain(html)     the text of such HTML, in the units chosen
 */
(function () {
  "use strict";

  const DRAWN_ROWS = 80;
  const FORM = 'class=bar viewBox="0 0 100 9" preserveAspectRatio=none aria-hidden=true'; // as table_views.py has it
  const EXACT = 0, MISSING = 3;
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
    plain,
  };

  let loading;
  function load() {
    loading ??= window.site.script("assets/units-table.js").then(
      () => complete(window.unitsTable),
      () => {
        note.textContent = "The rest of the table could not be loaded; the rows stand by name.";
        throw new Error("assets/units-table.js did not load");
      }
    );
    return loading;
  }

  function complete(data) {
    for (const row of data.rows) for (const letter of row.loads) row.cells.push(data.letters[letter]);
    return data;
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

  const kindOf = (cell) => (cell.length === 1 ? MISSING : cell[3] ?? EXACT);

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
    table.dataset.set = view.chosen ? "" : view.set;
    drawHead(shown);
    const drawn = [...yes, ...(view.withUnknown ? unknown : [])];
    body.innerHTML = drawn.slice(0, view.limit).map((row, i) => rowHtml(row, shown, i >= yes.length)).join("");
    offerMore(drawn.length);
    window.quantities?.within(table);
    say();
    view.heard.forEach((hear) => hear(view));
    fit(); // at once: what comes in a later frame would be seen to move
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
    return unit ? `<data value=${held(value, spread)}${unit}>${said}</data>` : said;
  }

  /* As a unit's page holds it (switched.py), so that both read alike in every unit. */
  function held(value, spread) {
    const fine = Math.max(2 - Math.floor(Math.log10(spread)), 0);
    return `${Number(value.toFixed(fine))}±${Number(spread.toPrecision(3))}`;
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

  function plain(html) {
    const element = document.createElement("template");
    element.innerHTML = html;
    window.quantities?.within(element.content);
    return element.content.textContent.replace(/\s+/g, " ").trim();
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

  /* What stands last is counted by what it is: known in part, not kept, and then by its own words. */
  function say() {
    if (!view.sorted) return;
    const { key, down } = view.sorted;
    const { columns, last } = window.unitsTable;
    const place = columns.findIndex((column) => column.key === key);
    const counts = new Map();
    for (const { cells } of place < 0 ? [] : view.found.yes) {
      const kind = kindOf(cells[place]);
      if (kind === EXACT) continue;
      const said = kind === MISSING ? columns[place].lacks || plain(cells[place][0]) : last[kind - 1];
      counts.set(said, (counts.get(said) ?? 0) + 1);
    }
    const apart = [...counts].map(([said, count]) => `${count} ${said}`).join(", ");
    const heading = place < 0 ? "name" : plain(columns[place].heading);
    note.textContent = `Sorted by ${heading}, ${down ? "descending" : "ascending"}${apart && `; last, whichever way: ${apart}`}.`;
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

  function start() {
    more.type = "button";
    more.className = "more";
    more.hidden = true;
    more.addEventListener("click", () => change({ limit: Infinity }));
    document.getElementById("table-tools").append(more);
    offerSorting();
    offerMore(Number(table.dataset.rows)); // the page holds no more than are drawn
    document.addEventListener("quantities", () => view.sorted && say());
    new ResizeObserver(fit).observe(frame);
    window.unitsView = view;
  }

  start();
})();
