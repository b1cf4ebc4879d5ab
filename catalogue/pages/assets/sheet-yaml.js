/*
 * What was entered on a bench sheet as the text of a results file.
 *
 * sheetYaml.reads(text)        whether a number field's text is one of the forms that a results file takes; else why not
 * sheetYaml.tests(tests)       the `tests:` block; tests = {name: {kind, …, rows as lists of objects}}
 * sheetYaml.file(head, tests)  a whole file; head = {unit: {…}, label: {…}, bench}
 * sheetYaml.into(text, tests)  the same block put into a file that exists, its unit published
 *
 * Whatever was typed is written as a quoted string unless it is a plain number, so that no text can be taken for YAML.
 */
(function () {
  "use strict";

  const ONE = String.raw`[+−-]?(\d+(\.\d*)?|\.\d+)`;
  const UNIT = String.raw`( ?[A-Za-zµΩ°%/²³]{1,8})?`;
  const FORMS = new RegExp(`^(((about|over|under) )?${ONE}${UNIT}|${ONE}${UNIT} to ${ONE}${UNIT})$`);
  const PLAIN = /^[+−-]?\d+(\.\d+)?$/;
  const HIDDEN = /[\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/g;

  function reads(text) {
    if (FORMS.test(text)) return "";
    if (/\d,\d/.test(text)) return `Write ${text.replace(",", ".")}: a point before the decimals.`;
    return "Not read as a number. Say 620, about 620, 600 to 640, over 95, under 1450, or with a unit: 12.5 °F.";
  }

  function scalar(value) {
    if (typeof value === "boolean") return String(value);
    const text = String(value);
    if (PLAIN.test(text)) return text.replace("−", "-").replace("+", "");
    return JSON.stringify(text).replace(HIDDEN, (c) => `\\u${c.charCodeAt(0).toString(16).padStart(4, "0")}`);
  }

  function flow(value) {
    if (Array.isArray(value)) return `[${value.map(flow).join(", ")}]`;
    if (value === null || typeof value !== "object") return scalar(value);
    return `{${Object.entries(value).map(([key, one]) => `${key}: ${flow(one)}`).join(", ")}}`;
  }

  function lines(record, indent) {
    return Object.entries(record).flatMap(([key, value]) => {
      const isList = Array.isArray(value) && value.length && typeof value[0] === "object";
      if (!isList) return [`${indent}${key}: ${flow(value)}`];
      return [`${indent}${key}:`, ...value.map((one) => `${indent}  - ${flow(one)}`)];
    });
  }

  function block(tests) {
    return Object.entries(tests).flatMap(([name, test]) => [`  ${name}:`, ...lines(test, "    ")]);
  }

  function tests(all) {
    return ["tests:", ...block(all), ""].join("\n");
  }

  function file(head, all) {
    const first = "# yaml-language-server: $schema=../catalogue/result.schema.json";
    const { label, ...rest } = head;
    return [first, ...lines(rest, ""), "label:", ...lines(label, "  "), tests(all)].join("\n");
  }

  function into(text, all) {
    const published = text.replace(/^(unit:[^\n]*\bstatus: *|  status: *)(planned|testing)\b/m, "$1published");
    const known = /^tests:[^\S\n]*\n/m;
    if (known.test(published)) return published.replace(known, (found) => `${found}${block(all).join("\n")}\n`);
    return `${published.replace(/\n*$/, "\n")}${tests(all)}`;
  }

  window.sheetYaml = { reads, tests, file, into };
})();
