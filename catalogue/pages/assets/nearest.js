/* On the page for addresses that lead nowhere: links to the batteries whose address differs by the fewest letters. */
(function () {
  "use strict";

  const SHOWN = 3;

  /* Letters to add, drop or change to turn one word into the other: Levenshtein's distance (1966), row by row. */
  function distance(a, b) {
    let row = Array.from({ length: b.length + 1 }, (_, j) => j);
    for (let i = 1; i <= a.length; i += 1) {
      const next = [i];
      for (let j = 1; j <= b.length; j += 1) {
        next[j] = Math.min(row[j] + 1, next[j - 1] + 1, row[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
      }
      row = next;
    }
    return row[b.length];
  }

  function nearest(asked, entries) {
    return entries
      .filter(([address]) => address.startsWith("units/"))
      .map(([address, name]) => ({ address, name, off: distance(asked, address.split("/")[1]) }))
      .filter(({ address, off }) => off <= address.length / 2)
      .sort((a, b) => a.off - b.off)
      .slice(0, SHOWN);
  }

  const place = document.getElementById("nearest");
  const asked = location.pathname.replace(/\/(index\.html)?$/, "").split("/").pop().toLowerCase();
  window.site.script("assets/search-index.js").then(() => {
    const found = nearest(asked.slice(0, 80), window.searchIndex);
    if (!found.length) return;
    place.textContent = place.dataset.words;
    found.forEach(({ address, name }, i) => {
      const link = document.createElement("a");
      link.href = window.site.page(address);
      link.textContent = name;
      place.append(i ? ", " : "", link);
    });
  });
})();
