/*
 * The address of a page holds what was entered there, so that a link brings the same view: behind "?"; from file://, where
 * a page may change no more than what follows "#", behind that. Links to sections then keep their usual meaning.
 *
 * address.read()            what the address asks for; what stands behind "#" goes before, as long as it holds a "="
 * address.write(values)     keeps them there, without a new entry in the browser's history
 * address.heard(follow)     calls it whenever somebody comes to another such address without leaving the page
 * address.units(text, names, {moved, without}, most)
 *                           of batteries in an address, "a,b": {ids, left, said}: those of `names` (id → name) by their
 *                           present ids, each once; the others; what to say of these. moved leads from former to present
 *                           ids, without has words for batteries that have no results here (pages/asked_units.py)
 */
(function () {
  "use strict";

  const isFile = location.protocol === "file:";
  const NAME = /^[a-z0-9-]{1,60}$/i;

  const holds = (hash) => hash.includes("=");
  const written = (values) => String(values).replaceAll("%2C", ",");
  let last = written(read());

  function read() {
    return new URLSearchParams(holds(location.hash) ? location.hash.replace(/^#\??/, "") : location.search);
  }

  function write(values) {
    last = written(values);
    const [query, section] = [last && `?${last}`, holds(location.hash) ? "" : location.hash];
    if (!isFile) history.replaceState(null, "", location.pathname + query + section);
    else if (location.search) location.replace(`${location.pathname}#${last}`); // one new start, without what stood behind "?"
    else history.replaceState(null, "", `#${last}`);
  }

  function heard(follow) {
    const hear = () => {
      // From file:// a link to a section took the place of what was entered: that is put back, the page stays there.
      if (isFile && location.hash.length > 1 && !holds(location.hash)) write(last);
      else if (written(read()) !== last) follow();
    };
    addEventListener("hashchange", hear);
    addEventListener("popstate", hear); // back to an address that differs behind "?"
  }

  function units(text, names, { moved, without }, most) {
    const present = (id) => (Object.hasOwn(moved, id) ? moved[id] : id);
    const asked = [...new Set((text ?? "").split(",").filter(Boolean).map(present))];
    const ids = asked.filter((id) => names.has(id)).slice(0, most);
    const left = asked.filter((id) => !ids.includes(id));
    return { ids, left, said: left.map((id) => whyLeft(id, names, without, most)).join(" ") };
  }

  /* An address may say anything: what is no name of a battery is not repeated. */
  function whyLeft(id, names, without, most) {
    if (names.has(id)) return `${names.get(id)}: left out, no more than ${most} here.`;
    if (Object.hasOwn(without, id)) return `${without[id]}.`;
    return `${NAME.test(id) ? id : "What the address names"}: no battery with results of that name here.`;
  }

  window.address = { read, write, heard, units };
})();
