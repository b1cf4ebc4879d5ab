/*
 * Draws a figure's chart when it scrolls into view; the drawing library is fetched once, by the first that does.
 *
 * <figure class="chart"> holds <div class="picture"> and <script type="application/json"> with {"kind", "numbers",
 * "datasets"}. The layouts of each kind, one for a desk and one for a phone, come with the library. Colours are the
 * page's own custom properties, by name, so that dark, light and print need no second drawing.
 */
(function () {
  "use strict";

  const NARROW_PX = 560; // as in data.css
  const OPTIONS = { ast: true, defaultStyle: false, actions: false, renderer: "svg", tooltip: false, logLevel: 1 };

  /* Marks name a style ("this", "companion", "limit", …); what it looks like is said here alone. */
  function look(font) {
    const axis = {
      domain: false,
      ticks: false,
      gridColor: "var(--line)",
      gridWidth: 1,
      labelColor: "var(--quiet)",
      labelFontSize: 12,
      labelPadding: 6,
      title: null, // unless a layout names one
      titleColor: "var(--quiet)",
      titleFontSize: 12,
      titleFontWeight: 400,
      titlePadding: 4,
    };
    return {
      font,
      background: null,
      view: { stroke: null },
      axis,
      style: {
        this: { color: "var(--accent)", strokeWidth: 2.5 },
        companion: { color: "var(--companion)", strokeWidth: 1.25 },
        limit: { color: "var(--limit)", strokeWidth: 1.5, strokeDash: [5, 4] },
        whisker: { color: "var(--ink)", strokeWidth: 1.5 },
        open: { color: "var(--ink)", strokeWidth: 1.25, filled: false },
        projected: { color: "var(--accent)", filled: false, strokeWidth: 1, strokeDash: [3, 2] },
        trip: { color: "var(--limit)", strokeWidth: 2, filled: false },
        bracket: { color: "var(--band)", strokeWidth: 10 },
        unused: { color: "var(--quiet)", strokeWidth: 1.25, filled: false },
        held: { color: "var(--accent)", strokeWidth: 1.5, filled: false },
        fitted: { color: "var(--quiet)", strokeWidth: 1, strokeDash: [2, 3] },
        moment: { color: "var(--quiet)", strokeWidth: 1 },
        words: { color: "var(--ink)", fontSize: 12 },
        grid: { color: "var(--line)", strokeWidth: 1 },
        // Batteries that stand beside one another: told apart by their dashes as well.
        first: { color: "var(--first)", strokeWidth: 2 },
        second: { color: "var(--second)", strokeWidth: 2, strokeDash: [8, 3] },
        third: { color: "var(--third)", strokeWidth: 2, strokeDash: [2, 2] },
        fourth: { color: "var(--fourth)", strokeWidth: 2, strokeDash: [9, 3, 2, 3] },
      },
    };
  }

  /* The library's own reader of CSV compiles code, which the page's policy forbids. */
  function rowsOf(csv) {
    const [names, ...rows] = csv.trimEnd().split("\n").map(cellsOf);
    return rows.map((cells) => Object.fromEntries(names.map((name, i) => [name, cells[i]])));
  }

  function cellsOf(line) {
    const cells = `,${line}`.matchAll(/,(?:"((?:[^"]|"")*)"|([^,]*))/g);
    return [...cells].map(([, quoted, plain]) => quoted?.replaceAll('""', '"') ?? plain);
  }

  async function draw(figure) {
    const picture = figure.querySelector(".picture");
    const layout = figure.clientWidth < NARROW_PX ? "narrow" : "wide";
    if (figure.dataset.drawn === layout) return;
    figure.dataset.drawn = layout;
    const { kind, numbers, datasets } = JSON.parse(figure.querySelector("script").textContent);
    try {
      await window.site.script("assets/charts-library.js");
      const spec = window.chartLayouts[kind][layout];
      // A layout whose axis is a temperature asks "us", whether °F is chosen.
      const params = Object.entries({ ...numbers, us: window.quantities?.us ?? false }).map(([name, value]) => ({ name, value }));
      const font = getComputedStyle(document.body).fontFamily;
      const rows = Object.fromEntries(Object.entries(datasets).map(([name, csv]) => [name, rowsOf(csv)]));
      const full = { ...spec, params, datasets: rows, height: picture.clientHeight };
      const says = picture.getAttribute("aria-label");
      await window.vegaEmbed(picture, full, { ...OPTIONS, config: look(font) });
      // The picture as a whole is one image with our description, not the library's; its marks are none of their own.
      picture.setAttribute("role", "img");
      picture.setAttribute("aria-label", says);
      for (const name of ["role", "aria-label", "aria-roledescription"]) {
        for (const mark of picture.querySelectorAll(`[${name}]`)) mark.removeAttribute(name);
      }
    } catch (error) {
      figure.dataset.drawn = "failed";
      picture.textContent = "The chart could not be drawn here; its numbers are in the table.";
      console.error(error);
    }
  }

  const resized = new ResizeObserver((entries) => entries.forEach((entry) => draw(entry.target)));
  const seen = new IntersectionObserver(
    (entries) => {
      for (const { target, isIntersecting } of entries) {
        if (!isIntersecting) continue;
        seen.unobserve(target);
        resized.observe(target); // fires at once, and again where the other layout fits better
      }
    },
    { rootMargin: "300px" }
  );

  /* Draws this figure as well, once it comes into view; another script may have made it. */
  function watch(figure) {
    seen.observe(figure);
    const table = figure.querySelector("details") ?? foldFor(figure);
    table.addEventListener("toggle", () => offerNumbers(figure, table), { once: true });
  }

  /* A picture whose numbers stand in the section's own table still has them as files; data.css keeps its place. */
  function foldFor(figure) {
    const fold = document.createElement("details");
    const summary = document.createElement("summary");
    summary.textContent = "As numbers";
    fold.append(summary);
    figure.append(fold);
    return fold;
  }

  /* Below the table, what was drawn as files: a click makes one, so that no page carries its numbers twice. */
  function offerNumbers(figure, table) {
    const { datasets } = JSON.parse(figure.querySelector("script").textContent);
    const line = document.createElement("p");
    line.className = "numbers";
    line.append("What is drawn, as CSV: ");
    const page = location.pathname.replace(/index\.html$/, "").split("/").filter(Boolean).at(-1);
    const id = figure.getAttribute("aria-labelledby").replace(/-says$/, "");
    for (const [name, text] of Object.entries(datasets)) {
      if (text.trim().split("\n").length < 2) continue;
      const link = document.createElement("a");
      link.href = URL.createObjectURL(new Blob([text], { type: "text/csv" }));
      link.download = [page, id, name].filter(Boolean).join("-") + ".csv";
      link.textContent = name;
      line.append(line.childElementCount ? ", " : "", link);
    }
    table.append(line);
  }

  function start() {
    document.querySelectorAll("figure.chart").forEach(watch);
  }

  function drawAgain() {
    for (const figure of document.querySelectorAll("figure.chart[data-drawn]")) {
      figure.dataset.drawn = "";
      draw(figure);
    }
  }

  /* On paper nothing unfolds: what is folded away is opened for printing and closed again. */
  function unfoldForPrint() {
    const closed = document.querySelectorAll("article details:not([open])");
    closed.forEach((details) => (details.open = true));
    addEventListener("afterprint", () => closed.forEach((details) => (details.open = false)), { once: true });
  }

  window.watchChart = watch;
  addEventListener("beforeprint", unfoldForPrint);
  document.addEventListener("quantities", drawAgain);
  if (window.document$) window.document$.subscribe(start);
  else if (document.readyState === "loading") addEventListener("DOMContentLoaded", start);
  else start();
})();
