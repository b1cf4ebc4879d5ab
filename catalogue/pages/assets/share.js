/*
 * On a battery's page: copies its link, the link to a section, and every text that stands ready for it (data-copy).
 * A button says "Copied" for a moment, to eyes and to screen readers.
 */
(function () {
  "use strict";

  const SAID_MS = 2000;
  const page = document.querySelector("link[rel=canonical]")?.href ?? location.href.replace(/[?#].*/, "");

  function copier(words, label, text) {
    const button = Object.assign(document.createElement("button"), { type: "button", textContent: words, className: "copy" });
    button.setAttribute("aria-live", "polite");
    if (label !== words) button.setAttribute("aria-label", label);
    button.addEventListener("click", async () => {
      await window.site.copy(text());
      button.textContent = "Copied";
      setTimeout(() => (button.textContent = words), SAID_MS);
    });
    return button;
  }

  for (const element of document.querySelectorAll("[data-copy]")) {
    const button = copier("Copy", "Copy", () => element.textContent.trim());
    element.tagName === "PRE" ? element.before(button) : element.after(" ", button);
  }
  document.querySelector(".acts")?.append(copier("Share", "Share: copy this page's link", () => page));
  for (const heading of document.querySelectorAll(".part > h2[id]")) {
    const words = heading.textContent.trim();
    heading.append(" ", copier("link", `Copy the link to “${words}”`, () => `${page}#${heading.id}`));
  }
})();
