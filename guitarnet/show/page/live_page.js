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
  const KEPT = data.labels.length; // number of the kept curve

  let settings = state.opening();
  let kept = null; // { build, settings }
  const view = { mode: data.mode, shown: data.labels.map(() => true), minus: null };
  let entries = []; // what is drawn: number, label, kind, levels, full
  let axis = [0, 1];
  let framed = ""; // what the frame was drawn for

  // -- numbers ----------------------------------------------------------------------------------

  function compute() {
    const all = data.labels.map((label, build) => {
      return { number: build, label, kind: `c${build}`, build, settings };
    });
    if (kept) {
      const label = `kept: ${data.labels[kept.build]}`;
      all.push({ number: KEPT, label, kind: "kept", ...kept });
    }
    entries = all.map((entry) => ({
      ...entry,
      levels: source.levelsOf(entry.build, entry.settings),
      full: source.fullOf(entry.build, entry.settings),
    }));
  }

  const isShown = ({ number }) => number === KEPT || view.shown[number];
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
  const plot = makePlot(figure, data.limits, `${prefix}-inside`);
  const below = makePlot(lower, data.limits, `${prefix}-below`);
  const kinds = [...data.labels.map((_, i) => `c${i}`), "kept"];
  const paths = kinds.map((kind) => element("path", { class: `curve ${kind}` }));
  const difference = element("path", { class: "curve difference" });
  const marks = element("g", { class: "peaks" });
  const remarks = element("g", {});
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

  const curveNames = () => [...data.labels.map((label, i) => [i, label]), [KEPT, "kept curve"]];
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
  bar.append(couple);

  const inLine = (...children) => html("span", { class: "label" }, ...children);
  const addRow = makeNumbers(table, { ...data, choice: data.choice });
  const rows = data.labels.map((label, build) => addRow(rowHead(label, build)));
  const keptName = html("span", { class: "name" });
  const keptRow = addRow(inLine(sampleOf("kept"), keptName, dropButton()));

  function rowHead(label, build) {
    const name = html("span", { class: "name" }, label);
    const words = `keep the curve of ${label}`;
    const keep = html("button", { type: "button", "aria-label": words }, "keep");
    keep.addEventListener("click", () => {
      kept = { build, settings: state.copy(settings) };
      if (!view.minus) other.value = KEPT;
      update();
    });
    if (data.labels.length === 1) return inLine(sampleOf("c0"), name, keep);
    const tick = html("input", { type: "checkbox", class: "show" });
    tick.addEventListener("change", () => {
      view.shown[build] = tick.checked;
      update();
    });
    return inLine(html("label", {}, tick, sampleOf(`c${build}`), name), keep);
  }

  function dropButton() {
    const words = "remove the kept curve";
    const drop = html("button", { type: "button", "aria-label": words }, "remove");
    drop.addEventListener("click", () => {
      kept = null;
      update();
      rows[0].line.querySelector("button").focus();
    });
    return drop;
  }

  // -- drawing ----------------------------------------------------------------------------------

  const mode = () => data.modes[view.mode];

  /** Range of decibels, wide enough that it seldom moves under the hand; the same for a link. */
  function range() {
    let [low, high] = [Infinity, -Infinity];
    const spanned = entries.filter(isShown).flatMap((one) => source.spanOf(one, mode().name));
    for (const one of spanned) {
      for (const level of seen(relative(one, mode().name))) {
        if (level < low && level > -Infinity) low = level;
        if (level > high) high = level;
      }
    }
    if (high < low) return [-50, 10];
    const top = 10 * Math.ceil((high + 1) / 10);
    const least = mode().name === "absolute" ? 60 : 40;
    return [Math.max(top - 60, Math.min(top - least, 10 * Math.floor(low / 10))), top];
  }

  function drawFrame() {
    const wide = Math.max(280, plotBox.clientWidth);
    // Where the figure stays in sight it leaves room for the controls below it.
    const most = window.matchMedia("(max-width: 760px)").matches ? 290 : 430;
    const tall = Math.round(Math.min(most, Math.max(220, 0.56 * wide)));
    axis = range();
    const wanted = [wide, tall, axis, view.mode].join();
    if (wanted === framed) return;
    framed = wanted;
    plot.frame(wide, tall, axis, 10, mode().axis, paths);
    figure.append(marks, remarks);
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
    drawPeaks(shown);
  }

  /** A ring at each peak; its frequency above it, below or beside it, where there is room. */
  function drawPeaks(shown) {
    marks.replaceChildren();
    if (mode().name === "full") return;
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
    draw(keptRow, entries[KEPT]);
    if (!kept) return;
    const moved = controls.words(kept.settings, settings);
    keptName.textContent = entries[KEPT].label + (moved ? ` (${moved})` : "");
  }

  function update() {
    compute();
    controls.show(settings);
    modeSelect.value = view.mode;
    couple.hidden = data.labels.length === 1 && !kept;
    for (const choice of [one, other]) {
      choice.querySelector(`option[value="${KEPT}"]`).disabled = !kept;
    }
    if (view.minus && !kept && view.minus.includes(KEPT)) view.minus = null;
    one.value = view.minus ? view.minus[0] : "";
    minus.hidden = !view.minus;
    if (view.minus) other.value = view.minus[1];
    drawFrame();
    drawCurves();
    drawDifference();
    showNumbers();
    const words = controls.words(settings);
    stands.textContent = `${words}.`;
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
    if (kept) found.set("_kept", `${kept.build};${state.write(kept.settings)}`);
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
    const [, build, rest] = (given.get("_kept") ?? "").match(/^(\d{1,2});(.*)$/s) ?? [];
    const there = Number(build) < data.labels.length;
    kept = there ? { build: Number(build), settings: state.read(rest) } : null;
    const minus = list("_minus");
    const ok = minus.length === 2 && minus.every((i) => Number.isInteger(i) && i >= 0 && i <= KEPT);
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
  root.append(panel, bar, plotBox, lowerBox, stands, numbers, said);
  const api = {
    settings: () => state.copy(settings),
    set(given) {
      settings = { ...state.copy(settings), ...given };
      update();
    },
    /** Response of a build, or of the kept curve behind the last: at first as the page opened. */
    response(index, hertz) {
      const last = kept ?? { build: 0, settings: state.opening() };
      const asked = index < KEPT ? { build: index, settings } : last;
      return source.response(asked.build, asked.settings, hertz);
    },
    onChange: (callback) => void listeners.push(callback),
  };
  const names = () => [
    ...data.labels,
    kept ? `kept: ${data.labels[kept.build]}` : `${data.labels[0]}, as opened`,
  ];
  let sound = null;
  if (source.response) {
    numbers.after(hearing);
    sound = makeHearing(hearing, { ...api, names }, tell);
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
