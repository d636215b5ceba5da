/**
 * Guitars solved in the page. Every piece between two nodes is q v - p i = e; pieces are joined in
 * series and in parallel, and what is left by its spanning trees. Complex numbers are pairs of
 * arrays over frequency. A short (p = 0) and an open (q = 0) are places, not numbers: where they
 * make numerator and denominator vanish together, the terms of lowest order are the limit.
 */
function makeModel(model) {
  const known = new WeakMap();

  const times = (a, b) => {
    const n = a.re.length;
    const made = { re: new Float64Array(n), im: new Float64Array(n) };
    for (let i = 0; i < n; i++) {
      made.re[i] = a.re[i] * b.re[i] - a.im[i] * b.im[i];
      made.im[i] = a.re[i] * b.im[i] + a.im[i] * b.re[i];
    }
    return made;
  };
  const plus = (a, b, sign = 1) => {
    const n = a.re.length;
    const made = { re: new Float64Array(n), im: new Float64Array(n) };
    for (let i = 0; i < n; i++) {
      made.re[i] = a.re[i] + sign * b.re[i];
      made.im[i] = a.im[i] + sign * b.im[i];
    }
    return made;
  };
  const number = (n, re) => ({ re: new Float64Array(n).fill(re), im: new Float64Array(n) });

  /** A polynomial in j x. */
  function polynomial(coefficients, x) {
    const made = number(x.length, 0);
    for (let i = 0; i < x.length; i++) {
      let [re, im] = [0, 0];
      for (let k = coefficients.length - 1; k >= 0; k--) {
        [re, im] = [coefficients[k] - im * x[i], re * x[i]];
      }
      made.re[i] = re;
      made.im[i] = im;
    }
    return made;
  }

  /** What depends on the frequencies alone. 0 Hz is taken as a limit. */
  function atFrequencies(frequency) {
    if (!known.has(frequency)) {
      const omega = frequency.map((f) => 2 * Math.PI * Math.max(f, 1e-3));
      known.set(frequency, { omega, x: omega.map((w) => w / model.speed), fixed: new Map() });
    }
    return known.get(frequency);
  }

  function fixedPort(port, grid) {
    if (!grid.fixed.has(port)) {
      const e = port.e.length ? polynomial(port.e, grid.x) : null;
      grid.fixed.set(port, { p: polynomial(port.p, grid.x), q: polynomial(port.q, grid.x), e });
    }
    return grid.fixed.get(port);
  }

  // -- pieces by their values -----------------------------------------------------------------

  const n = (grid) => grid.x.length;
  const open = (grid) => ({ p: number(n(grid), 1), q: number(n(grid), 0), e: null, open: true });

  function resistor(ohms, grid) {
    if (ohms === Infinity) return open(grid);
    const [p, q] = [number(n(grid), ohms / model.unit), number(n(grid), 1)];
    return { p, q, e: null, short: ohms === 0 };
  }

  function capacitor(farad, loss, grid) {
    if (farad === 0) return open(grid);
    const q = number(n(grid), 0);
    for (let i = 0; i < q.re.length; i++) {
      q.im[i] = grid.omega[i] * farad * model.unit;
      q.re[i] = q.im[i] * loss;
    }
    return { p: number(n(grid), 1), q, e: null };
  }

  function series(a, b) {
    if (a.open || b.short) return a;
    if (b.open || a.short) return b;
    let e = null;
    if (a.e) e = times(a.e, b.q);
    if (b.e) e = e ? plus(e, times(b.e, a.q)) : times(b.e, a.q);
    return { p: plus(times(a.p, b.q), times(b.p, a.q)), q: times(a.q, b.q), e };
  }

  function parallel(a, b) {
    if (a.short || b.open) return a;
    if (b.short || a.open) return b;
    let e = null;
    if (a.e) e = times(a.e, b.p);
    if (b.e) e = e ? plus(e, times(b.e, a.p)) : times(b.e, a.p);
    return { p: times(a.p, b.p), q: plus(times(a.p, b.q), times(b.p, a.q)), e };
  }

  function tree([kind, ...values], grid) {
    if (kind === "open") return open(grid);
    if (kind === "r") return resistor(values[0], grid);
    if (kind === "c") {
      const [farad, loss = 0, inSeries = 0, across = null] = values;
      let made = capacitor(farad, loss, grid);
      if (across !== null) made = parallel(made, resistor(across, grid));
      return series(resistor(inSeries, grid), made);
    }
    return values.map((inner) => tree(inner, grid)).reduce(kind === "series" ? series : parallel);
  }

  /** Share of a track below the wiper, for a rotation from 0 to 1. */
  function taper(law, rotation) {
    const [low, high] = law.zone;
    const x = Math.min(1, Math.max(0, (rotation - low) / (1 - low - high)));
    if (law.points) {
      const above = Math.max(1, law.points.findIndex(([at]) => at >= x));
      const [[x0, y0], [x1, y1]] = [law.points[above - 1], law.points[above]];
      return x === x1 ? y1 : y0 + ((x - x0) / (x1 - x0)) * (y1 - y0);
    }
    if (x === 1 || Math.abs(law.base - 1) < 1e-9) return x;
    return Math.expm1(x * Math.log(law.base)) / (law.base - 1);
  }

  function track({ of, way, ends }, build, settings, grid) {
    const mark = settings.marks[of];
    const law = build.knobs[of];
    if (way === "whole" && law.opens && mark >= 10) return open(grid);
    const half = (from) => Math.min(10, 2 * from);
    const turned = { whole: mark, rising: half(mark), falling: half(10 - mark) };
    const below = taper(law, turned[way] / 10);
    return resistor((1 - below) * ends[0] + below * ends[1], grid);
  }

  function cable({ what, value, length }, settings, grid) {
    const metres = settings.cable ?? length;
    if (what === "c") return capacitor(value * metres, 0, grid);
    if (what === "r") return resistor(value * metres, grid);
    return resistor(metres === 0 ? Infinity : value / metres, grid);
  }

  function part({ of, tree: own }, settings, grid) {
    const network = settings.networks[of];
    if (network) return tree(network, grid);
    const farad = settings.capacitors[of];
    if (farad && own[0] === "c") return tree(["c", farad, ...own.slice(2)], grid);
    return tree(own, grid);
  }

  function pieceOf(piece, build, settings, grid) {
    if (piece.kind === "pot") return track(piece, build, settings, grid);
    if (piece.kind === "cable") return cable(piece, settings, grid);
    return part(piece, settings, grid);
  }

  // -- circuits -------------------------------------------------------------------------------

  /** Number of a circuit, -1 where it is silent; a place that a build lacks is passed over. */
  function numberOf(build, chosen) {
    const index = build.switches.reduce((before, [name, places]) => {
      const there = places.indexOf(chosen[name]);
      return before * places.length + (there < 0 ? build.stands[name] : there);
    }, 0);
    return build.circuits[index];
  }
  const circuitOf = (build, { places }) => model.circuits[numberOf(build, places)];

  /** Whether a part is in the circuit of these places: a switch, where another place changes it. */
  function isIn(build, name, chosen) {
    const own = build.switches.find(([there]) => there === name);
    const now = numberOf(build, chosen);
    if (own) return own[1].some((place) => numberOf(build, { ...chosen, [name]: place }) !== now);
    const ports = now < 0 ? [] : model.circuits[now].ports;
    return ports.some((port) => typeof port === "string" && build.pieces[port].of === name);
  }

  /**
   * Why a control changes nothing in these guitars, whatever the values of their parts; null where
   * it may. Decided from what is connected, not from what is computed.
   */
  function idle(indices, name, chosen) {
    const builds = indices.map((index) => model.builds[index]);
    const matters = (places) => builds.some((build) => isIn(build, name, places));
    if (matters(chosen)) return null;
    const lists = builds.flatMap(({ switches }) => switches);
    const turning = ([other, places]) =>
      other !== name && places.some((place) => matters({ ...chosen, [other]: place }));
    return [...new Set(lists.filter(turning).map(([other]) => other))];
  }

  function product(rest, mask, without) {
    let order = 0;
    let made = null;
    rest.forEach((port, i) => {
      if (i === without) return;
      const inside = (mask >> i) & 1;
      if (inside ? port.open : port.short) order += 1;
      else made = made ? times(made, inside ? port.q : port.p) : inside ? port.q : port.p;
    });
    return { order, made };
  }

  const silence = (size) => ({ ...number(size, 0), silent: true });

  /** Response of one build: volts out per volt induced, at frequencies from 0 Hz. */
  function response(index, settings, frequency) {
    const build = model.builds[index];
    const circuit = circuitOf(build, settings);
    const size = frequency.length;
    if (!circuit) return silence(size);
    const grid = atFrequencies(frequency);
    const ports = circuit.ports.map((port) =>
      typeof port === "string"
        ? pieceOf(build.pieces[port], build, settings, grid)
        : fixedPort(port, grid)
    );
    for (const [kind, ...numbers] of circuit.steps) {
      const [a, b] = numbers.map((number) => {
        const port = ports[Math.abs(number) - 1];
        return number < 0 && port.e ? { ...port, e: plus(silence(size), port.e, -1) } : port;
      });
      ports.push(kind === "s" ? series(a, b) : parallel(a, b));
    }
    const rest = circuit.rest.map((number) => ports[number]);
    const trees = circuit.below.map((mask) => product(rest, mask, -1));
    const least = Math.min(...trees.map(({ order }) => order));
    const one = number(size, 1);
    const below = trees
      .filter(({ order }) => order === least)
      .reduce((sum, { made }) => plus(sum, made ?? one), number(size, 0));
    let above = null;
    for (const [k, sign, mask] of circuit.above) {
      const { order, made } = product(rest, mask, k);
      if (!rest[k].e || order !== least) continue;
      above = plus(above ?? number(size, 0), made ? times(rest[k].e, made) : rest[k].e, sign);
    }
    if (!above) return silence(size);
    for (let i = 0; i < size; i++) {
      const scale = below.re[i] ** 2 + below.im[i] ** 2;
      const re = (above.re[i] * below.re[i] + above.im[i] * below.im[i]) / scale;
      above.im[i] = (above.im[i] * below.re[i] - above.re[i] * below.im[i]) / scale;
      above.re[i] = re;
    }
    return above;
  }

  return { response, idle };
}
