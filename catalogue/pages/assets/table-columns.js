/*
 * Which columns the table of all units shows: by sets, and one by one.
 */
(function () {
  "use strict";

  const view = window.unitsView;
  const choice = document.getElementById("columns");
  if (!view || !choice) return;
  const list = choice.querySelector("details .controls");

  function show() {
    for (const radio of choice.querySelectorAll("[name=columns]")) radio.checked = !view.chosen && radio.value === view.set;
    if (list.children.length) tick();
  }

  function tick() {
    const shown = new Set(view.columns().map(({ key }) => key));
    for (const box of list.querySelectorAll("input")) box.checked = shown.has(box.value);
  }

  async function fill() {
    const { columns } = await view.load();
    if (!list.children.length) {
      const boxes = columns.map(({ key, heading }) => `<label><input type="checkbox" value="${key}"> ${heading}</label>`);
      list.innerHTML = boxes.join("");
      window.quantities?.within(list);
    }
    tick();
  }

  choice.hidden = false;
  choice.addEventListener("change", ({ target }) => {
    if (target.name === "columns") view.change({ set: target.value, chosen: null });
    else view.change({ chosen: [...list.querySelectorAll(":checked")].map((box) => box.value) });
  });
  choice.querySelector("details").addEventListener("toggle", fill);
  view.heard.push(show);
})();
