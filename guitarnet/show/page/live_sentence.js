/**
 * A comparison of two curves in sentences, with the words and limits of Python (`gn.explain`).
 *
 * A curve is { hertz, levels, bass, treble, peak }: levels [dB] at all frequencies, two of them by
 * name, and the peak as [Hz, dB above the bass] or null. What weighs in a sentence stands between
 * two marks, which `showSentence` makes bold.
 */
function makeSentences({ phrases, limits, bass, treble, band }) {
  const CLOSE = 1e-6; // as in `ranking.py`
  const [START, END] = ["\u0001", "\u0002"];
  const atLeast = (x, limit) => x >= limit - CLOSE;
  const counts = (x) => Math.abs(x) === Infinity || atLeast(Math.abs(x), limits.nothing);
  const fill = (kind, values) => phrases[kind].replace(/\{([^}]*)\}/g, (_, name) => values[name]);
  const first = (text) => text.charAt(0).toUpperCase() + text.slice(1);
  const strong = (text) => START + text + END;

  function amount(x) {
    const size = Math.abs(x);
    return `${(size + 1e-9).toFixed(atLeast(size, limits.fine) ? 1 : 2)} dB`;
  }
  function hertz(f) {
    const number = Number(f.toPrecision(3));
    return number >= 1000 ? `${number / 1000} kHz` : `${number} Hz`;
  }
  const step = (x, kinds) => strong(fill(kinds[counts(x) ? (x > 0 ? 0 : 1) : 2], { amount: amount(x) }));
  const above = (x) => fill(counts(x) ? (x > 0 ? "above" : "below") : "level", { amount: amount(x) });

  /** The first of the largest; what lies within a millionth of it is as large. */
  function largestOf(sizes) {
    const most = sizes.reduce((a, b) => Math.max(a, b), 0);
    return sizes.findIndex((size) => size >= most - CLOSE * (1 + most));
  }
  const isSilent = ({ levels }) => levels.every((level) => level === -Infinity);

  /** What a curve shows against another; without `opening` its words are left out. */
  function compare(opening, before, after) {
    const says = (kind, values) => {
      const whole = fill(kind, { opening: opening || "", ...values });
      return first(opening ? whole : whole.replace(/^, /, ""));
    };
    const [was, is] = [before, after].map(isSilent);
    if (was || is) return [says(is ? (was ? "still silent" : "silent") : "sounds", {})];
    const change = after.levels.map((level, i) => level - before.levels[i]);
    if (!counts(change[largestOf(change.map(Math.abs))])) {
      const [low, high] = [Math.min(...after.hertz), Math.max(...after.hertz)].map(hertz);
      return [says("nothing", { least: limits.nothing, low, high })];
    }
    const lost = after.bass - before.bass;
    const louder = step(lost, ["louder", "quieter", "same"]);
    const made = [says("bass", { bass, louder })];
    const turned = after.treble - before.treble - lost;
    if (Number.isNaN(turned)) return [...made, ...peaks(before.peak, after.peak)];
    const stands = step(turned, ["higher", "lower", "stays"]);
    made.push(fill("treble", { treble: `treble (${hertz(treble)})`, stands }));
    const inside = ([f]) => f >= band[0] * (1 - CLOSE) && f <= band[1] * (1 + CLOSE);
    const shape = Array.from(change, (x, i) => [after.hertz[i], x - lost]).filter(inside);
    const [where, worst] = shape[largestOf(shape.map(([, x]) => Math.abs(x)))] ?? [0, 0];
    if (counts(worst) && atLeast(Math.abs(worst), Math.abs(turned) + limits.beyond)) {
      const size = `${worst > 0 ? "+" : "\u2212"}${amount(worst)}`;
      const [low, high] = band.map(hertz);
      made.push(fill("shape", { low, high, change: size, where: hertz(where) }));
    }
    return [...made, ...peaks(before.peak, after.peak)];
  }

  function peaks(before, after) {
    if (!before && !after) return [];
    const said = {};
    if (before) Object.assign(said, { first: hertz(before[0]), above: above(before[1]) });
    if (after) Object.assign(said, { then: hertz(after[0]), "above then": above(after[1]) });
    if (!after) return [fill("gone", said)];
    if (!before) return [fill("new", said)];
    if (atLeast(Math.abs(after[0] / before[0] - 1), limits.moved)) return [fill("moves", said)];
    return atLeast(Math.abs(after[1] - before[1]), limits.beyond) ? [fill("grows", said)] : [];
  }

  /** A curve by itself. */
  function alone({ levels, peak }) {
    if (isSilent({ levels })) return "The guitar is silent.";
    if (!peak) return "There is no resonance peak.";
    return `The resonance peak is at ${strong(hertz(peak[0]))}, ${above(peak[1])} the bass (${bass}).`;
  }

  const turned = (name, from, to) => first(fill("turned", { name, first: from, then: to }));
  const instead = (then, before) => first(fill("instead", { then, first: before }));
  return { compare, alone, turned, instead };
}

/** Put sentences into an element: what weighs in them bold, numbers beside their units. */
function showSentence(mount, text) {
  const parts = text.replace(/(\d) (dB|k?Hz)/g, "$1\u00a0$2").split(/\u0001([^\u0002]*)\u0002/);
  mount.replaceChildren(...parts.map((part, i) => (i % 2 ? html("b", {}, part) : part)));
}
