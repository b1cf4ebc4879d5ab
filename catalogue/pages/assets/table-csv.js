/*
 * The table of all units as CSV: all rows found, in the columns shown. Of a number that is known exactly, its value and
 * its ±; of one that is known in part, the ends that are sure; and a note, such as "label". A column that would be empty
 * is left out, and every one is named after what it is of.
 */
(function () {
  "use strict";

  const view = window.unitsView;
  const tools = document.getElementById("table-tools");
  if (!view || !tools) return;
  const PARTS = [["value", ""], ["spread", " ±"], ["least", ", at least"], ["most", ", at most"], ["note", ", note"]];
  const NUMBER = "([−-]?\\d+(?:\\u202f\\d{3})*(?:\\.\\d+)?)"; // thousands as pages set them apart
  const ENDS = [ // as pages/text.py words them, and the range of a score
    [RegExp(`at least\\s(?:about\\s)?${NUMBER}`), "least"],
    [RegExp(`at most\\s(?:about\\s)?${NUMBER}`), "most"],
    [RegExp(`${NUMBER}\\s(?:and|to)\\s${NUMBER}`), "least", "most"],
  ];
  const RANGE = /^\d+\sto\s\d+(?:,\s)?/; // of a score, which has columns of its own

  function csv() {
    const rows = [...view.found.yes, ...(view.withUnknown ? view.found.unknown : [])];
    const columns = [["Battery", ...rows.map(({ name }) => name)], ...view.columns().flatMap((column) => partsOf(column, rows))];
    const lines = columns[0].map((_, i) => columns.map((column) => quoted(column[i])).join(","));
    return lines.join("\r\n") + "\r\n";
  }

  /* A column of the table as columns of the file, each with its heading on top. */
  function partsOf(column, rows) {
    const heading = view.plain(column.heading);
    const cells = rows.map((row) => row.cells[column.place]);
    if (column.words) return [[heading, ...cells.map((cell) => view.plain(view.html(cell, column.unit)))]];
    const read = cells.map((cell) => partsOfCell(cell, column.unit));
    const used = PARTS.filter(([part]) => part === "value" || read.some((one) => one[part] !== undefined));
    return used.map(([part, name]) => [heading + name, ...read.map((one) => one[part] ?? "")]);
  }

  function partsOfCell(cell, unit) {
    const [, value, spread, kind] = cell;
    const html = view.html(cell, unit);
    const parts = endsIn(contentOf(html).textContent);
    const note = noteIn(contentOf(html));
    if (note) parts.note = note;
    if (value === undefined || (kind && (parts.least ?? parts.most) !== undefined)) return parts;
    const inUnit = (number) => window.quantities?.chosen(number, unit) ?? number;
    parts.value = Number(inUnit(value).toPrecision(6));
    if (spread) parts.spread = Number((inUnit(value + spread) - inUnit(value)).toPrecision(3));
    return parts;
  }

  function contentOf(html) {
    const element = document.createElement("template");
    element.innerHTML = html;
    window.quantities?.within(element.content);
    return element.content;
  }

  function endsIn(words) {
    const ends = {};
    for (const [pattern, ...names] of ENDS) {
      const found = pattern.exec(words);
      names.forEach((name, i) => found && (ends[name] = Number(found[i + 1].replaceAll("\u202f", "").replace("−", "-"))));
    }
    return ends;
  }

  /* What is said of a number beside its ±: "label", "as read", "capped", "old"; or why there is none. */
  function noteIn(content) {
    const said = [...content.querySelectorAll(".u, .missing")].map((one) => one.textContent.trim().replace(RANGE, ""));
    const about = /\babout\b/.test(content.textContent) ? ["about"] : [];
    return [...about, ...said.filter((words) => words && !/\d/.test(words))].join(", ");
  }

  /* A cell that begins like a formula would be one in a spreadsheet; names come from others. */
  function quoted(value) {
    const text = typeof value === "string" && /^[=+\-@\t]/.test(value) ? `'${value}` : String(value);
    return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  }

  const button = document.createElement("button");
  const told = document.createElement("span");
  const sheet = document.createElement("textarea");

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
})();
