/*
 * Light, dark, or as the system has it: a button in the header goes round, and what was chosen is kept. It runs as soon
 * as the button is there, before anything is drawn in the wrong colours; without scripts the style sheet follows the
 * system. <body data-md-color-scheme> is "default" or "slate", the theme's words for light and dark.
 *
 * It also unfolds what the address points at, for browsers that leave it folded, and lets the keyboard into code that
 * scrolls sideways.
 */
(function () {
  "use strict";

  const KEY = "colours";
  const WORDS = new Map([
    ["system", "Colours follow the system; change to light"],
    ["light", "Light; change to dark"],
    ["dark", "Dark; change to the system's"],
  ]);
  const CHOICES = [...WORDS.keys()];
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const button = document.getElementById("scheme-button");
  let chosen = kept();

  function kept() {
    try {
      const found = localStorage.getItem(KEY);
      return WORDS.has(found) ? found : "system";
    } catch {
      return "system"; // a browser may refuse to keep anything
    }
  }

  function show() {
    const isDark = chosen === "dark" || (chosen === "system" && dark.matches);
    document.body.dataset.mdColorScheme = isDark ? "slate" : "default";
    document.body.dataset.mdColorMedia = chosen;
    button.title = WORDS.get(chosen);
    button.setAttribute("aria-label", button.title);
  }

  function change() {
    chosen = CHOICES[(CHOICES.indexOf(chosen) + 1) % CHOICES.length];
    show();
    try {
      localStorage.setItem(KEY, chosen);
    } catch {
      // For this page, then.
    }
  }

  function unfold() {
    const target = document.getElementById(location.hash.slice(1));
    const folded = [];
    for (let one = target; one; one = one.parentElement) if (one.matches("details:not([open])")) folded.push(one);
    folded.forEach((details) => (details.open = true));
    if (folded.length) target.scrollIntoView();
  }

  button.addEventListener("click", change);
  dark.addEventListener("change", show);
  addEventListener("DOMContentLoaded", () => {
    for (const code of document.querySelectorAll("pre > code")) code.tabIndex = 0;
    unfold();
  });
  addEventListener("hashchange", unfold);
  show();
})();
