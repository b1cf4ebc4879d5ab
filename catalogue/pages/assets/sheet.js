/*
 * The form of a bench sheet: takes readings on the phone, keeps them there until they are cleared, and makes the
 * results file from them. Needs no network. Data: <form data-sheet="id">, fields with data-path ("charger.set_a") and
 * data-is (number, text, list, choice, time, date, log), data-needed where the rest of their group is nothing without
 * them; the file as it is now in <script id="given">.
 */
(function () {
  "use strict";

  const form = document.getElementById("sheet");
  const given = JSON.parse(document.getElementById("given").textContent);
  const says = document.getElementById("sheet-says");
  const made = document.getElementById("yaml");
  const status = document.getElementById("sheet-status");
  const toFirst = document.getElementById("to-first");
  const newFile = form.dataset.newFile ?? "";
  const { addRow, addAnother, fitInverters } = window.sheetLines;

  const two = (n) => String(n).padStart(2, "0");
  const now = () => `${two(new Date().getHours())}:${two(new Date().getMinutes())}`;
  const today = () => `${new Date().getFullYear()}-${two(new Date().getMonth() + 1)}-${two(new Date().getDate())}`;

  /* The first time of a test that comes from the phone's clock brings its date with it. */
  function dateOnce(part) {
    const field = part?.querySelector("[data-path=date]");
    if (!field || field.value) return;
    field.value = today();
    check(field);
  }

  /* "charger.set_a" puts its value two levels down. */
  function put(target, path, value) {
    const steps = path.split(".");
    const last = steps.pop();
    let at = target;
    for (const step of steps) at = at[step] ??= {};
    at[last] = value;
  }

  function valueOf(field) {
    // Blanks of print, pasted between a number and its unit, are none to a results file.
    const text = field.dataset.unit === undefined ? field.value.trim() : field.value.trim().replace(/\s+/g, " ");
    const written = field.dataset.unit === undefined ? (one) => one : window.sheetYaml.number;
    if (field.dataset.is === "list") return text.split(/\s*,\s*/).filter(Boolean).map(written);
    if (field.dataset.is === "choice" && (text === "true" || text === "false")) return text === "true";
    return written(text);
  }

  function recordOf(scope, skip) {
    const record = {};
    for (const field of scope.querySelectorAll("[data-path]")) {
      if (field.value.trim() && !skip?.(field)) put(record, field.dataset.path, valueOf(field));
    }
    return record;
  }

  function testOf(part) {
    const test = recordOf(part, (field) => field.closest(".row"));
    for (const group of part.querySelectorAll(".rows")) {
      // A line in which nothing but what was given stands was not made.
      const rows = [...group.querySelectorAll(".row")].filter((row) => row.dataset.touched).map((row) => recordOf(row));
      if (rows.length) test[group.dataset.rows] = rows;
    }
    return test;
  }

  function entered() {
    const tests = {};
    for (const part of form.querySelectorAll("[data-test]")) {
      const test = testOf(part);
      if (Object.keys(test).length) tests[part.dataset.test] = { kind: part.dataset.kind, ...test };
    }
    return tests;
  }

  /* The file, and which of its tests gave way to what was entered here. */
  function results() {
    const tests = entered();
    if (given.id) return window.sheetYaml.into(given.text, tests, status.value);
    const head = recordOf(form.querySelector("[data-head]"));
    const name = `${head.unit?.maker ?? ""} ${head.unit?.model ?? ""}`;
    const unit = { id: window.sheetYaml.idOf(name) || "new-unit", ...head.unit, status: status.value };
    return { text: window.sheetYaml.file({ label: {}, ...head, unit }, tests), replaced: [] };
  }

  /* Nothing stands in it, though something of its group was entered: a file would be refused. */
  function isMissing(field) {
    const row = field.closest(".row");
    if (field.value.trim() || (row && !row.dataset.touched)) return false;
    // A line that has its time and nothing else says nothing.
    const seen = row ? [...row.querySelectorAll("[data-path]:not([data-path=at])")] : [];
    if (field === seen[0] && seen.every((one) => !one.value.trim())) return true;
    if (field.dataset.needed === undefined) return false;
    const scope = row ?? field.closest("fieldset");
    if (scope.dataset.head !== undefined) return true;
    const group = field.dataset.path.replace(/[^.]*$/, "");
    return [...scope.querySelectorAll("[data-path]")].some((one) => {
      const isOfLine = !row && one.closest(".row") && !one.closest(".row").dataset.touched;
      return !isOfLine && one.value.trim() && one.dataset.path.startsWith(group);
    });
  }

  function check(field, isDone = false) {
    const wrong = window.sheetReads.wrong(field) || (isDone && isMissing(field) ? "Still empty." : "");
    let note = field.parentNode.querySelector(".wrong");
    if (!note && wrong) field.after((note = Object.assign(document.createElement("span"), { className: "wrong", id: `${field.id}-wrong` })));
    if (note) note.textContent = wrong;
    wrong ? field.setAttribute("aria-invalid", "true") : field.removeAttribute("aria-invalid");
    wrong ? field.setAttribute("aria-describedby", note.id) : field.removeAttribute("aria-describedby");
    return wrong;
  }

  const allFields = () => [...form.querySelectorAll("[data-path]")];

  function nameOf(field) {
    const title = field.closest("details")?.querySelector("summary").textContent ?? "The battery";
    return `${form.querySelector(`label[for="${CSS.escape(field.id)}"]`).textContent} (${title})`;
  }

  /* Everything as it stands: the fields of each part in order, so that it can be put back as it was. */
  function save() {
    const parts = [...form.querySelectorAll("[data-test], [data-head]")].map((part) => ({
      test: part.dataset.test ?? "",
      fields: [...part.querySelectorAll("[data-path]")].filter((f) => !f.closest(".row")).map((f) => [f.dataset.path, f.value]),
      rows: [...part.querySelectorAll(".row")].map((row) => ({
        touched: row.dataset.touched ?? "",
        values: Object.fromEntries([...row.querySelectorAll("[data-path]")].map((f) => [f.dataset.path, f.value])),
      })),
    }));
    showFile();
    if (window.sheetKept.write(form.dataset.sheet, { parts, status: status.value, text: made.textContent })) return;
    says.textContent = "This browser keeps nothing: copy the file before you leave the page.";
  }

  function showFile() {
    made.textContent = results().text;
    made.hidden = false;
    offerNew();
  }

  function offerNew() {
    const link = document.getElementById("open-new");
    const id = made.textContent.match(/^unit: \{id: "?([a-z0-9-]+)/m)?.[1] ?? given.id;
    link.hidden = !newFile || Boolean(given.id);
    link.href = newFile.replace("{name}", encodeURIComponent(`${id}.yml`)).replace("{text}", encodeURIComponent(made.textContent));
  }

  function restore({ parts = [], status: kept = "" }) {
    if (kept) status.value = kept;
    for (const saved of parts) {
      const many = saved.test.match(/^(.*)-(\d+)$/);
      let part = form.querySelector(saved.test ? `[data-test="${CSS.escape(saved.test)}"]` : "[data-head]");
      const first = many && form.querySelector(`[data-test="${CSS.escape(many[1])}"]`);
      if (!part && first) part = addAnother(first);
      if (!part) continue;
      for (const [path, value] of saved.fields) {
        const field = part.querySelector(`[data-path="${CSS.escape(path)}"]`);
        if (field) field.value = value;
      }
      const group = part.querySelector(".rows");
      part.querySelectorAll(".row").forEach((row) => row.remove());
      saved.rows.forEach((one) => (addRow(group, one.values).dataset.touched = one.touched));
    }
    fitInverters(form);
    if (parts.length) allFields().forEach((field) => check(field));
    return parts.length > 0;
  }

  /* Nothing is unsaved here: each entry was written when it was made. */
  function takeOver(draft) {
    restore(draft) ? showFile() : location.reload();
  }

  function begin() {
    for (const group of form.querySelectorAll(".rows")) JSON.parse(group.dataset.given).forEach((values) => addRow(group, values));
  }

  async function copyAll() {
    const { text, replaced } = results();
    made.textContent = text;
    await window.site.copy(text);
    const faulty = allFields().filter((field) => check(field, true));
    const names = faulty.slice(0, 3).map(nameOf).join("; ");
    const more = faulty.length > 3 ? `; and ${faulty.length - 3} more` : "";
    const whole = `Copied: the whole file${given.id ? ` results/${given.id}.yml` : ""}, status ${status.value}.`;
    const instead = replaced.length ? ` In place of what the file says of the same day: ${replaced.join(", ")}.` : "";
    const count = faulty.length === 1 ? "1 field still needs mending" : `${faulty.length} fields still need mending`;
    says.textContent = `${whole}${instead}${faulty.length ? ` ${count}: ${names}${more}.` : ""}`;
    toFirst.hidden = !faulty.length;
  }

  form.addEventListener("input", ({ target }) => {
    const row = target.closest(".row");
    if (row) row.dataset.touched = "yes";
    fitInverters(form);
    if (target.dataset.path) check(target);
    save();
  });
  form.addEventListener("click", ({ target }) => {
    if (target.matches(".now")) {
      const field = document.getElementById(target.dataset.for);
      field.value = field.type === "date" ? today() : now();
      if (field.type !== "date") dateOnce(field.closest("[data-test]"));
      field.dispatchEvent(new Event("input", { bubbles: true }));
    } else if (target.matches(".add")) {
      const row = addRow(target.closest(".rows"));
      const at = row.querySelector("[data-path=at]");
      if (at) at.value = now();
      if (at) dateOnce(row.closest("[data-test]"));
      (row.querySelector("[data-path]:not([data-path=at])") ?? at).focus();
      row.dataset.touched = "yes";
      save();
    } else if (target.matches(".another")) {
      addAnother(target.closest("[data-test]")).querySelector("[data-path]").focus();
      fitInverters(form);
    }
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  document.getElementById("copy-yaml").addEventListener("click", copyAll);
  toFirst.addEventListener("click", () => {
    const field = form.querySelector("[aria-invalid]");
    if (!field) return;
    const part = field.closest("details");
    if (part) part.open = true;
    field.focus();
  });
  document.getElementById("clear-sheet").addEventListener("click", () => {
    if (!window.confirm("Clear everything that was entered on this sheet?")) return;
    window.sheetKept.clear(form.dataset.sheet);
    location.reload();
  });
  for (const part of form.querySelectorAll("[data-many]")) {
    part.append(Object.assign(document.createElement("button"), { type: "button", className: "another", textContent: "Another appliance" }));
  }
  restore(window.sheetKept.read(form.dataset.sheet)) ? save() : begin();
  window.sheetKept.follow(form.dataset.sheet, takeOver);
  form.hidden = false;
})();
