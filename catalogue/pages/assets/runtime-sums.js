/*
 * How long batteries run several loads, whether those start, and how many batteries it takes: the builder's sums
 * (derive/runtime.py, derive/answers.py, derive/overload.py) on the builder's numbers. Nothing of a page is in here.
 *
 * A use is a load: {id, w: [W, ±], start: [W, s], duty: [share, ±], mains, volts, ofDay}. A chain is an inverter:
 * {name, idle_w, off_w, slope, square, u, cut_off_v}. `rules` and the batteries come from the data that the builder writes.
 */
(function () {
  "use strict";

  const total = (many) => many.reduce((all, one) => all + one, 0);
  const isMains = (use) => use.mains;
  const watts = (use) => use.w[0];
  const share = (use) => use.ofDay * (use.duty ? use.duty[0] : 1);

  /* Uncertainty. A source is [u, limit, degrees of freedom], as in measured.js; what is usual may be absent. */

  const rectangular = (halfWidth) => [halfWidth / Math.sqrt(3), Math.abs(halfWidth)];
  const scaled = ([u, limit, dof], factor) => [u * factor, limit == null ? null : Math.abs(factor) * limit, dof ?? null];

  /* Sources as they arrive in a quotient: an inverter's error in energy and power is one error, and may cancel. */
  function arrived(...many) {
    const sources = {};
    for (const [from, factor] of many) {
      for (const [name, one] of Object.entries(from)) {
        const [u, limit, dof] = scaled(one, factor);
        sources[name] = name in sources ? [sources[name][0] + u] : [u, limit, dof];
      }
    }
    return Object.fromEntries(Object.entries(sources).filter(([, one]) => one[0]));
  }

  /* Power at the battery */

  const throughChain = (chain, ac) => chain.idle_w + chain.slope * ac + chain.square * ac ** 2;

  function onPower(uses, chain, wattsOf = watts) {
    const direct = total(uses.filter((use) => !use.mains).map(wattsOf));
    return uses.some(isMains) ? direct + throughChain(chain, total(uses.filter(isMains).map(wattsOf))) : direct;
  }

  /* What is open of a load's power and duty; `beside` is what one watt more of it costs all loads. */
  function openOf(use, perW, beside, wokenW = 0) {
    return {
      [`load:${use.id}/power`]: scaled(rectangular(use.w[1]), share(use) * perW + beside),
      [`load:${use.id}/duty`]: scaled(rectangular(use.duty ? use.duty[1] : 0), (use.w[0] * perW + wokenW) * use.ofDay),
    };
  }

  function meanPower(uses, chain, idleOfDay) {
    const mean = (use) => use.w[0] * share(use);
    const direct = uses.filter((use) => !use.mains);
    const behind = uses.filter(isMains);
    const power = { value: total(direct.map(mean)), sources: Object.assign({}, ...direct.map((use) => openOf(use, 1, 0))) };
    if (behind.length) {
      const meanAc = total(behind.map(mean));
      const perW = chain.slope + chain.square * total(behind.map(watts));
      const busy = total(behind.map(share)); // as if never two ran at once: then a standby mode saves least
      const awake = Math.min(busy, idleOfDay);
      const through = chain.idle_w * awake + chain.off_w * (idleOfDay - awake) + perW * meanAc;
      const wokenW = busy < idleOfDay ? chain.idle_w - chain.off_w : 0;
      for (const use of behind) Object.assign(power.sources, openOf(use, perW, chain.square * meanAc, wokenW));
      power.sources[`chain:${chain.name}`] = [chain.u * through];
      power.value += through;
    }
    return power;
  }

  const isSteady = (celsius, { steady_c }) => celsius >= steady_c[0] && celsius <= steady_c[1];
  const testedAt = ({ tested_c }, { steady_c }) => (tested_c === null ? steady_c : [tested_c]);

  /* Energy at another rate and warmth (null: as warm as in its test), above the inverter's cut-off */
  function energyAt(supply, rate, cutOff, rules, warmth) {
    const from = Math.max(supply.rate_it, rules.lowest_it);
    const above = supply.above[cutOff] ?? 1;
    const ratio = Math.abs(from - rate) <= 1e-9 * Math.max(from, rate) ? 0 : Math.log(from / rate);
    const factor = Math.exp((ratio * rules.excess) / 2);
    const value = supply.wh * factor;
    const own = { chemistry: scaled(rectangular(rules.excess / 2), value * ratio), own: [rules.own_u * value * ratio] };
    if (warmth !== null) {
      const away = Math.max(...testedAt(supply, rules).map((tested) => Math.abs(warmth - tested)));
      own.temperature = rectangular(((rules.per_10_k * away) / 10) * value);
    }
    return { value: value * above, sources: arrived([supply.sources, factor * above], [own, above]) };
  }

  const sameVoltage = (madeFor, volts, rules) => Math.abs(madeFor - volts) <= rules.same_voltage * madeFor;

  function unfit(unit, uses, rules) {
    const other = uses.find((use) => !use.mains && !use.volts.some((volts) => sameVoltage(volts, unit.volts, rules)));
    return other ? `${other.title}: made for ${other.volts.join(" or ")}\u202fV` : "";
  }

  /*
   * Hours of everything together on one charge: {value, u, bound}; {why} in words, {noInverter}, {cut} by the battery, or
   * {rate} beyond what projections reach.
   */
  function hours(unit, uses, chain, rules, batteries = 1, idleOfDay = 1, warmth = null) {
    const mains = uses.some(isMains);
    const other = unfit(unit, uses, rules);
    if (other) return { why: other };
    if (!unit.supply) return { why: "its energy was not measured" };
    if (mains && !chain) return { noInverter: true };
    if (!unit.lfp) return { why: "for this chemistry only what was measured at that rate is shown" };
    const { supply } = unit;
    if (supply.rate_it > rules.highest_it) return { why: "its energy was measured at a faster rate than projections reach" };
    if (lasting(unit, uses, chain, rules, batteries).word === "cut off") return { cut: true };
    const rate = onPower(uses, chain) / batteries / supply.mean_v / supply.ah;
    if (rate > rules.highest_it) return { rate };
    if (warmth !== null && !isSteady(warmth, rules)) return {};
    const energy = energyAt(supply, Math.max(rate, rules.lowest_it), mains ? chain.cut_off_v : null, rules, warmth);
    const mean = meanPower(uses, chain, idleOfDay);
    const value = (energy.value * batteries) / mean.value;
    const sources = arrived([energy.sources, batteries / mean.value], [mean.sources, -value / mean.value]);
    const opened = warmth !== null && !testedAt(supply, rules).every((tested) => isSteady(tested, rules));
    const bound = opened ? "at_least" : supply.bound;
    const slower = rate < rules.lowest_it && bound === "exact" && supply.rate_it > rate;
    return { value, u: window.measured.expanded({ components: sources }), bound: slower ? "at_least" : bound, rate };
  }

  /* Starts */

  function currentAtPower(power, unit) {
    if (unit.milliohm <= 0) return power / unit.open_v;
    const ohm = unit.milliohm / 1000;
    const inside = unit.open_v ** 2 - 4 * ohm * power;
    return inside < 0 ? Infinity : (unit.open_v - Math.sqrt(inside)) / (2 * ohm);
  }

  function peakCurrent(unit, uses, starting, chain, batteries) {
    const atStart = (use) => (use === uses[starting] && use.start ? Math.max(use.w[0], use.start[0]) : use.w[0]);
    return currentAtPower(onPower(uses, chain, atStart) / batteries, unit);
  }

  const least = (many) => many.reduce((a, b) => (a && a.value <= b.value ? a : b), null);

  function stepsOf(unit) {
    return unit.points.map(([test, value, u, bound, didTrip, shortest, longest, words, time]) => ({
      test, value, u, bound, didTrip, shortest, words, time,
      longest: longest < 0 ? Infinity : longest,
      low: bound === "at_most" ? -Infinity : value - u,
      high: bound === "at_least" ? Infinity : value + u,
    }));
  }

  /* What the steps of this battery say of a current for so long, with the steps on either side that say it. */
  function startsAt(unit, peak, duration) {
    const points = stepsOf(unit);
    if (!points.length) return { word: "not known", peak };
    const tripped = least(points.filter((one) => one.didTrip && one.longest <= duration && one.bound !== "at_least"));
    const holds = points.filter((one) => one.shortest >= duration && one.bound !== "at_most");
    const below = holds.filter((one) => !tripped || one.value < tripped.value).sort((a, b) => b.value - a.value);
    const answer = { peak, duration, held: below[0], tripped };
    const held = holds.filter((one) => one.low >= peak);
    if (tripped && tripped.high <= peak) return { ...answer, word: held.length ? "borderline" : "will not" };
    const sure = least(held.filter((one) => !tripped || one.value < tripped.value));
    return sure ? { ...answer, word: "starts", held: sure } : { ...answer, word: "borderline" };
  }

  /* What was seen of exactly these loads together on this battery. */
  function seenOf(unit, ids) {
    const wanted = [...ids].sort().join();
    return unit.seen.filter(([, loads]) => [...new Set(loads)].sort().join() === wanted);
  }

  const seenWords = (unit, ids) => new Set(seenOf(unit, ids).map((run) => run[3]).filter(Boolean));

  function start(unit, uses, chain, rules, batteries = 1) {
    const ids = uses.map((use) => use.id);
    if (batteries === 1) {
      const seen = seenWords(unit, ids);
      if (seen.size) return { word: seen.size > 1 ? "borderline" : [...seen][0], seen: true };
      const alone = ids.find((id) => [...seenWords(unit, [id])].join() === "will not");
      if (alone) return { word: "will not", seen: true, alone };
    }
    if (unfit(unit, uses, rules) || (uses.some(isMains) && !chain)) return { word: "not known" };
    const each = uses.map((use, i) => {
      const peak = peakCurrent(unit, uses, i, chain, batteries);
      return isFinite(peak) ? startsAt(unit, peak, use.start ? use.start[1] : 1) : { word: "will not", peak };
    });
    const word = rules.worst_first.find((one) => each.some((answer) => answer.word === one));
    const fitting = each.filter((answer) => answer.word === word);
    return fitting.reduce((most, answer) => ((answer.peak || 0) > (most.peak || 0) ? answer : most));
  }

  /* What they say of a current for as long as the charge lasts; what a whole discharge gave was carried. */
  function lastsAt(unit, current, { lasting_s }) {
    const points = stepsOf(unit);
    const tripped = least(points.filter((one) => one.didTrip && one.bound !== "at_least"));
    if (!tripped) return { word: "lasts", current };
    const long = points.filter((one) => !one.didTrip && one.shortest >= lasting_s && one.bound !== "at_most");
    const below = long.filter((one) => one.value < tripped.value);
    const held = below.reduce((a, b) => (a && a.value >= b.value ? a : b), null);
    const answer = { current, held, tripped };
    const discharged = unit.supply && unit.supply.rate_it * unit.supply.ah >= current;
    const carries = (many) => discharged || many.some((one) => one.low >= current);
    if (tripped.high <= current) return { ...answer, word: carries(long) ? "borderline" : "cut off" };
    return { ...answer, word: carries(below) ? "lasts" : "borderline" };
  }

  /* Whether it runs on, all of it on at once: {word: lasts, cut off, borderline or not known}; `run` was seen to be cut off. */
  function lasting(unit, uses, chain, rules, batteries = 1) {
    const ids = uses.map((use) => use.id);
    const runsOf = (some) => seenOf(unit, some).filter((run) => run[6]);
    const wordsOf = (runs) => [...new Set(runs.map((run) => run[6]))];
    const isCut = (runs) => wordsOf(runs).join() === "cut off";
    const seen = batteries === 1 ? runsOf(ids) : [];
    const words = wordsOf(seen);
    if (words.includes("cut off")) return { word: isCut(seen) ? "cut off" : "borderline", seen: true, run: seen[0] };
    if (words.includes("lasts")) return { word: "lasts", seen: true };
    const alone = batteries === 1 && ids.map((id) => runsOf([id])).find(isCut);
    if (alone) return { word: "cut off", seen: true, run: alone[0] };
    if (unfit(unit, uses, rules) || (uses.some(isMains) && !chain)) return { word: "not known" };
    const current = currentAtPower(onPower(uses, chain) / batteries, unit);
    if (!isFinite(current)) return { word: "not known" };
    const answer = lastsAt(unit, current, rules);
    return answer.word === "cut off" && seen.length ? { ...answer, word: "borderline" } : answer;
  }

  /* Hours of one whole charge that were seen nearest to this temperature, with the run that says so. */
  function seenHours(runs, warmth, rules) {
    const away = (run) => Math.abs(run[4] - warmth);
    const near = runs.filter((run) => run[3] && run[5] && run[4] !== null && away(run) <= rules.near_k);
    if (!near.length) return {};
    const run = near.reduce((a, b) => (away(b) < away(a) ? b : a));
    const [value, u, bound] = run[5];
    return { value, u, bound, run };
  }

  const lowest = ({ value, u }) => (value === undefined ? -Infinity : value - u); // -Infinity where nobody knows

  /*
   * How many of these batteries in parallel start it and last as long as wanted, sharing evenly; never more than the
   * label allows. `starting(batteries)` says whether they start it, `lasts(batteries)` gives the hours or days that are
   * wanted. {count}, or {beyond: how many were tried}.
   */
  function needed(unit, starting, lasts, wanted) {
    const allowed = Math.max(unit.parallel || 1, 1);
    for (let count = 1; count <= allowed; count += 1) {
      if (starting(count) === "starts" && lowest(lasts(count)) >= (wanted || 0)) return { count };
    }
    return { beyond: allowed };
  }

  window.runtimeSums = { hours, isSteady, lasting, lowest, needed, sameVoltage, seenHours, seenOf, start, stepsOf, unfit };
})();
