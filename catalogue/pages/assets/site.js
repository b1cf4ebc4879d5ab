/*
 * Where things are, for all other scripts, from a server and from file://. It comes in the head of every page, before
 * anything is drawn, and says there that scripts run: what the style sheets hide under .no-js has its room from the start.
 *
 * site.root                          the address of the site's first folder
 * site.page("units/ferngate-f90/")   the address of a page; "?a=b" and "#c" behind it are kept. A server answers a
 *                                    folder with its index.html, file:// does not, so there the file is named
 * site.file("data/units.csv")        the address of a file
 * site.script("data/units.js")       fetches a script once, whoever asks, and promises that it has run: data that
 *                                    assigns itself to a global (file:// allows no fetch), or a library
 * site.copy("text")                  puts the text where it can be pasted from, and promises that it is there
 */
(function () {
  "use strict";

  document.documentElement.classList.replace("no-js", "js");

  const root = new URL("..", document.currentScript.src).href;
  const fetched = new Map();

  function file(path) {
    return new URL(path, root).href;
  }

  function page(path) {
    const url = new URL(path, root);
    if (url.protocol === "file:" && url.pathname.endsWith("/")) url.pathname += "index.html";
    return url.href;
  }

  function script(path) {
    if (!fetched.has(path)) fetched.set(path, fetchScript(file(path)));
    return fetched.get(path);
  }

  function fetchScript(address) {
    return new Promise((resolve, reject) => {
      const element = document.createElement("script");
      element.src = address;
      element.onload = () => resolve();
      element.onerror = () => reject(new Error(`${address} did not load`));
      document.head.append(element);
    });
  }

  async function copy(text) {
    try {
      await navigator.clipboard.writeText(text);
    } catch {
      // Without permission, or from a file: the browser copies what is selected.
      const area = Object.assign(document.createElement("textarea"), { value: text });
      document.body.append(area);
      area.select();
      document.execCommand("copy");
      area.remove();
    }
  }

  window.site = { root, file, page, script, copy };
})();
