/*
 * Draws a figure's chart when it scrolls into view; the drawing library is fetched once, by the first that does.
 *
 * <figure class="chart"> holds <div class="picture"> and <script type="application/json"> with {"kind", "numbers",
 * "datasets"}. The layouts of each kind, one for a desk and one for a phone, come with the library. Colours are the
 * page's own custom properties, by name, so that dark, light and print need no second drawing.
 */
(function () {
  "use strict";

  const here = document.currentScript.src;
  const NARROW_PX = 560; // as in data.css
  let library;

  function loadLibrary() {
    library ??= new Promise((resolve, reject) => {
      const script = document.createElement("script");
      script.src = new URL("charts-library.js", here).href;
      script.onload = () => resolve(window.vegaEmbed);
      script.onerror = () => reject(new Error(`${script.src} did not load`));
      document.head.append(script);
    });
    return library;
  }

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
      title: null,
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
      },
    };
  }

  async function draw(figure) {
    const picture = figure.querySelector(".picture");
    const layout = figure.clientWidth < NARROW_PX ? "narrow" : "wide";
    if (figure.dataset.drawn === layout) return;
    figure.dataset.drawn = layout;
    const { kind, numbers, datasets } = JSON.parse(figure.querySelector("script").textContent);
    try {
      const embed = await loadLibrary();
      const spec = window.chartLayouts[kind][layout];
      const params = Object.entries(numbers).map(([name, value]) => ({ name, value }));
      const config = look(getComputedStyle(document.body).fontFamily);
      const options = { ast: true, actions: false, config, renderer: "svg", tooltip: false, logLevel: 1 };
      await embed(picture, { ...spec, params, datasets, height: picture.clientHeight }, options);
      // The picture as a whole is one image with a description; its marks are none of their own.
      for (const name of ["role", "aria-label", "aria-roledescription"]) {
        for (const mark of picture.querySelectorAll(`[${name}]`)) mark.removeAttribute(name);
      }
    } catch (error) {
      figure.dataset.drawn = "failed";
      picture.textContent = "The chart could not be drawn here; its numbers are in the table.";
      console.error(error);
    }
  }

  function start() {
    const figures = document.querySelectorAll("figure.chart");
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
    figures.forEach((figure) => seen.observe(figure));
  }

  /* On paper nothing unfolds: what is folded away is opened for printing and closed again. */
  function unfoldForPrint() {
    const closed = document.querySelectorAll("article details:not([open])");
    closed.forEach((details) => (details.open = true));
    addEventListener("afterprint", () => closed.forEach((details) => (details.open = false)), { once: true });
  }

  addEventListener("beforeprint", unfoldForPrint);
  if (window.document$) window.document$.subscribe(start);
  else if (document.readyState === "loading") addEventListener("DOMContentLoaded", start);
  else start();
})();
