/*
 * The form of a bench sheet: takes readings on the phone, keeps them there until they are cleared, and makes the
 * results file from them. Needs no network. Data: <form data-sheet="id">, fields with data-path ("charger.set_a") and
 * data-is (number, text, list, yes, choice, time, date); the file as it is now in <script id="given">.
 */
(function () {
  "use strict";

  const form = document.getElementById("sheet");
  const given = JSON.parse(document.getElementById("given").textContent);
  const key = `sheet ${form.dataset.sheet}`;
  const says = document.getElementById("sheet-says");
  const made = document.getElementById("yaml");
  const newFile = form.dataset.newFile ?? "";
  let rowsMade = 0;

  /* A private window may refuse to keep anything; the form works all the same. */
  function keep(text) {
    try {
      text === null ? localStorage.removeItem(key) : localStorage.setItem(key, text);
    } catch {
      says.textContent = "This browser keeps nothing: copy the file before you leave the page.";
    }
  }

  function kept() {
    try {
      return JSON.parse(localStorage.getItem(key)) ?? {};
    } catch {
      return {};
    }
  }

  const two = (n) => String(n).padStart(2, "0");
  const now = () => `${two(new Date().getHours())}:${two(new Date().getMinutes())}`;
  const today = () => `${new Date().getFullYear()}-${two(new Date().getMonth() + 1)}-${two(new Date().getDate())}`;

  function addRow(group, values = {}) {
    const row = group.querySelector("template").content.firstElementChild.cloneNode(true);
    rowsMade += 1;
    for (const field of row.querySelectorAll("[data-path]")) {
      const id = `${field.id}-${rowsMade}`;
      row.querySelector(`label[for="${field.id}"]`).htmlFor = id;
      row.querySelector(`.now[data-for="${field.id}"]`)?.setAttribute("data-for", id);
      field.id = id;
      field.value = values[field.dataset.path] ?? "";
    }
    group.querySelector(".add").parentNode.before(row);
    return row;
  }

  function addAnother(first) {
    const count = form.querySelectorAll(`[data-kind="${first.dataset.kind}"]`).length + 1;
    const copy = first.cloneNode(true);
    copy.dataset.test = `${first.dataset.test}-${count}`;
    copy.querySelectorAll(".another").forEach((one) => one.remove());
    for (const field of copy.querySelectorAll("[data-path]")) {
      const id = `${field.id}-${count}`;
      copy.querySelector(`label[for="${field.id}"]`).htmlFor = id;
      field.id = id;
      field.value = "";
    }
    [...form.querySelectorAll(`[data-kind="${first.dataset.kind}"]`)].pop().after(copy);
    return copy;
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
    const text = field.value.trim();
    if (field.dataset.is === "list") return text.split(/\s*,\s*/).filter(Boolean);
    if (text === "true" || text === "false") return text === "true";
    return text;
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
      if (Object.keys(test).length) tests[part.dataset.test] = { kind: part.dataset.kind, date: part.dataset.date ?? today(), ...test };
    }
    return tests;
  }

  function text() {
    const tests = entered();
    if (given.id) return window.sheetYaml.into(given.text, tests);
    const head = recordOf(form.querySelector("[data-head]"));
    const name = `${head.unit?.maker ?? ""} ${head.unit?.model ?? ""}`;
    const id = name.toLowerCase().normalize("NFKD").replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "") || "new-unit";
    return window.sheetYaml.file({ label: {}, ...head, unit: { id, ...head.unit } }, tests);
  }

  function check(field) {
    const wrong = field.dataset.is === "number" && field.value.trim() ? window.sheetYaml.reads(field.value.trim()) : "";
    let note = field.parentNode.querySelector(".wrong");
    if (!note && wrong) field.after((note = Object.assign(document.createElement("span"), { className: "wrong" })));
    if (note) note.textContent = wrong;
    wrong ? field.setAttribute("aria-invalid", "true") : field.removeAttribute("aria-invalid");
  }

  /* Everything as it stands: the fields of each part in order, so that it can be put back as it was. */
  function save() {
    const parts = [...form.querySelectorAll("[data-test], [data-head]")].map((part) => ({
      test: part.dataset.test ?? "",
      date: part.dataset.date,
      fields: [...part.querySelectorAll("[data-path]")].filter((f) => !f.closest(".row")).map((f) => [f.dataset.path, f.value]),
      rows: [...part.querySelectorAll(".row")].map((row) => ({
        touched: row.dataset.touched ?? "",
        values: Object.fromEntries([...row.querySelectorAll("[data-path]")].map((f) => [f.dataset.path, f.value])),
      })),
    }));
    keep(JSON.stringify({ parts }));
    made.textContent = text();
    made.hidden = false;
    offerNew();
  }

  function offerNew() {
    const link = document.getElementById("open-new");
    const id = made.textContent.match(/^unit: \{id: "?([a-z0-9-]+)/m)?.[1] ?? given.id;
    link.hidden = !newFile || Boolean(given.id);
    link.href = newFile.replace("{name}", encodeURIComponent(`${id}.yml`)).replace("{text}", encodeURIComponent(made.textContent));
  }

  function restore() {
    const parts = kept().parts ?? [];
    for (const saved of parts) {
      const many = saved.test.match(/^(.*)-(\d+)$/);
      let part = form.querySelector(saved.test ? `[data-test="${CSS.escape(saved.test)}"]` : "[data-head]");
      if (!part && many) part = addAnother(form.querySelector(`[data-test="${CSS.escape(many[1])}"]`));
      if (!part) continue;
      if (saved.date) part.dataset.date = saved.date;
      for (const [path, value] of saved.fields) {
        const field = part.querySelector(`[data-path="${CSS.escape(path)}"]`);
        if (field) field.value = value;
      }
      const group = part.querySelector(".rows");
      saved.rows.forEach((one) => (addRow(group, one.values).dataset.touched = one.touched));
    }
    return parts.length > 0;
  }

  function begin() {
    for (const group of form.querySelectorAll(".rows")) JSON.parse(group.dataset.given).forEach((values) => addRow(group, values));
  }

  form.addEventListener("input", ({ target }) => {
    const part = target.closest("[data-test]");
    if (part) part.dataset.date ??= today();
    const row = target.closest(".row");
    if (row) row.dataset.touched = "yes";
    check(target);
    save();
  });
  form.addEventListener("click", ({ target }) => {
    if (target.matches(".now")) {
      const field = document.getElementById(target.dataset.for);
      field.value = now();
      field.dispatchEvent(new Event("input", { bubbles: true }));
    } else if (target.matches(".add")) {
      const row = addRow(target.closest(".rows"));
      const at = row.querySelector("[data-path=at]");
      if (at) at.value = now();
      (row.querySelector("[data-path]:not([data-path=at])") ?? at).focus();
      row.dataset.touched = "yes";
      save();
    } else if (target.matches(".another")) {
      addAnother(target.closest("[data-test]")).querySelector("[data-path]").focus();
    }
  });
  form.addEventListener("submit", (event) => event.preventDefault());
  document.getElementById("copy-yaml").addEventListener("click", async () => {
    made.textContent = text();
    await window.site.copy(made.textContent);
    says.textContent = given.id ? `Copied: the whole file results/${given.id}.yml.` : "Copied: the whole file.";
  });
  document.getElementById("clear-sheet").addEventListener("click", () => {
    if (!window.confirm("Clear everything that was entered on this sheet?")) return;
    keep(null);
    location.reload();
  });
  for (const part of form.querySelectorAll("[data-many]")) {
    part.append(Object.assign(document.createElement("button"), { type: "button", className: "another", textContent: "Another appliance" }));
  }
  if (!restore()) begin();
  else save();
  form.hidden = false;
})();
