/*
 * Sorts and filters a table that the page already holds.
 *
 * <table class="sortable" id="units"> has cells with data-value (a number); a cell with data-bound holds only one side
 * ("at least 86"), a cell with neither was not tested: those stand last whichever way the table is sorted.
 * <form class="filters" data-for="units"> has controls with a name and data-how ("words", "same", "most"): the row's
 * data-<name> must contain, equal or not exceed what they say. data-say="under {} €" tells what is in force.
 */
(function () {
  "use strict";

  const DRAWN_ROWS = 200; // more are sorted and found, but drawn only when asked for
  const EXACT = 0, BOUND = 1, MISSING = 2;

  class Table {
    constructor(table) {
      this.table = table;
      this.body = table.tBodies[0];
      this.rows = [...this.body.rows];
      this.matching = () => true;
      this.limit = DRAWN_ROWS;
      this.note = document.querySelector(`[data-note="${table.id}"]`);
      [...table.tHead.rows[0].cells].forEach((cell, column) => this.addButton(cell, column));
      this.addMore();
      this.show();
    }

    addButton(cell, column) {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...cell.childNodes);
      button.addEventListener("click", () => this.sort(cell, column));
      cell.append(button);
    }

    addMore() {
      this.more = document.createElement("button");
      this.more.type = "button";
      this.more.className = "more";
      this.more.addEventListener("click", () => {
        this.limit = Infinity;
        this.show();
      });
      this.table.after(this.more);
    }

    sort(cell, column) {
      const first = cell.dataset.first || "ascending";
      const other = first === "ascending" ? "descending" : "ascending";
      const direction = cell.getAttribute("aria-sort") === first ? other : first;
      for (const each of cell.parentNode.cells) each.removeAttribute("aria-sort");
      cell.setAttribute("aria-sort", direction);
      const sign = direction === "ascending" ? 1 : -1;
      const keys = new Map(this.rows.map((row) => [row, keyOf(row.cells[column])]));
      // Array sort is stable: rows that are alike keep the order they had.
      this.rows.sort((a, b) => compare(keys.get(a), keys.get(b), sign));
      this.body.append(...this.rows);
      this.show();
      this.say(cell, direction, [...keys.values()]);
    }

    say(cell, direction, keys) {
      if (!this.note) return;
      const count = (kind) => keys.filter((key) => key.kind === kind).length;
      const apart = [];
      if (count(BOUND)) apart.push(`${count(BOUND)} known from one side only`);
      if (count(MISSING)) apart.push(`${count(MISSING)} not tested`);
      const last = apart.length ? `; last, whichever way: ${apart.join(", ")}` : "";
      this.note.textContent = `Sorted by ${cell.textContent.trim()}, ${direction}${last}.`;
    }

    show() {
      let drawn = 0;
      let found = 0;
      for (const row of this.rows) {
        const fits = this.matching(row);
        found += fits;
        row.hidden = !fits || drawn >= this.limit;
        drawn += !row.hidden;
      }
      this.more.hidden = found <= drawn;
      this.more.textContent = `Show all ${found}`;
      return found;
    }
  }

  function keyOf(cell) {
    const { value, bound } = cell.dataset;
    if (value !== undefined) return { kind: EXACT, key: Number(value) };
    if (bound !== undefined) return { kind: BOUND, key: Number(bound) };
    if (cell.tagName === "TH") return { kind: EXACT, key: cell.textContent.trim() };
    return { kind: MISSING, key: 0 };
  }

  function compare(a, b, sign) {
    if (a.kind !== b.kind) return a.kind - b.kind;
    if (typeof a.key === "string") return sign * a.key.localeCompare(b.key, "en", { numeric: true });
    return sign * (a.key - b.key);
  }

  const HOW = {
    words: (have, want) => want.toLowerCase().split(/\s+/).every((word) => have.toLowerCase().includes(word)),
    same: (have, want) => have === want,
    most: (have, want) => have !== "" && Number(have) <= Number(want),
  };

  class Filters {
    constructor(form, table) {
      this.form = form;
      this.table = table;
      this.controls = [...form.elements].filter((control) => control.dataset.how);
      this.inForce = form.querySelector(".in-force");
      this.clear = form.querySelector(".clear");
      this.readAddress();
      form.addEventListener("input", () => this.apply());
      form.addEventListener("submit", (event) => event.preventDefault());
      form.addEventListener("reset", () => setTimeout(() => this.apply()));
      form.hidden = false; // without scripts it could do nothing, so it is not there
      // On a desk there is room for the controls beside the words; on a phone they fold away.
      form.querySelector("details").open = matchMedia("(min-width: 60em)").matches;
      this.apply();
    }

    get active() {
      return this.controls.filter((control) => control.value.trim() !== "");
    }

    apply() {
      const active = this.active;
      this.table.matching = (row) =>
        active.every((control) => HOW[control.dataset.how](row.dataset[control.name] ?? "", control.value.trim()));
      const found = this.table.show();
      const words = active.map((control) => this.wordsOf(control)).join(" · ");
      const all = this.table.rows.length;
      this.inForce.textContent = words ? `${words}: ${found} of ${all}` : `all ${all}`;
      this.clear.hidden = !words;
      this.writeAddress(active);
    }

    wordsOf(control) {
      const chosen = control.selectedOptions ? control.selectedOptions[0].textContent : control.value;
      return (control.dataset.say || "{}").replace("{}", chosen.trim());
    }

    readAddress() {
      const wanted = new URLSearchParams(location.search);
      for (const control of this.controls) if (wanted.has(control.name)) control.value = wanted.get(control.name);
    }

    writeAddress(active) {
      const kept = new URLSearchParams(active.map((control) => [control.name, control.value.trim()]));
      const query = kept.size ? `?${kept}` : location.pathname;
      if (location.protocol !== "file:") history.replaceState(null, "", query + location.hash);
    }
  }

  /* Columns come in sets; the sets not chosen are hidden by the style sheet. */
  function offerSets(choice) {
    const table = document.getElementById(choice.dataset.for);
    choice.hidden = false;
    choice.addEventListener("change", (event) => (table.dataset.show = event.target.value));
    table.dataset.show = choice.querySelector(":checked").value;
  }

  function start() {
    for (const table of document.querySelectorAll("table.sortable")) {
      const sortable = new Table(table);
      const form = document.querySelector(`form.filters[data-for="${table.id}"]`);
      if (form) new Filters(form, sortable);
    }
    document.querySelectorAll(".column-sets").forEach(offerSets);
  }

  if (window.document$) window.document$.subscribe(start);
  else if (document.readyState === "loading") addEventListener("DOMContentLoaded", start);
  else start();
})();
