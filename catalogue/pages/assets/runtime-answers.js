/*
 * The answers of the page of running times: for each battery whether it starts, on what evidence, for how long, and how
 * many it takes. The form (runtime.js) says what was entered, the sums (runtime-sums.js) work it out, runtime-words.js
 * says it; this orders and draws it.
 */
(function () {
  "use strict";

  const $ = (id) => document.getElementById(id);
  const DRAWN = 100; // more are worked out, but drawn only when asked for
  const ORDER = ["starts", "borderline", "not known", "cut off", "will not"];
  const MANY = ["to start it", "borderline", "not known", "to cut off once it is on", "not to start it"];

  let limit = DRAWN;

  const { countWords, element, hoursWords, isCutOff, link, plain, startWords, temperature } = window.runtimeWords;
  const { isSteady } = window.runtimeSums;

  /* Beyond the temperatures that anything is projected for, only what was seen on the same side of them counts. */
  function seenThere(run, warmth, rules) {
    if (isSteady(warmth, rules)) return true;
    const seen = run[4];
    return seen !== null && (warmth < rules.steady_c[0] ? seen < rules.steady_c[0] && seen <= warmth : seen >= warmth);
  }

  /* Why there is no inverter: the bench has none, or the visitor's choice is for another voltage. */
  function inverterWords(unit, { chosen }) {
    if (chosen) return ["the inverter is not for its voltage", "no such inverter for its voltage, choose another"];
    const none = unit.bench_inverters ? "its bench has no inverter for its voltage" : "its bench has no inverter";
    return [none, `${none}: choose one`];
  }

  function answerOf(unit, asked, { rules }) {
    const { uses, warmth, idleOfDay, wanted, per } = asked;
    const sums = window.runtimeSums;
    const chain = asked.chainFor(unit);
    const steady = isSteady(warmth, rules);
    const partly = per === "d" || idleOfDay < 1 || uses.some((use) => use.ofDay < 1);
    const kept = { ...unit, seen: unit.seen.filter((run) => seenThere(run, warmth, rules)) };
    const start = sums.start(kept, uses, chain, rules);
    const lasting = sums.lasting(kept, uses, chain, rules);
    const always = uses.map((use) => ({ ...use, ofDay: 1 }));
    const together = (count) => sums.hours(unit, always, chain, rules, count, 1, warmth);
    const byDay = (count) => inDays(sums.hours(unit, uses, chain, rules, count, idleOfDay, warmth));
    const runs = sums.seenOf(kept, start.alone ? [start.alone] : uses.map((use) => use.id));
    if (!steady && !start.seen) Object.assign(start, { word: "not known", cold: true });
    if (!steady && !lasting.seen) lasting.word = "not known";
    const lasts = per === "d" ? byDay : together;
    const unfit = start.seen ? "" : sums.unfit(unit, uses, rules);
    const noInverter = !chain && uses.some((use) => use.mains) ? inverterWords(unit, asked) : "";
    const found = { unit, start, lasting, runs, steady, unfit, noInverter };
    if (!steady) return { ...found, ...seenAnswer(found, asked, chain, rules) };
    const isOpen = (many) => sums.lasting(kept, uses, chain, rules, many).word === "borderline";
    const starting = (many) => (isOpen(many) ? "borderline" : sums.start(kept, uses, chain, rules, many).word);
    const count = sums.needed(unit, starting, lasts, wanted);
    return { ...found, hours: together(1), days: partly ? byDay(1) : null, count };
  }

  /* Where nothing is projected: a whole charge that was seen near that temperature, and how many would last so long. */
  function seenAnswer({ unit, start, lasting, runs }, { uses, warmth, idleOfDay, wanted, per }, chain, rules) {
    const same = !uses.some((use) => use.mains) || (chain && chain.name === unit.inverter);
    const hours = start.seen && same ? window.runtimeSums.seenHours(runs, warmth, rules) : {};
    const allOn = per === "h" || (idleOfDay === 1 && uses.every((use) => use.ofDay === 1));
    if (hours.value === undefined || !allOn) return { hours, days: null, count: null };
    // Each of several gives its share for as long as one would give all of it, times their number.
    const lasts = (many) => ({ value: hours.value * many, u: hours.u * many });
    const word = lasting.word === "borderline" ? lasting.word : start.word;
    const count = window.runtimeSums.needed(unit, () => word, (many) => (per === "d" ? inDays(lasts(many)) : lasts(many)), wanted);
    return { hours, days: null, count };
  }

  const inDays = (hours) => (hours.value === undefined ? hours : { ...hours, value: hours.value / 24, u: hours.u / 24 });

  function outside(warmth, { steady_c }) {
    if (isSteady(warmth, { steady_c })) return "";
    const [low, high] = steady_c.map(temperature);
    return ` At ${temperature(warmth)} only what was seen there is told: anything else is projected from ${low} to ${high} alone.`;
  }

  function barOf(answer, longest) {
    const bar = element("span", "dot-bar");
    const { value, u, bound } = answer.hours;
    if (answer.start.word === "will not" || value === undefined) return "";
    const ends = { v: value, low: value - u, high: bound === "at_least" ? longest : value + u };
    for (const [name, hours] of Object.entries(ends)) bar.style.setProperty(`--${name}`, ((100 * hours) / longest).toFixed(2));
    bar.classList.toggle("open", bound !== "exact");
    return bar;
  }

  function line(answer, asked, longest, rules) {
    const name = element("p", "name", link(answer.unit, "#runs", answer.unit.name));
    const time = element("div", "", barOf(answer, longest), hoursWords(answer, rules));
    return element("li", "", name, startWords(answer), time, countWords(answer, asked));
  }

  const hoursOf = ({ hours, start }) => (hours.value === undefined || start.word === "will not" ? 0 : hours.value + hours.u);

  const kindOf = (one) => (isCutOff(one) ? "cut off" : one.start.word);

  function inOrder(a, b) {
    const place = (one) => (one.unfit ? ORDER.length : ORDER.indexOf(kindOf(one)));
    return place(a) - place(b) || hoursOf(b) - hoursOf(a) || a.unit.name.localeCompare(b.unit.name, "en");
  }

  /* Those of the loads; the page holds those of several batteries and of large currents. */
  function cautions(uses, answers, rules) {
    $("parallel").hidden = !answers.some(({ unfit, count }) => !unfit && count && count.count !== 1);
    $("large").hidden = !answers.some(({ unit, unfit }) => !unfit && leastCurrent(unit, uses) >= rules.large_a);
    const said = uses.filter((use) => use.caution);
    $("cautions").replaceChildren(
      ...said.map((use) => element("div", "warning", element("p", "", element("strong", "", `Caution, ${use.title}.`), ` ${use.caution}`)))
    );
  }

  /* Of all batteries together, the one that draws most at its start starting last, without the inverter's losses. [A] */
  function leastCurrent(unit, uses) {
    const more = uses.map(({ w, start }) => Math.max(start ? start[0] - w[0] : 0, 0));
    return (uses.reduce((all, use) => all + use.w[0], 0) + Math.max(...more)) / unit.volts;
  }

  /* What an inverter of the bench cannot give for long */
  function tooMuch(asked) {
    const ac = asked.uses.filter((use) => use.mains).reduce((all, use) => all + use.w[0], 0);
    const names = new Set();
    for (const unit of asked.units) {
      const chain = asked.chainFor(unit);
      if (chain && chain.continuous_w && ac > chain.continuous_w) names.add(chain.title);
    }
    return names.size ? ` All at once is ${plain(ac, "W")}, more than this gives for long: ${[...names].join("; ")}.` : "";
  }

  function counted(answers) {
    const fitting = answers.filter((one) => !one.unfit);
    const said = ORDER.map((word, i) => [fitting.filter((one) => kindOf(one) === word).length, MANY[i]]);
    said.push([answers.length - fitting.length, "of another voltage"]);
    return said.filter(([count]) => count).map(([count, words]) => `${count} ${words}`).join(", ");
  }

  function show(asked, data) {
    const left = asked?.left ? `${asked.left} ` : "";
    if (!asked || !asked.uses.length) {
      $("answers").replaceChildren();
      $("more-answers").hidden = $("legend").hidden = true;
      $("summary").textContent = asked ? `${left}Nothing chosen yet: add what has to run.` : "Mend the entry that is marked: until then there is no answer.";
      cautions([], [], data.rules);
      return;
    }
    const [kind, value] = asked.which.split("=");
    asked.units = data.units.filter((unit) => !kind || (kind === "class" ? unit.class === value : unit.id === value));
    const answers = asked.units.map((unit) => answerOf(unit, asked, data)).sort(inOrder);
    const longest = Math.max(...answers.map(hoursOf), 1e-9);
    cautions(asked.uses, answers, data.rules);
    $("legend").querySelector("span").textContent = plain(longest, "h");
    $("legend").hidden = !answers.some((one) => hoursOf(one));
    $("summary").textContent = `${left}${answers.length === 1 ? "One battery" : `${answers.length} batteries`}: ${counted(answers)}.${outside(asked.warmth, data.rules)}${tooMuch(asked)}`;
    $("answers").replaceChildren(...answers.slice(0, limit).map((answer) => line(answer, asked, longest, data.rules)));
    $("more-answers").hidden = answers.length <= limit;
    $("more-answers").firstElementChild.textContent = `Show all ${answers.length}`;
    $("more-answers").firstElementChild.onclick = () => {
      limit = Infinity;
      show(asked, data);
    };
  }

  window.runtimeForm(show);
})();
