/* On the page of an address that a battery had before: goes on to the new one, with what followed the old. */
(function () {
  "use strict";
  const there = document.querySelector("a[data-moved]");
  location.replace(there.href + location.search + location.hash);
})();
