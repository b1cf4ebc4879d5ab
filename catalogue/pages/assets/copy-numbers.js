/*
 * Copies a number with its ± as a sentence with its link: "Ferngate F90, delivered charge: label 90 Ah, measured
 * 91.3 ± 0.8 Ah (https://…/units/ferngate-f90/#label)".
 *
 * One button among the page's .acts shows and hides a "copy" beside every fact, sentence, picture and row, so that who
 * reads by keyboard does not pass a hundred of them.
 */
(function () {
  "use strict";

  const CAN = ".facts > div, .part > p, .part > table tbody tr, .part > .scroll tbody tr, .part > figure figcaption";
  const acts = document.querySelector(".acts");
  const article = document.querySelector("article");
  const page = document.querySelector("link[rel=canonical]")?.href ?? location.href.replace(/[?#].*/, "");
  const said = Object.assign(document.createElement("p"), { className: "copied" });
  said.setAttribute("role", "status");

  const RANGE = /^\s*\d+\sto\s\d+\s*$/; // of points or a score, which only smaller letters set apart on the page

  /* `without`: what else is left out, as a selector. */
  function textOf(element, without = "script") {
    const copy = element.cloneNode(true);
    copy.querySelectorAll(`button, script, ${without}`).forEach((one) => one.remove());
    for (const one of copy.querySelectorAll(".u")) if (RANGE.test(one.textContent)) one.textContent = `(${one.textContent})`;
    return copy.textContent.replace(/[ \n\t]+/g, " ").trim();
  }

  const name = textOf(article.querySelector("h1")).replace(/¶$/, "");

  function decapitalised(words) {
    return /^[A-Z][a-z]/.test(words) ? words[0].toLowerCase() + words.slice(1) : words;
  }

  function ofRow(row) {
    const [, ...headings] = [...row.closest("table").tHead.rows[0].cells].map((cell) => textOf(cell));
    const [first, ...cells] = row.cells;
    const told = cells.map((cell, i) => textOf(cell) && `${decapitalised(headings[i])} ${textOf(cell)}`);
    return `${name}, ${decapitalised(textOf(first, ".u"))}: ${told.filter(Boolean).join(", ")}`;
  }

  /* A row's number stands behind its first cell, and is neither a date nor part of a link's title. */
  function hasNumber(element) {
    if (element.tagName !== "TR") return /\d/.test(sentenceOf(element).replace(name, ""));
    return [...element.cells].slice(1).some((cell) => /\d/.test(textOf(cell, "time, a")));
  }

  function ofFact(fact) {
    const [title, value, below] = [...fact.children].map((one) => textOf(one));
    return `${name}, ${decapitalised(title)}: ${value}${below ? `, ${below}` : ""}`;
  }

  function sentenceOf(element) {
    if (element.tagName === "TR") return ofRow(element);
    if (element.matches(".facts > div")) return ofFact(element);
    return `${name}: ${textOf(element).replace(/\.$/, "")}`;
  }

  /* The nearest anchor: a row's own, else that of the heading before it. */
  function linkOf(element) {
    let before = element.querySelector("[id^=test-]") ?? element.closest(".part > *");
    while (before && !before.id) before = before.previousElementSibling;
    return before ? `${page}#${before.id}` : page;
  }

  async function write(text) {
    await window.site.copy(text);
    said.textContent = `Copied: ${text}`;
  }

  function offer(element, text, words) {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "copy-number", textContent: "copy" });
    button.setAttribute("aria-label", `copy: ${words}`);
    button.addEventListener("click", async () => {
      await write(text());
      button.focus();
    });
    element.append(" ", button);
  }

  function toggle(button) {
    const on = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(on));
    if (!on) return article.querySelectorAll(".copy-number").forEach((one) => one.remove());
    for (const element of article.querySelectorAll(CAN)) {
      if (!hasNumber(element) || element.querySelector("[data-copy]")) continue; // a text to copy has its own button
      const place = element.tagName === "TR" ? element.cells[0] : element.matches(".facts > div") ? element.lastElementChild : element;
      offer(place, () => `${sentenceOf(element)} (${linkOf(element)})`, sentenceOf(element).slice(0, 60));
    }
  }

  const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Copy a number" });
  button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", () => toggle(button));
  if (document.querySelector(".facts")) acts.append(button); // without results there is none to copy
  article.append(said);
})();
