/*
 * What was entered on a bench sheet as the text of a results file.
 *
 * sheetYaml.number(text)              a plain number as it was written, to stand without quotes; any other text as it is
 * sheetYaml.idOf("Maker Model")       the id that `site-builder new` gives; "" where no letter of it has a plain form
 * sheetYaml.tests(tests)              the `tests:` block; tests = {name: {kind, …, rows as lists of objects}}
 * sheetYaml.file(head, tests)         a whole file; head = {unit: {…}, label: {…}, bench}
 * sheetYaml.into(text, tests, status) the same tests put into a file that exists: {text, replaced: names}
 *
 * Whatever was typed is written as a quoted string unless it is a number of a number's field, so that no text can be
 * taken for YAML, and no model called 100 for a number.
 */
(function () {
  "use strict";

  const PLAIN = /^[+−-]?(0|[1-9]\d*)(\.\d+)?$/; // to YAML 010 is eight
  const HIDDEN = /[\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/g;

  function number(text) {
    return PLAIN.test(text) ? { plain: text.replace("−", "-").replace("+", "") } : text;
  }

  function scalar(value) {
    if (typeof value === "boolean") return String(value);
    return JSON.stringify(String(value)).replace(HIDDEN, (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, "0")}`);
  }

  function flow(value) {
    if (Array.isArray(value)) return `[${value.map(flow).join(", ")}]`;
    if (value === null || typeof value !== "object") return scalar(value);
    if (value.plain !== undefined) return value.plain;
    return `{${Object.entries(value).map(([key, one]) => `${key}: ${flow(one)}`).join(", ")}}`;
  }

  function lines(record, indent) {
    return Object.entries(record).flatMap(([key, value]) => {
      const isRows = Array.isArray(value) && value.length && typeof value[0] === "object" && value[0].plain === undefined;
      if (!isRows) return [`${indent}${key}: ${flow(value)}`];
      return [`${indent}${key}:`, ...value.map((one) => `${indent}  - ${flow(one)}`)];
    });
  }

  function block(tests, indent = "  ") {
    return Object.entries(tests).flatMap(([name, test]) => [`${indent}${name}:`, ...lines(test, `${indent}  `)]);
  }

  function tests(all) {
    return ["tests:", ...block(all), ""].join("\n");
  }

  function file(head, all) {
    const first = "# yaml-language-server: $schema=../catalogue/result.schema.json";
    const { label, ...rest } = head;
    return [first, ...lines(rest, ""), "label:", ...lines(label, "  "), tests(all)].join("\n");
  }

  /* As site_builder/commands/ids.py: letters keep their plain form, since an id is an address for good. */
  function idOf(name) {
    const plain = name.replace(/[ßẞ]/g, "ss").replace(/[øØ]/g, "o").normalize("NFKD").replace(/\p{M}/gu, "");
    return plain.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-|-$/g, "");
  }

  /* The tests of a file: the lines of each by its name; under "" what stands before the first. */
  function testsOf(body, indent) {
    const found = new Map([["", []]]);
    let name = "";
    for (const line of body) {
      const key = line.startsWith(indent) && /^([^\s#:][^:]*):(\s|$)/.exec(line.slice(indent.length));
      if (key) name = key[1];
      found.set(name, [...(found.get(name) ?? []), line]);
    }
    return found;
  }

  /* A test of the same name and day is an earlier copy of this one, and makes room; of another day it stays. */
  function besides(all, there) {
    const added = {};
    const replaced = [];
    for (const [name, test] of Object.entries(all)) {
      const day = test.date ?? test.started;
      let free = name;
      const isTaken = () => free in added || (there.has(free) && !(day && there.get(free).join("\n").includes(day)));
      for (let n = 2; isTaken(); n += 1) free = `${name}-${n}`;
      if (there.delete(free)) replaced.push(free);
      added[free] = test;
    }
    return { added, replaced };
  }

  function into(text, all, status) {
    const marked = text.replace(/^(unit:[^\n]*\bstatus: *| +status: *)(planned|testing)\b/m, `$1${status}`);
    const old = marked.replace(/\n*$/, "").split("\n");
    const at = old.findIndex((line) => /^tests:\s*(\{\s*\}\s*)?(#.*)?$/.test(line));
    if (at < 0) return { text: [...old, tests(all)].join("\n"), replaced: [] };
    const next = old.findIndex((line, i) => i > at && /^[^\s#]/.test(line));
    const end = next < 0 ? old.length : next;
    const body = old.slice(at + 1, end);
    const indent = body.find((line) => /^ +[^\s#]/.test(line))?.match(/^ +/)[0] ?? "  ";
    const there = testsOf(body, indent);
    const { added, replaced } = besides(all, there);
    const kept = [...there.values()].flat();
    const made = [...old.slice(0, at), "tests:", ...block(added, indent), ...kept, ...old.slice(end), ""];
    return { text: made.join("\n"), replaced };
  }

  window.sheetYaml = { number, idOf, tests, file, into };
})();
