/** Levels and numbers of guitars that the page computes, for any settings. */
function guitarLevels(data, state) {
  const model = makeModel(data.model);
  const GRID = 601;
  const { treble, band } = data.told;
  const COUNT = 1 + data.named.length; // of what the numbers need
  const TOLD = [data.reference, ...data.named, treble, ...band]; // Hz, behind the grid
  const frequency = new Float64Array(GRID + TOLD.length);
  for (let i = 0; i < GRID; i++) frequency[i] = 20 * 10 ** ((3 * i) / (GRID - 1));
  frequency.set(TOLD, GRID);
  const logs = frequency.slice(0, GRID).map(Math.log10);
  // One neighbour on each side of what is drawn, so that lines run to the edges.
  const first = Math.max(0, logs.findIndex((log) => log >= Math.log10(data.limits[0])) - 1);
  const last = logs.findLastIndex((log) => log <= Math.log10(data.limits[1])) + 2;
  const seen = (values) => values.subarray(first, Math.min(last, GRID));

  /** Levels [dB re 1 V/V] on the grid, then where they are told. */
  function levelsOf(build, settings) {
    const { re, im, silent } = response(build, settings, frequency);
    if (silent) return re.fill(-Infinity);
    return re.map((x, i) => 10 * Math.log10(x * x + im[i] * im[i]));
  }

  const known = new Map();
  /** The same with some knobs full up; held, since turning those leaves it as it is. */
  function upOf(build, settings, names) {
    const full = state.full(settings, names);
    const key = `${build};${state.write(full)}`;
    if (known.size > 32) known.clear();
    if (!known.has(key)) known.set(key, levelsOf(build, full));
    return known.get(key);
  }
  const fullOf = (build, settings) =>
    data.volumes.length ? upOf(build, settings, data.volumes) : null;

  /** Curves that the axis must hold, so that it seldom moves; the same for a link. */
  const spanOf = (entry, mode) =>
    entry.full && mode !== "full" ? [entry, { levels: entry.full }] : [entry];

  /** Highest maximum inside the grid, by three points of it. */
  function peakOf({ levels }, lowest = data.leastPeak) {
    let at = -1;
    for (let i = 1; i < GRID - 1; i++) {
      const [before, after] = [levels[i] - levels[i - 1], levels[i + 1] - levels[i]];
      const top = before > 0 && after <= 0 && before - after > 1e-9;
      if (top && (at < 0 || levels[i] > levels[at])) at = i;
    }
    if (at < 0) return null;
    // 1 / |H|^2 over f^2 is a parabola around a resonance of any q, as in `guitarnet.peak`.
    const near = [at - 1, at, at + 1];
    const [u0, u1, u2] = near.map((i) => frequency[i] ** 2);
    const [y0, y1, y2] = near.map((i) => 10 ** ((levels[at] - levels[i]) / 10));
    const slope = (y1 - y0) / (u1 - u0);
    const bend = ((y2 - y1) / (u2 - u1) - slope) / (u2 - u0);
    const u = (u0 + u1) / 2 - slope / (2 * bend);
    const least = y0 + slope * (u - u0) + bend * (u - u0) * (u - u1);
    const level = levels[at] - 10 * Math.log10(least);
    const height = level - levels[GRID];
    const log = Math.log10(u) / 2;
    return height >= lowest ? { log, level, height } : null;
  }

  function numbersOf(entry) {
    const { levels, full } = entry;
    const peak = peakOf(entry);
    const top = peak ? [10 ** (peak.log - 3), peak.height] : [NaN, NaN];
    if (!full) return top;
    const [level, ...changes] = levels.slice(GRID, GRID + COUNT).map((one, i) => one - full[GRID + i]);
    return [level, ...changes.map((change) => change - level), ...top];
  }

  /** Levels as sentences take them; see `makeSentences`. */
  function curveOf(levels) {
    const peak = peakOf({ levels }, -Infinity);
    return {
      hertz: frequency,
      levels,
      bass: levels[GRID],
      treble: levels[GRID + COUNT],
      peak: peak && [10 ** peak.log, peak.height],
    };
  }

  /** Response of a guitar at any frequencies [Hz]. */
  const response = (build, settings, hertz) =>
    model.response(build, state.forModel(settings), hertz);

  const { idle } = model;
  return { logs, seen, levelsOf, fullOf, upOf, spanOf, numbersOf, peakOf, curveOf, response, idle };
}
