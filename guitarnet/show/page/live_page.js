/**
 * A live page in an element: curves that follow its controls. Guitars are computed here
 * (`live_guitars.js`), an array was computed beforehand (`live_table.js`).
 *
 * root: an empty element. data: see `live_page.py`. options: `changed(settings)` is called back
 * when a control has moved; `address` keeps the settings in the page's address. Returns
 * settings(), set(settings), onChange(callback), and of guitars response(index, frequencies) and
 * sound, see `hearing.js`.
 */
function livePage(root, data, { changed, address = false } = {}) {
  const prefix = `live${document.querySelectorAll(".live").length}`;
  const state = makeState(data);
  const source = data.model ? guitarLevels(data, state) : tableLevels(data);
  const { logs, seen, peakOf } = source;
  const HELD = data.labels.length; // number of the held curve
  const JUDGED = 6000; // Hz, up to which every level is to be seen

  let settings = state.opening();
  let held = null; // { build, settings }
  const view = { mode: data.mode, shown: data.labels.map(() => true), minus: null };
  let entries = []; // what is drawn: number, label, kind, levels, full
  let axis = [0, 1];
  let framed = ""; // what the frame was drawn for
  let screen = { wide: 0, tall: 0 };
  const sentences = data.told && makeSentences(data.told);

  // -- numbers ----------------------------------------------------------------------------------

  function compute() {
    const all = data.labels.map((label, build) => {
      return { number: build, label, kind: `c${build}`, build, settings };
    });
    if (held) {
      const label = `held: ${data.labels[held.build]}`;
      all.push({ number: HELD, label, kind: "held", ...held });
    }
    entries = all.map((entry) => ({
      ...entry,
      levels: source.levelsOf(entry.build, entry.settings),
      full: source.fullOf(entry.build, entry.settings),
    }));
  }

  const isShown = ({ number }) => number === HELD || view.shown[number];
  const isSilent = ({ levels }) => levels.every((level) => level === -Infinity);

  /** Levels in the decibels of one reference, which stands behind them; NaN where there is none. */
  function relative({ levels, full }, mode) {
    if (mode === "absolute") return levels;
    if (mode === "full") return levels.map((level, i) => level - full[i]);
    return levels.map((level) => level - levels[logs.length]);
  }

  function tenth(x) {
    if (!Number.isFinite(x)) return NONE;
    return Math.abs(x) < 0.05 ? "0.0" : `${x > 0 ? "+" : "\u2212"}${Math.abs(x).toFixed(1)}`;
  }

  function cellsOf(entry) {
    const cells = source.numbersOf(entry).map((x, i) => {
      return data.columns[i].name === "kHz" && x ? x.toFixed(2) : tenth(x);
    });
    return isSilent(entry) ? ["silent", ...cells.slice(1)] : cells;
  }

  // -- the page ---------------------------------------------------------------------------------

  const figure = element("svg", { class: "figure", role: "img" });
  const lower = element("svg", { class: "figure", role: "img" });
  const plot = makePlot(figure, data.limits, `${prefix}-inside`, data.middle);
  const below = makePlot(lower, data.limits, `${prefix}-below`);
  const kinds = [...data.labels.map((_, i) => `c${i}`), "held"];
  const paths = kinds.map((kind) => element("path", { class: `curve ${kind}` }));
  const difference = element("path", { class: "curve difference" });
  const marks = element("g", { class: "peaks" });
  const remarks = element("g", {});
  const names = element("g", { class: "names" });
  const answer = html("div", { class: "answer" });
  const meaning = html("p", { class: "meaning" });
  const panel = html("div", { class: "controls" });
  const plotBox = html("div", { class: "plot" }, figure);
  const lowerBox = html("div", { class: "plot lower" }, lower);
  const stands = html("p", { class: "stands" });
  const table = html("table", { class: "numbers", role: "table" });
  const numbers = html("div", { class: "told" }, table);
  const said = html("p", { class: "unseen", role: "status" });
  const hearing = html("section", { class: "hearing", "aria-label": "Hear it" });
  const controls = makeControls(panel, data, prefix, (change) => {
    settings = state.copy(settings);
    change(settings);
    update();
  });
  const reset = html("button", { type: "button" }, "reset controls");
  reset.addEventListener("click", () => {
    settings = state.opening();
    update();
  });
  panel.append(reset);

  function select(words, options) {
    const made = html("select", { id: `${prefix}-${words.replace(/\W/g, "")}` });
    options.forEach(([value, text]) => made.append(html("option", { value }, text)));
    return [html("label", { for: made.id }, words), made];
  }

  const [modeLabel, modeSelect] = select("0 dB is", data.modes.map(({ option }, i) => [i, option]));
  modeSelect.addEventListener("change", () => {
    view.mode = Number(modeSelect.value);
    update();
  });

  const curveNames = () => [...data.labels.map((label, i) => [i, label]), [HELD, "held curve"]];
  const isAnother = ({ number }) => String(number) !== one.value;
  const [oneLabel, one] = select("difference", [["", "none"], ...curveNames()]);
  const [otherLabel, other] = select("minus", curveNames());
  for (const choice of [one, other]) {
    choice.addEventListener("change", () => {
      if (one.value === other.value) other.value = entries.find(isAnother).number;
      view.minus = one.value === "" ? null : [Number(one.value), Number(other.value)];
      update();
    });
  }

  const pick = (...children) => html("div", { class: "pick" }, ...children);
  const references = pick(modeLabel, modeSelect);
  references.hidden = data.modes.length < 2;
  const bar = html("div", { class: "bar" }, references);
  const minus = pick(otherLabel, other);
  const couple = html("div", { class: "couple" }, pick(oneLabel, one), minus);
  const single = "hold this curve for comparison";
  if (data.labels.length === 1) bar.prepend(holdButton(0, single, single));
  bar.append(couple);

  const inLine = (...children) => html("span", { class: "label" }, ...children);
  const addRow = makeNumbers(table, { ...data, choice: data.choice });
  const rows = data.labels.map((label, build) => addRow(rowHead(label, build)));
  const heldName = html("span", { class: "name" });
  const heldRow = addRow(inLine(sampleOf("held"), heldName, dropButton()));

  function holdButton(build, words, text) {
    const hold = html("button", { type: "button", "aria-label": words, class: "hold" }, text);
    hold.addEventListener("click", () => {
      held = { build, settings: state.copy(settings) };
      if (!view.minus) other.value = HELD;
      update();
    });
    return hold;
  }

  function rowHead(label, build) {
    const name = html("span", { class: "name" }, label);
    if (data.labels.length === 1) return inLine(sampleOf("c0"), name);
    const hold = holdButton(build, `hold for comparison: ${label}`, "hold for comparison");
    const tick = html("input", { type: "checkbox", class: "show" });
    tick.addEventListener("change", () => {
      view.shown[build] = tick.checked;
      update();
    });
    return inLine(html("label", {}, tick, sampleOf(`c${build}`), name), hold);
  }

  function dropButton() {
    const words = "remove the held curve";
    const drop = html("button", { type: "button", "aria-label": words }, "remove");
    drop.addEventListener("click", () => {
      held = null;
      update();
      root.querySelector(".hold").focus();
    });
    return drop;
  }

  // -- drawing ----------------------------------------------------------------------------------

  const mode = () => data.modes[view.mode];

  /**
   * Range of decibels, wide enough that it seldom moves under the hand; the same for a link. The
   * fall above the treble that one hears may leave at the bottom, so that no half stays empty.
   */
  function range() {
    let [low, high] = [Infinity, -Infinity];
    const near = seen(logs).map((log) => log <= Math.log10(JUDGED));
    const spanned = entries.filter(isShown).flatMap((one) => source.spanOf(one, mode().name));
    for (const one of spanned) {
      seen(relative(one, mode().name)).forEach((level, i) => {
        if (near[i] && level < low && level > -Infinity) low = level;
        if (level > high) high = level;
      });
    }
    if (high < low) return [-40, 10];
    const top = 5 * Math.ceil((high + 2) / 5);
    const bottom = Math.min(top - 25, 5 * Math.floor((low - 2) / 5));
    if (top - bottom <= 30) return [bottom, top];
    const upper = 10 * Math.ceil(top / 10);
    return [Math.max(upper - 60, 10 * Math.floor(bottom / 10)), upper];
  }

  /** Height of the figure: about half of the screen's; a frame grows with what is in it. */
  function tallFor(wide) {
    if (screen.wide !== window.innerWidth) {
      screen = { wide: window.innerWidth, tall: window === window.top ? window.innerHeight : 800 };
    }
    const least = Math.max(240, 0.42 * screen.tall);
    return Math.round(Math.max(least, Math.min(0.5 * screen.tall, 0.56 * wide, 560)));
  }

  function drawFrame() {
    const wide = Math.max(280, plotBox.clientWidth);
    const tall = tallFor(wide);
    axis = range();
    const wanted = [wide, tall, axis, view.mode].join();
    if (wanted === framed) return;
    framed = wanted;
    plot.frame(wide, tall, axis, axis[1] - axis[0] > 30 ? 10 : 5, mode().axis, paths);
    figure.append(marks, names, remarks);
  }

  function drawCurves() {
    const told = [];
    const shown = entries.filter(isShown);
    paths.forEach((path) => path.setAttribute("d", ""));
    for (const entry of shown) {
      const { path, visible } = plot.trace(seen(logs), seen(relative(entry, mode().name)));
      paths[entry.number].setAttribute("d", path);
      if (!path) told.push([entry.label, isSilent(entry) ? "silent" : "silent at its reference"]);
      else if (!visible) told.push([entry.label, `below ${signed(axis[0])} dB`]);
    }
    const lines = told.map(([label, words]) => `${label.slice(0, 40)}: ${words}`);
    if (areAlike(shown.map((entry) => seen(relative(entry, mode().name))))) {
      lines.push(`${shown.length} curves within ${ALIKE} dB`);
    }
    const same = told.length === shown.length && new Set(told.map(([, words]) => words)).size === 1;
    const all = shown.length ? same && told[0][1] : `no ${data.choice} chosen`;
    remarks.replaceChildren(...plot.remarks(lines, all));
    const taken = [...drawPeaks(shown), ...lines.map((words, i) => lineBox(words, i, lines.length))];
    const named = shown.length > 1 && !all ? shown : [];
    const curves = named.map((entry) => ({
      label: entry.label,
      kind: entry.kind,
      levels: seen(relative(entry, mode().name)),
    }));
    names.replaceChildren(...namesAtCurves(plot, seen(logs), curves, taken, nameAt));
  }
  const nameAt = new Map();
  const lineBox = (words, i, count) => ({
    x: plot.box.left,
    y: bottomOf(plot.box) - 28 - 18 * (count - 1 - i),
    w: 14 + 7 * words.length,
    h: 18,
  });

  /** A ring at each peak; its frequency by it, where there is room. Gives what that covers. */
  function drawPeaks(shown) {
    marks.replaceChildren();
    if (mode().name === "full") return [];
    const [lowest, highest] = data.limits.map(Math.log10);
    const rings = shown.flatMap((entry) => {
      const peak = peakOf(entry);
      if (!peak || peak.log < lowest || peak.log > highest) return [];
      const y = plot.down(mode().name === "absolute" ? peak.level : peak.height);
      if (y > bottomOf(plot.box)) return [];
      return [{ x: plot.across(peak.log), y, hertz: 10 ** peak.log, kind: entry.kind }];
    });
    const words = [];
    for (const { x, y, hertz } of rings.sort((a, b) => a.y - b.y)) {
      const free = ([across, down]) =>
        across > plot.box.left + 34 &&
        across < plot.box.left + plot.box.width - 34 &&
        down > plot.box.top + 11 &&
        down < bottomOf(plot.box) - 2 &&
        !rings.some((ring) => Math.abs(ring.x - across) < 36 && Math.abs(ring.y - down + 4) < 10) &&
        !words.some((word) => Math.abs(word.x - across) < 72 && Math.abs(word.y - down) < 16);
      const low = hertz < 1000;
      const text = low ? `${Number(hertz.toPrecision(3))} Hz` : `${(hertz / 1000).toFixed(2)} kHz`;
      const places = [[x, y - 10], [x, y + 21], [x - 40, y + 4], [x + 40, y + 4]];
      const place = places.find(free);
      const said = words.some((word) => word.text === text && Math.abs(word.y - y) < 30);
      if (place && !said) words.push({ x: place[0], y: place[1], text });
    }
    const at = { class: "halo", "text-anchor": "middle" };
    marks.append(
      ...words.map(({ x, y, text }) => element("text", { x, y, ...at }, text)),
      ...rings.map(({ x, y, kind }) => element("circle", { cx: x, cy: y, r: 4, class: kind }))
    );
    return [
      ...words.map(({ x, y }) => ({ x: x - 32, y: y - 13, w: 64, h: 17 })),
      ...rings.map(({ x, y }) => ({ x: x - 7, y: y - 7, w: 14, h: 14 })),
    ];
  }

  const bottomOf = (box) => box.top + box.height;

  function drawDifference() {
    const called = (wanted) => entries.find(({ number }) => number === wanted);
    const pair = (view.minus ?? []).map(called);
    const there = pair.length === 2 && pair.every(Boolean);
    lowerBox.hidden = !there;
    if (!there) return "";
    const [a, b] = pair.map((entry) => relative(entry, mode().name));
    const values = seen(a.map((level, i) => level - b[i]));
    const finite = [0, ...values.filter(Number.isFinite)];
    const [low, high] = [Math.min(...finite), Math.max(...finite)];
    const step = [0.5, 1, 2, 5, 10, 20].find((size) => 5 * size >= high - low) ?? 40;
    // A quarter of a step of room, and never less than one step to either side of nothing.
    const bottom = step * Math.min(-1, Math.floor(low / step - 0.25));
    const top = step * Math.max(1, Math.ceil(high / step + 0.25));
    const wide = Math.max(280, lowerBox.clientWidth);
    const words = `${pair[0].label.slice(0, 40)} minus ${pair[1].label.slice(0, 40)} [dB]`;
    const tall = Math.round(Math.min(220, Math.max(170, 0.3 * wide)));
    below.frame(wide, tall, [bottom, top], step, words, [difference]);
    difference.setAttribute("d", below.trace(seen(logs), values).path);
    const told = `${words}, ${mode().axis.replace(" [dB]", "")}`;
    const nothing = values.some(Number.isFinite) ? "" : "silent, no difference to draw";
    lower.append(...below.remarks([], nothing));
    lower.setAttribute("aria-label", `${told}: from ${tenth(low)} to ${tenth(high)} dB`);
  }

  function showNumbers() {
    const draw = (row, entry) => {
      row.line.hidden = !entry;
      if (!entry) return;
      cellsOf(entry).forEach((text, i) => (row.cells[i].textContent = text));
      row.line.classList.toggle("off", !isShown(entry));
    };
    rows.forEach((row, i) => {
      draw(row, entries[i]);
      const tick = row.line.querySelector(".show");
      if (tick) tick.checked = view.shown[i];
    });
    draw(heldRow, entries[HELD]);
    if (!held) return;
    const moved = controls.words(held.settings, settings);
    heldName.textContent = entries[HELD].label + (moved ? ` (${moved})` : "");
  }

  // -- what the controls have done, in sentences ------------------------------------------------

  /** Knobs that are turned down and in use: the volumes, or else the tones of one guitar. */
  function turnedDown() {
    const inUse = (name) => !(source.idle && whyIdle(name));
    const down = (list) => (list ?? []).filter((name) => settings.marks[name] < 10 && inUse(name));
    const volumes = down(data.volumes);
    return volumes.length || data.labels.length > 1 ? volumes : down(data.tones);
  }
  const markOf = (name) => String(Number(settings.marks[name].toFixed(2)));
  const saidOf = (name) => data.knobs.find((knob) => knob.name === name).said;

  /** What each shown curve is compared with, and how that is called: { opening, pairs }. */
  function compared() {
    const shown = entries.filter((entry) => entry.number !== HELD && isShown(entry));
    const curve = (entry) => source.curveOf(entry.levels, entry.build, source.at?.(entry.settings));
    const several = shown.length > 1;
    if (held) {
      const before = curve(entries[HELD]);
      const opening = sentences.instead("these settings", "the held curve");
      return { opening, pairs: shown.map((entry) => [entry, before, curve(entry)]) };
    }
    if (source.at) {
      const { said, places, name } = data.switches[0];
      const up = places[source.full];
      if (source.full >= 0 && settings.places[name] !== up) {
        const opening = sentences.turned(said, up, settings.places[name]);
        const full = (entry) => source.curveOf(entry.full, entry.build, source.full);
        return { opening, pairs: shown.map((entry) => [entry, full(entry), curve(entry)]) };
      }
    } else {
      const down = turnedDown();
      const up = (entry) => source.curveOf(source.upOf(entry.build, settings, down));
      const pairs = shown.map((entry) => [entry, down.length && up(entry), curve(entry)]);
      if (down.length === 1) {
        return { opening: sentences.turned(saidOf(down[0]), "10", markOf(down[0])), pairs };
      }
      if (down.length) {
        const now = down.map((name) => `${saidOf(name)} ${markOf(name)}`).join(", ");
        return { opening: sentences.instead(now, "10"), pairs };
      }
    }
    if (!several) return { opening: "", pairs: shown.map((entry) => [entry, null, curve(entry)]) };
    const [first, ...others] = shown;
    const opening = `Compared with ${first.label}`;
    return { opening, pairs: others.map((entry) => [entry, curve(first), curve(entry)]) };
  }

  /** One guitar has a paragraph, several have a line each. */
  function showAnswer() {
    if (!sentences) return;
    const { opening, pairs } = compared();
    const line = (text, ...before) => {
      const words = html("span", {});
      showSentence(words, text);
      return html("p", {}, ...before, words);
    };
    if (pairs.length === 1 && data.labels.length === 1) {
      const [[, before, after]] = pairs;
      const told = before
        ? sentences.compare(opening, before, after)
        : [sentences.alone(after), data.model ? "Turn a knob, and this line says what it does." : ""];
      const rest = told.slice(2).join(" ");
      answer.replaceChildren(line(told.slice(0, 2).join(" ")), ...(rest ? [line(rest)] : []));
      return;
    }
    const lines = pairs.map(([entry, before, after]) => {
      const told = before ? sentences.compare("", before, after) : [sentences.alone(after)];
      const name = html("span", { class: "name" }, `${entry.label}: `);
      return line(told.slice(0, 2).join(" "), sampleOf(entry.kind), name);
    });
    const heading = opening && pairs.length ? [line(`${opening}:`)] : [];
    answer.replaceChildren(...heading, ...lines);
  }

  const known = new Map(); // why a control is idle, until a switch is moved
  let knownFor = "";
  /** Why a control changes nothing where the switches stand, in words; "" where it may. */
  function whyIdle(name) {
    const shown = data.labels.map((_, i) => i).filter((i) => view.shown[i]);
    const stands = JSON.stringify([shown, settings.places]);
    if (stands !== knownFor) known.clear();
    knownFor = stands;
    if (!known.has(name)) known.set(name, idleWords(name, shown.length ? shown : [0]));
    return known.get(name);
  }
  function idleWords(name, shown) {
    const others = source.idle?.(shown, name, settings.places);
    if (!others) return "";
    const list = others.map((other) => data.switches.find((one) => one.name === other));
    if (!list.length) return "changes nothing in this guitar";
    const told = list.map((one) => `${one.said} at ${settings.places[one.name]}`);
    return `not in use with ${told.join(", ")}`;
  }

  function update() {
    compute();
    controls.show(settings, whyIdle);
    modeSelect.value = view.mode;
    couple.hidden = data.labels.length === 1 && !held;
    for (const choice of [one, other]) {
      choice.querySelector(`option[value="${HELD}"]`).disabled = !held;
    }
    if (view.minus && !held && view.minus.includes(HELD)) view.minus = null;
    one.value = view.minus ? view.minus[0] : "";
    minus.hidden = !view.minus;
    if (view.minus) other.value = view.minus[1];
    drawFrame();
    drawCurves();
    drawDifference();
    showNumbers();
    const words = controls.words(settings);
    stands.textContent = `${words}.`;
    meaning.textContent = mode().meaning;
    showAnswer();
    figure.setAttribute("aria-label", `${words}: ${mode().axis} against frequency. Numbers below.`);
    say();
    tell();
    listeners.forEach((callback) => callback(state.copy(settings)));
  }

  let resting = 0;
  /** The numbers in a sentence for who does not see the figure, once the hand rests. */
  function say() {
    clearTimeout(resting);
    if (!touched) return;
    resting = setTimeout(() => {
      const words = entries.filter(isShown).map((entry) => {
        const cells = cellsOf(entry);
        if (isSilent(entry)) return `${entry.label}: silent`;
        const told = data.columns.map((column, i) => column.said.replace("{}", cells[i]));
        return `${entry.label}: ${told.filter((_, i) => cells[i] !== NONE).join(", ")}`;
      });
      said.textContent = `${words.join("; ")}.`;
    }, 500);
  }
  let touched = false; // nothing is read aloud before

  // -- the address ------------------------------------------------------------------------------

  function written() {
    const found = new URLSearchParams(state.write(settings));
    if (view.mode !== data.mode) found.set("_0dB", mode().name);
    const hidden = view.shown.flatMap((shown, i) => (shown ? [] : [i]));
    if (hidden.length) found.set("_hidden", hidden.join(","));
    if (view.minus) found.set("_minus", view.minus.join(","));
    if (held) found.set("_held", `${held.build};${state.write(held.settings)}`);
    if (sound && sound.chosen() !== heardFirst) found.set("_hear", sound.chosen());
    return found.toString();
  }

  function readAddress() {
    const text = window.location.hash.slice(1);
    const given = new URLSearchParams(text.slice(0, 8000));
    settings = state.read(text);
    const named = data.modes.findIndex(({ name }) => name === given.get("_0dB"));
    view.mode = named < 0 ? data.mode : named;
    const list = (key) => (given.get(key) ?? "").split(",").filter(Boolean).map(Number);
    const hidden = list("_hidden");
    view.shown = data.labels.map((_, i) => !hidden.includes(i));
    const [, build, rest] = (given.get("_held") ?? "").match(/^(\d{1,2});(.*)$/s) ?? [];
    const there = Number(build) < data.labels.length;
    held = there ? { build: Number(build), settings: state.read(rest) } : null;
    const minus = list("_minus");
    const ok = minus.length === 2 && minus.every((i) => Number.isInteger(i) && i >= 0 && i <= HELD);
    view.minus = ok ? minus : null;
    sound?.choose(given.get("_hear") ?? heardFirst);
  }

  let telling = 0;
  let ours = "";
  /** Browsers refuse more than some hundred changes of the address in half a minute. */
  function tell() {
    if (!address) return;
    clearTimeout(telling);
    telling = setTimeout(() => {
      ours = written();
      const bare = window.location.href.split("#")[0];
      window.history.replaceState(null, "", ours ? `${bare}#${ours}` : bare);
    }, 250);
  }

  // -- start ------------------------------------------------------------------------------------

  const listeners = changed ? [changed] : [];
  root.classList.add("live");
  root.classList.toggle("few", !data.model); // one control needs no column of its own
  root.classList.toggle("many", data.labels.length > 3);
  root.append(answer, panel, plotBox, meaning, bar, lowerBox, stands, numbers, said);
  const api = {
    settings: () => state.copy(settings),
    set(given) {
      settings = { ...state.copy(settings), ...given };
      update();
    },
    /** Response of a build, or of the held curve behind the last: at first as the page opened. */
    response(index, hertz) {
      const last = held ?? { build: 0, settings: state.opening() };
      const asked = index < HELD ? { build: index, settings } : last;
      return source.response(asked.build, asked.settings, hertz);
    },
    onChange: (callback) => void listeners.push(callback),
  };
  const heardNames = () => [
    ...data.labels,
    held ? `held: ${data.labels[held.build]}` : `${data.labels[0]}, as opened`,
  ];
  let sound = null;
  if (source.response) {
    numbers.after(hearing);
    sound = makeHearing(hearing, { ...api, names: heardNames }, tell);
  }
  const heardFirst = sound?.chosen();
  if (address) {
    readAddress();
    window.addEventListener("hashchange", () => {
      if (window.location.hash.slice(1) === ours) return;
      readAddress();
      update();
    });
  }
  update();
  touched = true;
  followSize(plotBox, () => {
    drawFrame();
    drawCurves();
    drawDifference();
  });
  return { ...api, sound };
}
