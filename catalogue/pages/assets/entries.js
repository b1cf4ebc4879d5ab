/*
 * What forms of this site share: numbers as people type them.
 *
 * entries.number(input, {least, most, what, optional})   the number, null where it may stay empty, NaN where it is wrong;
 *                                                        then the reason stands beside the field
 * entries.wrong(input, words)                            says what is wrong, or with "" that nothing is
 */
(function () {
  "use strict";

  const NUMBER = /^[+−-]?(\d+([.,]\d*)?|[.,]\d+)$/;

  function number(input, { least = 0, most = Infinity, what = "a number", optional = false } = {}) {
    const text = input.value.replace(/[\s\u202f\u00a0]/g, "");
    if (!text && optional) return wrong(input, "") ?? null;
    const value = NUMBER.test(text) ? Number(text.replace(",", ".").replace("−", "-")) : NaN;
    if (Number.isNaN(value)) return wrong(input, `Write ${what}, such as 1.5 or 1,5.`) ?? NaN;
    if (value < least) return wrong(input, `No less than ${String(least).replace("-", "−")}.`) ?? NaN;
    if (value > most) return wrong(input, `No more than ${most}.`) ?? NaN;
    wrong(input, "");
    return value;
  }

  function wrong(input, words) {
    let note = document.getElementById(`${input.id}-wrong`);
    if (!note && !words) return undefined;
    if (!note) {
      note = document.createElement("span");
      note.id = `${input.id}-wrong`;
      note.className = "wrong";
      note.setAttribute("role", "alert");
      input.after(note);
      input.setAttribute("aria-describedby", note.id);
    }
    if (note.textContent !== words) note.textContent = words;
    if (words) input.setAttribute("aria-invalid", "true");
    else input.removeAttribute("aria-invalid");
    return undefined;
  }

  window.entries = { number, wrong };
})();
