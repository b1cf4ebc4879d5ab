/*
 * Finds batteries, loads and pages by any words of their names, answers and features.
 *
 * The header's #search-button opens a dialog, which is made, and its list fetched, when somebody first opens it.
 * search-index.js assigns window.searchIndex = [[address, title, answer, "feature; feature; …"], …], batteries first. An
 * answer is text, or pieces of it: text, and [value, words] for each quantity that measures.js changes.
 * Every word typed must begin a word of the entry. First come entries that have all of them in their title, then in one
 * feature or in the answer, then anywhere.
 */
(function () {
  "use strict";

  const SHOWN = 20;
  const IN_TITLE = 0, IN_ONE = 1, SPREAD = 2;
  const button = document.getElementById("search-button");
  let dialog;

  /* "100Ah" and "100 Ah" are alike, and so are "é" and "e". */
  function wordsOf(text) {
    return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase().match(/\p{L}+|\d+(?:\.\d+)?/gu) ?? [];
  }

  const piecesOf = (answer) => [answer].flat();

  function entryOf([address, title, answer, features]) {
    const text = piecesOf(answer).map((piece) => (typeof piece === "string" ? piece : piece[1])).join("");
    const parts = [title, text, ...features.split("; ")].map((text) => ({ text, words: wordsOf(text) }));
    return { address, title, answer, parts, all: { words: parts.flatMap((part) => part.words) } };
  }

  /* A number has to be whole ("10" is not "100"), unless it is still being typed. */
  function holds(part, asked) {
    return asked.every((word, i) => {
      const whole = i < asked.length - 1 && /\d/.test(word);
      return part.words.some((have) => (whole ? have === word : have.startsWith(word)));
    });
  }

  /* Of a list such as "ran: circular saw, table saw" only what fits best. */
  function reasonOf(text, asked) {
    const [head, list] = text.split(": ");
    if (!list) return text;
    const named = list.split(", ").map((name) => ({ name, fits: countOf(wordsOf(name), asked) }));
    const best = Math.max(...named.map((one) => one.fits));
    return `${head}: ${named.filter((one) => one.fits === best).map((one) => one.name).join(", ")}`;
  }

  function countOf(words, asked) {
    return asked.filter((word) => words.some((have) => have.startsWith(word))).length;
  }

  function matchOf(entry, asked) {
    if (!holds(entry.all, asked)) return null;
    const part = entry.parts.findIndex((one) => holds(one, asked));
    if (part === 0) return { entry, rank: IN_TITLE };
    if (part === -1) return { entry, rank: SPREAD };
    return { entry, rank: IN_ONE, why: part > 1 ? reasonOf(entry.parts[part].text, asked) : "" };
  }

  function found(entries, text) {
    const asked = wordsOf(text);
    if (!asked.length) return [];
    const matches = entries.map((entry) => matchOf(entry, asked)).filter(Boolean);
    return matches.sort((a, b) => a.rank - b.rank); // stable: batteries stay in front of pages
  }

  function make(name, properties, ...children) {
    const element = Object.assign(document.createElement(name), properties);
    element.append(...children);
    return element;
  }

  function lineOf({ entry, why }) {
    const link = make("a", { href: window.site.page(entry.address), textContent: entry.title });
    const lines = [entry.answer, why].filter((one) => one?.length).map((one) => make("p", {}, ...piecesOf(one).map(wordsAs)));
    return make("li", {}, link, ...lines);
  }

  /* Text stays text: parts of it come from contributors. */
  function wordsAs(piece) {
    return typeof piece === "string" ? piece : make("data", { value: piece[0], textContent: piece[1] });
  }

  function saidOf(matches, text) {
    if (!text.trim()) return "A maker, a model, a load, or what it has: “heats itself”, “100 Ah”, “starts table saw”.";
    if (!matches.length) return "Nothing found.";
    const count = `${matches.length} found`;
    return matches.length > SHOWN ? `${count}, the first ${SHOWN} shown; another word narrows them` : count;
  }

  class Search {
    constructor() {
      this.input = make("input", { type: "search", name: "words", autocomplete: "off", spellcheck: false });
      this.close = make("button", { type: "button", textContent: "Close" });
      this.said = make("p", { className: "search__said" });
      this.said.setAttribute("role", "status");
      this.list = make("ol", { className: "search__found" });
      const label = make("label", {}, "Search ", this.input);
      const form = make("form", {}, label, this.close);
      this.element = make("dialog", { className: "search" }, form, this.said, this.list);
      this.element.setAttribute("aria-label", "Search");
      form.addEventListener("submit", (event) => this.follow(event));
      this.input.addEventListener("input", () => this.show());
      this.close.addEventListener("click", () => this.element.close());
      this.element.addEventListener("keydown", (event) => this.step(event));
      this.element.addEventListener("click", (event) => event.target === this.element && this.element.close());
      document.body.append(this.element);
    }

    async open() {
      this.element.showModal();
      this.input.select();
      if (this.entries) return;
      this.said.textContent = "Fetching the list …";
      try {
        await window.site.script("assets/search-index.js");
        this.entries = window.searchIndex.map(entryOf);
        this.show();
      } catch (error) {
        this.said.textContent = "The list could not be fetched; the table of all batteries holds the same.";
        console.error(error);
      }
    }

    show() {
      if (!this.entries) return;
      const matches = found(this.entries, this.input.value);
      this.said.textContent = saidOf(matches, this.input.value);
      this.list.replaceChildren(...matches.slice(0, SHOWN).map(lineOf));
      window.quantities?.within(this.list);
    }

    /* Enter in the field follows the first line. */
    follow(event) {
      event.preventDefault();
      this.list.querySelector("a")?.click();
    }

    /* Arrows go from the field down the list and back. */
    step(event) {
      const way = { ArrowDown: 1, ArrowUp: -1 }[event.key];
      if (!way) return;
      const stops = [this.input, ...this.list.querySelectorAll("a")];
      const next = stops[stops.indexOf(document.activeElement) + way];
      if (!next) return;
      event.preventDefault();
      next.focus();
    }
  }

  button.addEventListener("click", () => {
    dialog ??= new Search();
    dialog.open();
  });
})();
