/*
 * The words of the page of running times: whether a battery starts and carries it, on what evidence, for how long, how many
 * it takes. runtime-answers.js hands each answer on; pages/start_words.py says the same on other pages.
 */
(function () {
  "use strict";

  const THIN = "\u202f";
  const WORDS = { starts: "Starts", borderline: "Borderline", "not known": "Not known", "will not": "Will not start" };

  function element(tag, className, ...children) {
    const one = document.createElement(tag);
    if (className) one.className = className;
    one.append(...children);
    return one;
  }

  const plain = (value, unit) => window.measured.shown(value, 0, unit);

  function link(unit, anchor, words) {
    const one = element("a", "", words);
    one.href = window.site.page(`units/${unit.id}/${anchor}`);
    return one;
  }

  const temperature = (celsius) => (window.quantities ? window.quantities.show(celsius, "°C") : `${celsius}${THIN}°C`);

  function amount({ value, u, bound }, unit) {
    const { shown, atLeast } = window.measured;
    if (bound === "at_least") return atLeast(value - u, u, unit);
    if (bound === "at_most") return `at most ${plain(value + u, unit)}`;
    return bound === "between" ? `between ${plain(value - u, unit)} and ${plain(value + u, unit)}` : shown(value, u, unit);
  }

  /* Whether the battery ends it, should it start */
  const isCutOff = ({ start, lasting }) => lasting.word === "cut off" && start.word !== "will not";

  function startWords(answer) {
    const { unit, start, lasting, runs, unfit } = answer;
    if (unfit) return element("p", "", element("b", "", "Does not run on it"), `: ${unfit}.`);
    const line = element("p", "", element("b", "", WORDS[start.word]));
    if (isCutOff(answer) && lasting.tripped) line.append(", then ", step(unit, lasting.tripped));
    if (start.seen) return withRuns(line, ": seen, ", unit, runs);
    const { held, tripped, peak, duration } = start;
    if (start.word === "not known") line.append(...unknown(answer), ".");
    else if (!duration) line.append(": more than its voltage gives at its ", link(unit, "#idle", "resistance"), ".");
    else {
      const said = sides(unit, start.word === "will not" ? null : held, start.word === "starts" ? null : tripped);
      line.append(": ", ...said, `; it takes about ${plain(peak, "A")} for ${plain(duration, "s")}.`);
    }
    return line;
  }

  /* Why nobody knows whether it starts, with the largest current that was tried */
  function unknown({ unit, start, noInverter }) {
    if (start.cold || (!start.peak && !noInverter)) return [];
    const steps = window.runtimeSums.stepsOf(unit);
    const most = steps.length && steps.reduce((a, b) => (b.value > a.value ? b : a));
    const tried = most ? step(unit, most) : link(unit, "#carries", "what it carries was not tested");
    return noInverter ? [`: ${noInverter[0]}; `, tried] : [": ", tried];
  }

  const current = (one) => one.words || amount(one, "A");

  /* What one step showed, whatever the time: a link to its test */
  function step(unit, one) {
    const words = one.didTrip ? `cut off at ${current(one)} after ${one.time}` : `carried ${current(one)} for ${one.time}`;
    return link(unit, `#test-${one.test}`, words);
  }

  /* The steps on either side, each a link to its test */
  function sides(unit, held, tripped) {
    const said = [];
    if (held) said.push(link(unit, `#test-${held.test}`, `carried ${current(held)} that long`));
    if (held && tripped) said.push(", ");
    if (tripped) said.push(link(unit, `#test-${tripped.test}`, `cut off at ${current(tripped)} no later`));
    return said.length ? said : [link(unit, "#carries", "no current near it was tried for so long")];
  }

  function withRuns(line, before, unit, runs) {
    line.append(before);
    runs.forEach(([test, , words], i) => line.append(i ? "; " : "", link(unit, `#test-${test}`, words)));
    line.append(".");
    return line;
  }

  function hoursWords(answer, rules) {
    const { unit, start, lasting, runs, steady, unfit, hours, days, noInverter } = answer;
    if (unfit) return "";
    if (start.word === "will not") return element("p", "quiet", "Would not start.");
    const seen = runs.length && !start.seen ? withRuns(element("p"), "Seen: ", unit, runs) : "";
    if (isCutOff(answer)) return element("div", "", element("p", "quiet", ...cutWords(unit, lasting)), seen);
    if (!steady) return element("div", "", hours.run ? seenLine(unit, hours.run) : element("p", "quiet", "Hours not known."), seen);
    const why = hours.noInverter ? noInverter[1] : hours.why;
    if (hours.value === undefined) return element("div", "", element("p", "quiet", whyNot(why, hours.rate, rules)), seen);
    const line = element("p", "", element("b", "", amount(hours, "h")), " with all of it on, projected");
    const byDay = days && days.value !== undefined ? element("p", "", `${amount(days, "days")} by the hours a day`) : "";
    return element("div", "", line, byDay, lasting.word === "borderline" ? openWords(unit, lasting) : "", seen);
  }

  function cutWords(unit, { current: steady, run }) {
    if (!run) return [`No hours: cut off while it is on, which takes about ${plain(steady, "A")}.`];
    return ["No hours: ", link(unit, `#test-${run[0]}`, "cut off when it was tried"), "."];
  }

  /* Between what was carried for long and what was cut off, or seen to go either way */
  function openWords(unit, { current: steady, held, tripped }) {
    const line = element("p", "", "Whether it is cut off before that is not known: ");
    if (!tripped) line.append("its runs differ.");
    else line.append(...(held ? [step(unit, held), ", "] : []), step(unit, tripped), `; it takes about ${plain(steady, "A")} while it is on.`);
    return line;
  }

  function seenLine(unit, [test, , words, , celsius]) {
    const there = link(unit, `#test-${test}`, `seen at ${temperature(celsius)}`);
    return element("p", "", element("b", "", words.replace("ran ", "")), " ", there, ", of one whole charge");
  }

  function whyNot(why, rate, rules) {
    if (why) return `Hours not known: ${why}.`;
    return `Not projected: all at once takes about ${Number(rate.toPrecision(2))} of its capacity per hour, beyond ${rules.highest_it}.`;
  }

  /* What several are for, where no time was asked: what one is sure of is left out. */
  function enoughFor({ start, lasting }) {
    if (["cut off", "borderline"].includes(lasting.word)) return "to carry it for sure and to be projected";
    return start.word === "starts" ? "to be projected" : "to start it for sure and to be projected";
  }

  function countWords(answer, { wanted, per }) {
    const { unit, start, unfit, hours, count } = answer;
    if (unfit) return "";
    if (!count) return element("p", "quiet", "How many: not known.");
    const lasts = wanted ? `to start it and last ${plain(wanted, per === "d" ? "days" : "h")}` : enoughFor(answer);
    if (count.count === 1) return element("p", "", wanted ? `One is enough ${lasts}.` : "One is enough.");
    if (count.count) return element("p", "", `${count.count} `, joined(), ` ${lasts}; its label allows ${unit.parallel}.`);
    if (start.word === "not known" || hours.why || hours.noInverter) return element("p", "quiet", "How many: not known.");
    if (!unit.parallel) return element("p", "", `More than one ${lasts}; its label does not say whether that is allowed.`);
    if (unit.parallel === 1) return element("p", "", `More than one ${lasts}; its label allows none in parallel.`);
    return element("p", "", `More than the ${unit.parallel} `, joined(), ` that its label allows, ${lasts}.`);
  }

  function joined() {
    const one = element("a", "", "in parallel");
    one.href = window.site.page("cautions/#parallel");
    return one;
  }

  window.runtimeWords = { countWords, element, hoursWords, isCutOff, link, plain, startWords, temperature };
})();
