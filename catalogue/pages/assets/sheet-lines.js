/*
 * Lines and parts of a bench sheet's form that can be added, and choices that depend on another one.
 *
 * sheetLines.addRow(group, values)   one more line of a test's readings; values by their path
 * sheetLines.addAnother(first)       one more test of this kind
 * sheetLines.fitInverters(form)      leaves the inverters of the chosen bench, and none with a load on direct current
 */
(function () {
  "use strict";

  let added = 0;

  /* Ids of their own for all that was copied, and nothing of what was entered. */
  function renew(scope, end, values = {}) {
    scope.querySelectorAll(".wrong").forEach((one) => one.remove());
    for (const field of scope.querySelectorAll("[data-path]")) {
      const id = `${field.id}-${end}`;
      scope.querySelector(`label[for="${CSS.escape(field.id)}"]`).htmlFor = id;
      scope.querySelector(`.now[data-for="${CSS.escape(field.id)}"]`)?.setAttribute("data-for", id);
      field.id = id;
      field.value = values[field.dataset.path] ?? "";
      field.removeAttribute("aria-invalid");
      field.removeAttribute("aria-describedby");
    }
  }

  function addRow(group, values) {
    const row = group.querySelector("template").content.firstElementChild.cloneNode(true);
    added += 1;
    renew(row, added, values);
    group.querySelector(".add").parentNode.before(row);
    return row;
  }

  function addAnother(first) {
    const all = first.parentNode.querySelectorAll(`[data-kind="${first.dataset.kind}"]`);
    const copy = first.cloneNode(true);
    copy.dataset.test = `${all[0].dataset.test}-${all.length + 1}`;
    copy.querySelectorAll(".another").forEach((one) => one.remove());
    renew(copy, all.length + 1);
    [...all].pop().after(copy);
    return copy;
  }

  function fitInverters(form) {
    const bench = form.querySelector("[data-path=bench]");
    for (const field of form.querySelectorAll("[data-path=inverter]")) {
      const load = field.closest("[data-test]").querySelector("[data-path=load]");
      const isDirect = load.selectedOptions[0]?.dataset.mark === "direct";
      const options = [...field.options].filter((one) => one.value);
      for (const one of options) {
        const isHere = !bench || one.dataset.mark.split(" ").includes(bench.value);
        one.hidden = one.disabled = !isHere;
      }
      const open = options.some((one) => !one.disabled) && !isDirect;
      if (!open || field.selectedOptions[0]?.disabled) field.value = "";
      field.closest(".entry").hidden = !open;
    }
  }

  window.sheetLines = { addRow, addAnother, fitInverters };
})();
