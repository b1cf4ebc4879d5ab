/*
 * Scores and places by any weights: the builder's sums (grade.py, rank.py) on the points that it gave. No page in here.
 *
 * A battery is {id, cap, criteria: {name: {tested, value, ends: [low end, high end, low, high], own, sources}}}: `own` is
 * the standard uncertainty that nothing else shares, `sources` are signed ones by the number of their source.
 */
(function () {
  "use strict";

  const [LOW_END, HIGH_END, LOW, HIGH] = [0, 1, 2, 3];

  /* One battery's score: {value, lowEnd, highEnd, low, high, own (squared), sources, tested}; value null if untested. */
  function score(unit, weights, data) {
    const asked = Object.entries(unit.criteria).filter(([name]) => weights[name] > 0);
    const total = asked.reduce((all, [name]) => all + weights[name], 0);
    if (!total) return { value: null, lowEnd: 0, highEnd: 100, low: 0, high: 100, own: 0, sources: new Map(), tested: 0 };
    const weighed = (of) => asked.reduce((all, [name, one]) => all + weights[name] * of(one), 0);
    const mean = (end) => weighed((one) => one.ends[end]) / total;
    const tested = weighed((one) => one.tested);
    const sources = new Map();
    let own = 0;
    for (const [name, one] of asked) {
      const part = weights[name] / total;
      own += (part * (one.own || 0)) ** 2;
      for (const [source, u] of Object.entries(one.sources || {})) sources.set(source, (sources.get(source) || 0) + part * u);
    }
    const half = data.coverage * Math.hypot(Math.sqrt(own), ...sources.values());
    const [lowEnd, highEnd] = [mean(LOW_END), mean(HIGH_END)];
    const value = tested ? Math.min(weighed((one) => one.tested * (one.value || 0)) / tested, highEnd) : null;
    const low = Math.max(lowEnd - half, mean(LOW));
    const high = Math.min(highEnd + half, mean(HIGH));
    return capped({ value, lowEnd, highEnd, low, high, own, sources, tested: tested / total }, unit.cap);
  }

  /* A capped score no longer moves with an instrument's error, and must not cancel one in a difference. */
  function capped(found, cap) {
    if (cap === null || found.high <= cap) return found;
    const low = Math.min(found.low, cap);
    const value = found.value === null ? null : Math.min(found.value, cap);
    return { ...found, value, lowEnd: low, highEnd: cap, low, high: cap, own: 0, sources: new Map() };
  }

  const isGraded = (found, data) => found.value !== null && found.tested >= data.least - 1e-12;

  /* Places of scores: {low, high, of} each, by Holm's step-down over each battery's own comparisons (rank.py). */
  function places(scores, data) {
    const count = scores.length;
    const { own, shared } = split(scores);
    return scores.map((mine, i) => {
      const better = [], worse = [], either = [];
      scores.forEach((other, j) => {
        const u = i === j ? 0 : uncertainty(own[i] + own[j], shared[i], shared[j]);
        better.push(inU(other.lowEnd - mine.highEnd, u, data.tie));
        worse.push(inU(mine.lowEnd - other.highEnd, u, data.tie));
        either.push(Math.max(better[j], worse[j]));
      });
      either.sort((a, b) => b - a);
      let passed = 0;
      while (passed < count - 1 && either[passed] > data.z[count - 2 - passed]) passed += 1;
      if (!passed) return { low: 1, high: count, of: count };
      const significant = (many) => many.filter((one) => one >= either[passed - 1]).length;
      return { low: 1 + significant(better), high: count - significant(worse), of: count };
    });
  }

  /* Sources that two scores share stay apart, as rows of numbers; all others count by their squares. */
  function split(scores) {
    const met = new Map();
    for (const { sources } of scores) for (const name of sources.keys()) met.set(name, (met.get(name) || 0) + 1);
    const names = [...met.keys()].filter((name) => met.get(name) > 1);
    const own = scores.map((one) => {
      const alone = [...one.sources].filter(([name]) => met.get(name) === 1);
      return alone.reduce((all, [, u]) => all + u ** 2, one.own);
    });
    return { own, shared: scores.map((one) => Float64Array.from(names, (name) => one.sources.get(name) || 0)) };
  }

  function uncertainty(own, a, b) {
    let squared = own;
    for (let i = 0; i < a.length; i += 1) squared += (a[i] - b[i]) ** 2;
    return Math.sqrt(squared);
  }

  /* A gap in standard uncertainties of the difference; infinite where that has none. */
  function inU(gap, u, tie) {
    if (gap <= tie) return 0;
    return u > 0 ? gap / u : Infinity;
  }

  /* Every battery with its score by these weights, and its place among the graded ones (null without a grade). */
  function ranking(data, weights) {
    const all = data.units.map((unit) => ({ unit, score: score(unit, weights, data), place: null }));
    const graded = all.filter((one) => isGraded(one.score, data));
    places(graded.map((one) => one.score), data).forEach((place, i) => (graded[i].place = place));
    return all;
  }

  window.weightsSums = { ranking };
})();
