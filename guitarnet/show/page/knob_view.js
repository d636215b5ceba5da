(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const SILENT = -32768;
  const at = (id) => document.getElementById(id);
  const points = data.frequency.length;
  const logs = data.frequency.map(Math.log10);
  const full = data.marks.indexOf(10);
  const levels = unpack(data.levels);
  const state = { mark: data.mark, mode: data.mode, shown: data.labels.map(() => true) };
  const curves = data.labels.map((_, build) => element("path", { class: `curve c${build}` }));
  const plot = makePlot(at("figure"), data.limits, "inside");
  let axis = [0, 1];

  /** Little-endian 16-bit steps to decibels re 1 V/V; NaN where silent. */
  function unpack(text) {
    const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
    const view = new DataView(bytes.buffer);
    return Float64Array.from({ length: bytes.length / 2 }, (_, i) => {
      const steps = view.getInt16(2 * i, true);
      return steps === SILENT ? NaN : steps * data.step;
    });
  }

  function curve(build, mark) {
    const first = (build * data.marks.length + mark) * points;
    return levels.subarray(first, first + points);
  }

  /** Levels of one build at one mark in the decibels of one reference; NaN where there is none. */
  function relative(build, mark, mode) {
    const own = curve(build, mark);
    if (mode === "absolute") return own;
    if (mode === "mark") {
      const other = curve(build, full);
      return own.map((level, i) => level - other[i]);
    }
    const reference = data.reference[build][mark];
    return own.map((level) => (reference === null ? NaN : level - reference));
  }

  /** One range of decibels for all marks and builds, so that only the curves move. */
  function range(mode) {
    let low = Infinity;
    let high = -Infinity;
    for (let build = 0; build < data.labels.length; build++) {
      for (let mark = 0; mark < data.marks.length; mark++) {
        for (const level of relative(build, mark, mode)) {
          if (level < low) low = level;
          if (level > high) high = level;
        }
      }
    }
    if (high < low) return [-50, 10];
    const top = 10 * Math.ceil((high + 1) / 10);
    return [Math.max(10 * Math.floor(low / 10), top - 60), top];
  }

  const mark = () => `${data.knob} ${data.marks[state.mark]}`;
  const mode = () => data.modes[state.mode];

  /** Everything that does not move with the knob. */
  function drawAxes() {
    const wide = Math.max(280, at("plot").clientWidth);
    const tall = Math.round(Math.min(430, Math.max(270, 0.54 * wide)));
    axis = range(mode().name);
    plot.frame(wide, tall, axis, 10, mode().axis, curves);
    const { left, top } = plot.box;
    const place = { id: "here", class: "here halo", x: left + 12, y: top + 25 };
    at("figure").append(element("text", place), element("g", { id: "remarks" }));
  }

  /** Path of one curve, or a word for why there is none. */
  function trace(build) {
    const { path, visible } = plot.trace(logs, relative(build, state.mark, mode().name));
    if (path) return [path, visible ? "" : `below ${signed(axis[0])} dB`];
    const silent = curve(build, state.mark).every(Number.isNaN);
    return ["", silent ? "silent" : "silent at its reference"];
  }

  /** A remark where all shown curves lie so close that the last one hides the others. */
  function alike() {
    const shown = data.labels.flatMap((_, build) =>
      state.shown[build] ? [relative(build, state.mark, mode().name)] : []
    );
    if (!areAlike(shown)) return "";
    return `${shown.length} curves within ${ALIKE} dB`;
  }

  function draw() {
    const remarks = [];
    for (const [build, path] of curves.entries()) {
      const [line, remark] = state.shown[build] ? trace(build) : ["", ""];
      path.setAttribute("d", line);
      if (remark) remarks.push([data.labels[build], remark]);
    }
    at("here").textContent = mark();
    const shown = state.shown.filter(Boolean).length;
    const same = shown && remarks.length === shown && new Set(remarks.map((r) => r[1])).size === 1;
    const lines = remarks.map(([label, remark]) => `${label.slice(0, 40)}: ${remark}`);
    const together = alike();
    if (together) lines.push(together);
    const all = shown ? same && remarks[0][1] : `no ${data.choice} chosen`;
    at("remarks").replaceChildren(...plot.remarks(lines, all));
    for (const [build, row] of rows.entries()) {
      row.cells.forEach((cell, i) => {
        cell.textContent = data.cells[build][state.mark][i];
      });
      row.line.classList.toggle("off", !state.shown[build]);
    }
    at("mark").textContent = data.marks[state.mark];
    at("knob").setAttribute("aria-valuetext", mark());
    for (const span of at("scale").children) {
      span.classList.toggle("here", Number(span.dataset.mark) === state.mark);
    }
    const words = `${mark()}: ${mode().axis} against frequency. Numbers below.`;
    at("figure").setAttribute("aria-label", words);
  }

  /** The figure in a sentence for who does not see it, once the knob rests. */
  let resting = 0;
  function say() {
    clearTimeout(resting);
    resting = setTimeout(() => {
      const told = data.labels.flatMap((label, build) => {
        if (!state.shown[build]) return [];
        const cells = data.cells[build][state.mark];
        if (cells[0] === "silent") return [`${label}: silent`];
        const words = data.columns.map(({ said }, i) => said.replace("{}", cells[i]));
        return [`${label}: ${words.filter((_, i) => cells[i] !== NONE).join(", ")}`];
      });
      at("said").textContent = `${mark()}. ${told.join("; ")}.`;
    }, 500);
  }

  function choiceOf(build) {
    const [only] = data.labels;
    if (data.labels.length === 1) return html("span", { class: "label" }, sampleOf("c0"), only);
    const tick = html("input", { type: "checkbox" });
    tick.checked = true;
    tick.addEventListener("change", () => {
      state.shown[build] = tick.checked;
      draw();
      say();
    });
    return html("label", {}, tick, sampleOf(`c${build}`), html("span", {}, data.labels[build]));
  }

  function makeControls() {
    const knob = at("knob");
    const last = data.marks.length - 1;
    knob.max = last;
    knob.value = state.mark;
    knob.addEventListener("input", () => {
      state.mark = Number(knob.value);
      draw();
      say();
    });
    data.marks.forEach((value, i) => {
      if (!Number.isInteger(value) && last > 12) return;
      const name = html("span", { "data-mark": i }, String(value));
      name.style.left = `${last ? (100 * i) / last : 0}%`;
      at("scale").append(name);
    });
    const select = at("reference");
    data.modes.forEach(({ option }, i) => select.append(html("option", { value: i }, option)));
    select.value = state.mode;
    select.addEventListener("change", () => {
      state.mode = Number(select.value);
      drawAxes();
      draw();
    });
  }

  const addRow = makeNumbers(at("numbers"), data);
  const rows = data.labels.map((_, build) => addRow(choiceOf(build)));
  makeControls();
  at("live").hidden = false;
  drawAxes();
  draw();

  followSize(at("plot"), () => {
    drawAxes();
    draw();
  });
  growFrame();
  dropStill();
})();
