/*
 * Curves of several batteries over one another, as figures that charts.js draws.
 *
 * comparePictures.<picture>(units, looks, width) gives a <figure>, or null where fewer than one battery has the curve.
 * curves.discharge is [Ah, V], curves.warming [min, °C], curves.carrying a list of [lowest s, highest s, A, look].
 */
(function () {
  "use strict";

  const ROW = 20, AXIS = 62, GAP = 15, EDGE = 6; // [px]
  const CURRENTS = [0.1, 1, 10, 100, 1000].flatMap((power) => [1, 1.5, 2, 3, 4, 6].map((factor) => factor * power));
  const TIMES = [0.1, 1, 10, 60, 600, 3600];
  const STEPS = 8;
  const brush = document.createElement("canvas").getContext("2d");

  /* Words that the builder made and escaped, as what they say. */
  function said(html) {
    const words = document.createElement("template");
    words.innerHTML = html;
    return words.content;
  }

  function drawnOf(units, looks, picture) {
    return units.map((unit, i) => ({ ...unit, who: looks[i], curve: unit.curves[picture], limit: unit.limits[picture] ?? 0 })).filter((unit) => unit.curve);
  }

  function csv(heading, rows) {
    const cell = (value) => (typeof value === "string" ? `"${value.replaceAll('"', '""')}"` : String(value));
    return [heading, ...rows.map((row) => row.map(cell).join(","))].join("\n") + "\n";
  }

  function widthOf(words) {
    brush.font = `12px ${getComputedStyle(document.body).fontFamily}`;
    return brush.measureText(words).width;
  }

  /* Names in rows from the top, each over the upright line from its curve's end; no line runs through a name. */
  function strip(ends, width) {
    const rest = ends.map((end) => ({ ...end, size: widthOf(end.words) }));
    const rows = placed(rest, [], width) ?? rest.map((end) => ({ ...end, dx: -end.size - EDGE }));
    return rows.map((end, row) => ({ ...end, row: ROW * (row - rows.length) }));
  }

  function placed(rest, lines, width) {
    if (!rest.length) return [];
    for (const one of rest) {
      const starts = [-one.size / 2, -one.size - EDGE, EDGE, -AXIS - one.px, width - one.size - one.px];
      for (const dx of starts) {
        const [start, end] = [one.px + dx, one.px + dx + one.size];
        const touches = start <= one.px + EDGE && end >= one.px - EDGE;
        const free = lines.every((line) => line < start - 3 || line > end + 3);
        if (!touches || !free || start < -AXIS || end > width) continue;
        const others = placed(rest.filter((other) => other !== one), [...lines, one.px], width);
        if (others) return [{ ...one, dx }, ...others];
      }
    }
    return null;
  }

  function overlaid(kind, drawn, figureWidth, [bottom, top]) {
    const right = 1.03 * Math.max(...drawn.map(({ curve: [x] }) => x.at(-1)));
    const width = figureWidth - AXIS;
    const ends = strip(
      drawn.map(({ who, name, curve: [x, y] }) => ({ who, words: name, x: x.at(-1), y: Math.max(y.at(-1), bottom), px: (x.at(-1) / right) * width })),
      width
    );
    const lines = drawn.flatMap(({ who, name, curve: [x, y] }) => x.map((at, i) => [who, at, y[i], name]));
    return {
      kind,
      numbers: { right, bottom, top },
      datasets: {
        lines: csv("who,x,y,battery", lines),
        ends: csv("who,x,y,row,dx,words", ends.map((one) => [one.who, one.x, one.y, one.row, one.dx, one.words])),
      },
    };
  }

  /* The value of a curve at a place, by straight lines between its points; null beyond its end. */
  function at([x, y], wanted) {
    const i = x.findIndex((one) => one >= wanted);
    if (i < 0) return null;
    if (i === 0) return y[0];
    return y[i - 1] + ((y[i] - y[i - 1]) * (wanted - x[i - 1])) / (x[i] - x[i - 1]);
  }

  function curveTable(drawn, heading, units) {
    const longest = Math.max(...drawn.map(({ curve: [x] }) => x.at(-1)));
    const steps = Array.from({ length: STEPS + 1 }, (_, i) => (longest * i) / STEPS);
    const shown = (value, U, unit) => (value === null ? "ended" : window.quantities?.us && unit === "°C" ? window.quantities.show(value, unit, U) : window.measured.shown(value, U, unit));
    const rows = steps.map((step) => [shown(step, 0, units[0]), ...drawn.map(({ curve, limit }) => shown(at(curve, step), limit, units[1]))]);
    return [[heading, ...drawn.map(({ name }) => name)], rows];
  }

  function discharge(units, looks, width) {
    const drawn = drawnOf(units, looks, "discharge");
    if (!drawn.length) return null;
    const seen = drawn.flatMap(({ curve: [, v] }) => v.filter((one) => one > 0.75 * Math.max(...v)));
    const chart = overlaid("discharges", drawn, width, [Math.floor(Math.min(...seen)), Math.ceil(Math.max(...seen))]);
    const until = drawn.flatMap(({ name, rows }, i) => [`${i ? ", " : ""}${name} until `, said((rows.delivered_ah ?? ["its end"])[0])]);
    return figure("discharge", ["Voltage while discharging: ", ...until], chart, drawn.length, curveTable(drawn, "Delivered", ["Ah", "V"]));
  }

  function warming(units, looks, width) {
    const drawn = drawnOf(units, looks, "warming");
    if (!drawn.length) return null;
    const seen = drawn.flatMap(({ curve: [, c] }) => c);
    const limits = [5 * Math.floor(Math.min(...seen) / 5), 5 * Math.ceil(Math.max(...seen) / 5 + 0.01)];
    const chart = overlaid("warmings", drawn, width, limits);
    const told = drawn.flatMap(({ name, warmed }, i) => [`${i ? "; " : ""}${name} `, said(warmed)]);
    return figure("warming", [...told, ". Air and chargers differed; the standard warm-up below does not"], chart, drawn.length, curveTable(drawn, "After", ["min", "°C"]));
  }

  /* Heights of names at the right edge: at their own point, or as far beside it as they need. */
  function apart(wanted, [bottom, top], tall) {
    const gap = (GAP * Math.log(top / bottom)) / (tall - 34);
    const order = wanted.map((_, i) => i).sort((a, b) => wanted[a] - wanted[b]);
    const logs = order.map((i) => Math.log(wanted[i]));
    for (let i = 1; i < logs.length; i++) logs[i] = Math.max(logs[i], logs[i - 1] + gap);
    const highest = Math.log(top) - gap / 2;
    for (let i = logs.length - 1; i >= 0; i--) logs[i] = Math.min(logs[i], i === logs.length - 1 ? highest : logs[i + 1] - gap);
    return order.reduce((all, i, k) => ((all[i] = Math.exp(logs[k])), all), []);
  }

  /* The smallest current that had cut it off by a time, as the corners of a stepped line. */
  function soonest(steps) {
    const trips = steps.filter(({ look }) => look === "tripped").sort((a, b) => a.high - b.high || a.amps - b.amps);
    return trips.filter(({ amps }, i) => trips.slice(0, i).every((sooner) => amps < sooner.amps));
  }

  function carrying(units, looks) {
    const drawn = drawnOf(units, looks, "carrying");
    if (!drawn.length) return null;
    const steps = drawn.flatMap(({ who, name, curve }) => curve.map(([low, high, amps, look, U]) => ({ who, name, low, high, amps, look, U })));
    const times = steps.flatMap(({ low, high }) => [low, high]).filter((one) => one > 0);
    const [left, right] = [Math.min(1, ...times) / 1.5, Math.max(60, ...times) * 1.5];
    const amps = steps.map((step) => step.amps);
    const [bottom, top] = [Math.min(...amps) / 1.3, Math.max(...amps) * 1.3];
    const middle = ({ low, high }) => Math.sqrt(Math.max(low, left) * Math.max(high, left));
    const last = drawn.map(({ who }) => steps.filter((step) => step.who === who).reduce((a, b) => (middle(b) > middle(a) ? b : a)));
    const heights = apart(last.map((step) => step.amps), [bottom, top], TALL);
    const levels = CURRENTS.filter((one) => one >= bottom && one <= top);
    const chart = {
      kind: "overloads",
      numbers: { left, right, bottom, top, marks: TIMES.filter((one) => one >= left && one <= right), currents: levels },
      datasets: {
        steps: csv("who,x,x2,y,look,battery", steps.map((one) => [one.who, Math.max(one.low, left), Math.max(one.high, left), one.amps, one.look, one.name])),
        lines: csv("who,x,y,battery", drawn.flatMap(({ who, name }) => soonest(steps.filter((step) => step.who === who)).map(({ high, amps }) => [who, high, amps, name]))),
        levels: csv("y", levels.map((one) => [one])),
        ends: csv("who,x,x2,y,y2,words", drawn.map(({ who, name }, i) => [who, middle(last[i]), right, last[i].amps, heights[i], name])),
      },
    };
    const { shown } = window.measured;
    const span = ({ low, high }) => (low === high ? shown(low, 0, "s") : `${shown(low, 0, "s")} to ${shown(high, 0, "s")}`);
    const rows = drawn.flatMap(({ who, name }) =>
      steps.filter((step) => step.who === who).map((step) => [name, shown(step.amps, step.U, "A"), span(step), step.look === "held" ? "carried" : "cut off"])
    );
    const says = "Every step: crosses, it cut off after that long; open triangles, it carried that long and had not cut off. A stepped line, the smallest current that was seen to cut it off by then";
    return figure("carrying", [says], chart, 0, [["Battery", "Current", "For", "What happened"], rows]);
  }

  const TALL = 320;

  function figure(id, says, chart, names, [heading, rows]) {
    const element = document.createElement("figure");
    element.className = "chart";
    element.setAttribute("aria-labelledby", `${id}-says`);
    const caption = Object.assign(document.createElement("figcaption"), { id: `${id}-says` });
    caption.append(...says);
    window.quantities?.within(caption);
    const picture = Object.assign(document.createElement("div"), { className: "picture" });
    picture.setAttribute("role", "img");
    picture.setAttribute("aria-label", `${caption.textContent}. The numbers are in the table below.`);
    for (const property of ["--tall", "--tall-narrow"]) picture.style.setProperty(property, `${TALL - 20 + ROW * names}px`);
    const data = Object.assign(document.createElement("script"), { type: "application/json", textContent: JSON.stringify(chart) });
    const fold = document.createElement("details");
    const wide = Object.assign(document.createElement("div"), { className: "scroll", tabIndex: 0, role: "region", ariaLabel: `${heading[0]} table` });
    wide.append(tableOf(heading, rows));
    fold.append(Object.assign(document.createElement("summary"), { textContent: "The same as a table" }), wide);
    element.append(caption, picture, data, fold);
    return element;
  }

  function tableOf(heading, rows) {
    const table = Object.assign(document.createElement("table"), { className: "data" });
    const line = (cells, kind, scope) => {
      const row = document.createElement("tr");
      cells.forEach((words, i) => {
        const cell = document.createElement(i === 0 || kind === "th" ? "th" : "td");
        if (cell.tagName === "TH") cell.scope = kind === "th" ? "col" : scope;
        cell.textContent = words;
        row.append(cell);
      });
      return row;
    };
    table.createTHead().append(line(heading, "th"));
    table.createTBody().append(...rows.map((cells) => line(cells, "td", "row")));
    return table;
  }

  window.comparePictures = { discharge, warming, carrying };
})();
