/*
 * What bench sheets keep on the phone until it is cleared, one draft for each sheet.
 *
 * sheetKept.read(id), sheetKept.write(id, draft), sheetKept.clear(id)   write says whether the browser keeps anything
 * sheetKept.follow(id, takeOver)   calls takeOver(draft) when another tab has gone on with it; {} where it was cleared
 *
 * On the blank sheet it lists the drafts whose sheet is gone, since their battery was published or renamed. And it has
 * the sheet itself kept, for a reload without a network (sheets/worker.js).
 */
(function () {
  "use strict";

  const PREFIX = "sheet ";

  const seen = new Map(); // what this tab last read or wrote, by id

  function read(id) {
    try {
      seen.set(id, localStorage.getItem(PREFIX + id));
      return JSON.parse(seen.get(id)) ?? {};
    } catch {
      return {};
    }
  }

  /* A private window may refuse to keep anything; the form works all the same. */
  function write(id, draft) {
    try {
      const text = JSON.stringify(draft);
      localStorage.setItem(PREFIX + id, text);
      seen.set(id, text);
      return true;
    } catch {
      return false;
    }
  }

  function clear(id) {
    seen.set(id, null);
    try {
      localStorage.removeItem(PREFIX + id);
    } catch {
      // Nothing was kept.
    }
  }

  /* A tab writes its whole draft, and must not write an old one over another tab's. While it sleeps it hears nothing. */
  function follow(id, takeOver) {
    const look = () => {
      const before = seen.get(id);
      const draft = read(id);
      if (seen.get(id) !== before) takeOver(draft);
    };
    for (const event of ["storage", "focus", "pageshow"]) addEventListener(event, look);
    document.addEventListener("visibilitychange", look);
  }

  function ids() {
    try {
      return Object.keys(localStorage).filter((key) => key.startsWith(PREFIX)).map((key) => key.slice(PREFIX.length));
    } catch {
      return [];
    }
  }

  function button(words, label, act) {
    const made = Object.assign(document.createElement("button"), { type: "button", textContent: words });
    made.setAttribute("aria-label", label);
    made.addEventListener("click", act);
    return made;
  }

  function listOrphans(box) {
    const there = ["blank", ...box.dataset.sheets.split(" ")];
    const gone = ids().filter((id) => !there.includes(id));
    const says = document.getElementById("sheet-says");
    for (const id of gone) {
      const line = document.createElement("li");
      const copy = button("Copy", `Copy ${id}`, async () => {
        await window.site.copy(read(id).text ?? "");
        says.textContent = `Copied: results/${id}.yml as it stood on its sheet.`;
      });
      const drop = button("Clear", `Clear ${id}`, () => {
        if (!window.confirm(`Clear what was entered for ${id}?`)) return;
        clear(id);
        line.remove();
        box.hidden = !box.querySelector("li");
      });
      line.append(`${id} `, copy, " ", drop);
      box.querySelector("ul").append(line);
    }
    box.hidden = !gone.length;
  }

  /* A browser gives workers to pages of a server only, and may refuse them; the form works until it is left, then. */
  async function keepPage() {
    if (!location.protocol.startsWith("http") || !("serviceWorker" in navigator)) return;
    try {
      await navigator.serviceWorker.register(window.site.file("sheets/worker.js"));
      const { active } = await navigator.serviceWorker.ready;
      const loaded = document.querySelectorAll("link[rel=stylesheet], link[rel=icon], script[src]");
      active.postMessage([location.href.split("#")[0], ...[...loaded].map((one) => one.href ?? one.src)]);
    } catch {
      // Nothing is kept.
    }
  }

  const box = document.getElementById("drafts");
  if (box) listOrphans(box);
  addEventListener("load", keepPage);

  window.sheetKept = { read, write, clear, follow };
})();
