/*
 * Whether a results file would take what stands in a field of a bench sheet; else why not, with the way out.
 *
 * sheetReads.wrong(field)   "" where all is well, or there is nothing yet
 *
 * Patterns, usual units and spellings that mean one of them are the builder's own (data-grammar of the form), and so are
 * unit and limits of each field (data-unit, data-low, data-high, data-outside). tests/browser/test_sheet_reads.py holds
 * its answers against the builder's.
 */
(function () {
  "use strict";

  const grammar = JSON.parse(document.getElementById("sheet").dataset.grammar);
  const whole = (pattern, flags) => new RegExp(`^(?:${pattern})$`, flags);
  const [ONE, RANGE, LOG] = [whole(grammar.one), whole(grammar.range), whole(grammar.log, "i")];
  const UNSEEN = new RegExp(grammar.unseen, "u");
  const SEPARATED = /\d+(?:[ ,.'_\u00a0\u202f]\d+)+/g;
  const TIME = /^([01]?\d|2[0-3]):[0-5]\d(:[0-5]\d)?$/;
  const SPOKEN = /^(\d{1,2})(?: ?[.:h-]? ?(\d\d))? ?([ap])?\.?(?:m\.?)?$/i;
  const meant = new Map(Object.entries(grammar.meant));
  const unitsOf = (takes) => new Map(Object.entries(grammar.units[takes.unit] ?? {}));
  const digitsOf = (text) => Number(text.replace("−", "-"));

  function number(text, takes) {
    const single = ONE.exec(text);
    const range = single ? null : RANGE.exec(text);
    if (text.length > 80 || (!single && !range)) return unread(text, takes);
    const word = single?.[1] ?? "";
    const parts = single ? [[single[2], single[3]]] : [[range[1], range[2] ?? range[4]], [range[3], range[4] ?? range[2]]];
    const units = unitsOf(takes);
    if (parts.some(([, unit]) => unit && !units.has(unit))) return otherUnit(word, parts, takes);
    const values = parts.map(([digits, unit]) => {
      const [factor, offset] = units.get(unit) ?? [1, 0];
      return digitsOf(digits) * factor + offset;
    });
    if (word === "about" && digitsOf(parts[0][0]) === 0) return "“about 0” does not say how far off it may be: write a range, such as -2 to 2.";
    if (values[0] > values[1]) return "Write the smaller number first.";
    const best = Math.abs((values[0] + values.at(-1)) / 2);
    if (best > 0 && best < grammar.least) return "That is less than any instrument shows.";
    return values.every((one) => one >= takes.low && one <= takes.high) ? "" : outside(text, values, parts, takes);
  }

  function outside(text, values, parts, takes) {
    const isShare = takes.unit === "1" && values.every((one) => one >= 0 && one <= 100);
    if (isShare && parts.every(([, unit]) => !unit)) return `Write ${text} %.`;
    const unit = takes.unit === "1" ? "" : ` ${takes.unit}`;
    return `Only ${takes.low} to ${takes.high}${unit} can be: ${takes.outside || "check the number and its unit"}.`;
  }

  function otherUnit(word, parts, takes) {
    const known = [...unitsOf(takes).keys()];
    const better = (unit) => {
      const wanted = (meant.get(unit.toLowerCase()) ?? unit).toLowerCase();
      return known.includes(unit) ? unit : known.find((one) => one.toLowerCase() === wanted);
    };
    const unknown = parts.find(([, unit]) => unit && !better(unit));
    if (unknown) return `“${unknown[1]}” is not read here: ${takes.outside || `write it in ${takes.unit}`}.`;
    const said = parts.map(([digits, unit]) => (unit ? `${digits} ${better(unit)}` : digits)).join(" to ");
    return `Write ${word ? `${word} ` : ""}${said}.`;
  }

  function unread(text, takes) {
    const ways = withoutSeparators(text).filter((one) => ONE.test(one) || RANGE.test(one));
    if (ways.length) return `Write ${ways.join(" if that is what it says, or ")}: a point before the decimals, nothing between thousands.`;
    const spans = takes.unit === "s" || takes.unit === "h" ? clockDurations(text) : [];
    if (spans.length) return `Write ${spans.join(" or ")}.`;
    return "Not read as a number. Say 620, about 620, 600 to 640, over 95, under 1450, or with a unit: 12.5 °F.";
  }

  /* As site_builder/ways_out.py: a comma before three digits may stand for thousands or before decimals. */
  function withoutSeparators(text) {
    const meanings = (text.match(SEPARATED) ?? []).map(meaningsOf);
    if (!meanings.length || meanings.some((some) => !some.length)) return [];
    const ways = [0, -1].map((which) => {
      const left = [...meanings];
      return text.replace(SEPARATED, () => left.shift().at(which));
    });
    return [...new Set(ways)];
  }

  function meaningsOf(digits) {
    const [head, ...groups] = digits.split(/\D/);
    const signs = digits.replace(/\d/g, "");
    if (signs === ".") return [digits];
    const [before, last] = [signs.slice(0, -1), signs.at(-1)];
    const areThousands = (some) => !some.length || (head.length <= 3 && head[0] !== "0" && some.every((group) => group.length === 3));
    const found = [];
    if (new Set(signs).size === 1 && areThousands(groups)) found.push(head + groups.join(""));
    if (",.".includes(last) && !before.includes(last) && new Set(before).size <= 1 && areThousands(groups.slice(0, -1))) {
      found.push(`${head}${groups.slice(0, -1).join("")}.${groups.at(-1)}`);
    }
    return found;
  }

  function clockDurations(text) {
    const found = /^(\d{1,3}):([0-5]\d)(?::([0-5]\d))?\s*(h|min)?$/.exec(text);
    if (!found) return [];
    const [first, second, third] = found.slice(1, 4).map(Number);
    if (found[3]) return [`${first * 3600 + second * 60 + third} s`];
    const both = [`${first * 60 + second} min`, `${first * 60 + second} s`];
    return { h: both.slice(0, 1), min: both.slice(1) }[found[4]] ?? both;
  }

  function moment(text) {
    const day = text.match(/^\d{4}-\d\d-\d\d/)?.[0] ?? "";
    const rest = text.slice(day.length).trim();
    if (day && !isDate(day)) return "There is no such day. Write year-month-day, such as 2026-05-04.";
    if (day && !rest) return "";
    const times = rest.split(" to ").map((one) => one.trim());
    if (times.length <= 2 && times.every((one) => TIME.test(one))) return "";
    const better = times.map(spokenTime);
    if (times.length <= 2 && better.every(Boolean)) return `Write ${day && `${day} `}${better.join(" to ")}.`;
    return "Not read as a time. Write 18:40, or 22:10 to 23:40 where nobody saw it.";
  }

  /* "18.10", "1810" and "6:10 pm" as a clock of 24 hours shows them. */
  function spokenTime(text) {
    const found = SPOKEN.exec(text);
    if (!found || (!found[2] && !found[3])) return TIME.test(text) ? text : "";
    const half = found[3]?.toLowerCase();
    const hours = half ? (Number(found[1]) % 12) + (half === "p" ? 12 : 0) : Number(found[1]);
    const time = `${String(hours).padStart(2, "0")}:${found[2] ?? "00"}`;
    return TIME.test(time) ? time : "";
  }

  function isDate(day) {
    const date = new Date(`${day}T00:00:00Z`);
    return !Number.isNaN(date.valueOf()) && date.toISOString().startsWith(day);
  }

  function list(text, takes) {
    if (/^[^.]*\d,\d[^.]*$/.test(text)) return "A point before the decimals, a comma and a blank between two numbers: 3.449, 3.451.";
    return text.split(",").map((one) => one.trim()).filter(Boolean).map((one) => number(one, takes)).find(Boolean) ?? "";
  }

  function wrong(field) {
    const text = field.value.trim().replace(/\s+/g, " ");
    const takes = { unit: field.dataset.unit, low: Number(field.dataset.low), high: Number(field.dataset.high), outside: field.dataset.outside };
    const kind = field.dataset.is;
    if (field.validity.badInput) return "Not a whole date yet.";
    // Blanks of print in a number are not written into the file; in words they are.
    const hidden = UNSEEN.exec(takes.unit === undefined ? field.value.trim() : text)?.[0];
    if (hidden) return `A character here does not show: U+${hidden.codePointAt(0).toString(16).toUpperCase().padStart(4, "0")}; delete it.`;
    if (!text) return "";
    if (kind === "time") return moment(text);
    if (kind === "date") return /^\d{4}-/.test(text) ? "" : "A year has four digits.";
    if (kind === "log") return LOG.test(text) ? "" : "Call it run.csv, .tsv, .txt (or packed: .gz, .xz) or .parquet.";
    if (takes.unit === undefined) return "";
    return kind === "list" ? list(text, takes) : number(text, takes);
  }

  window.sheetReads = { wrong };
})();
