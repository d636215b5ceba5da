"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const SILENT = -32768;
  const ALIKE = 0.05;
  const NONE = "\u2014";
  const SVG = "http://www.w3.org/2000/svg";
  const at = (id) => document.getElementById(id);
  const points = data.frequency.length;
  const logs = data.frequency.map(Math.log10);
  const ends = data.limits.map(Math.log10);
  const full = data.marks.indexOf(10);
  const levels = unpack(data.levels);
  const state = { mark: data.mark, mode: data.mode, shown: data.labels.map(() => true) };
  const curves = data.labels.map((_, build) => element("path", { class: `curve c${build}` }));
  const box = { left: 42, right: 14, top: 28, bottom: 42, width: 0, height: 0 };
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

  function element(name, attributes, text) {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (text !== undefined) made.textContent = text;
    return made;
  }

  function html(name, attributes, ...children) {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...children);
    return made;
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

  const across = (log) => box.left + ((log - ends[0]) / (ends[1] - ends[0])) * box.width;
  const down = (level) => box.top + ((axis[1] - level) / (axis[1] - axis[0])) * box.height;
  const signed = (number) => String(number).replace("-", "\u2212");
  const mark = () => `${data.knob} ${data.marks[state.mark]}`;
  const mode = () => data.modes[state.mode];

  function ticks() {
    const made = [];
    for (let power = Math.floor(ends[0]); power <= ends[1]; power++) {
      for (const digit of [1, 2, 5]) {
        const hertz = digit * 10 ** power;
        const log = Math.log10(hertz);
        if (log < ends[0] - 1e-9 || log > ends[1] + 1e-9) continue;
        const text = hertz >= 1000 ? `${hertz / 1000}k` : String(Number(hertz.toPrecision(1)));
        made.push({ log, text, strong: digit === 1 });
      }
    }
    return made;
  }

  /** Everything that does not move with the knob. */
  function drawAxes() {
    const figure = at("figure");
    const wide = Math.max(280, at("plot").clientWidth);
    const tall = Math.round(Math.min(430, Math.max(270, 0.54 * wide)));
    box.width = wide - box.left - box.right;
    box.height = tall - box.top - box.bottom;
    axis = range(mode().name);
    figure.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
    const [left, right] = [box.left, box.left + box.width];
    const [top, bottom] = [box.top, box.top + box.height];
    const parts = [element("text", { x: 4, y: 15, class: "axis" }, mode().axis)];
    for (const { log, text, strong } of ticks()) {
      const x = across(log).toFixed(2);
      const kind = strong ? "strong" : "";
      parts.push(element("line", { x1: x, x2: x, y1: top, y2: bottom, class: kind }));
      const name = { x, y: bottom + 17, class: strong ? "" : "small", "text-anchor": "middle" };
      parts.push(element("text", name, text));
    }
    for (let level = axis[0]; level <= axis[1]; level += 10) {
      const y = down(level).toFixed(2);
      const kind = level === 0 ? "zero" : "";
      parts.push(element("line", { x1: left, x2: right, y1: y, y2: y, class: kind }));
      const name = { x: left - 7, y: Number(y) + 4.5, "text-anchor": "end", "data-level": level };
      parts.push(element("text", name, signed(level)));
    }
    const frame = { x: left, y: top, width: box.width, height: box.height };
    const clip = element("clipPath", { id: "inside" });
    clip.append(element("rect", frame));
    parts.push(clip, element("rect", frame));
    const middle = { x: (left + right) / 2, y: tall - 6, "text-anchor": "middle" };
    parts.push(element("text", middle, "frequency [Hz]"));
    const group = element("g", { "clip-path": "url(#inside)" });
    group.append(...curves);
    parts.push(group, element("text", { id: "here", class: "here halo", x: left + 12, y: top + 25 }));
    parts.push(element("g", { id: "remarks" }));
    figure.replaceChildren(...parts);
  }

  /** Path of one curve, or a word for why there is none. */
  function trace(build) {
    const values = relative(build, state.mark, mode().name);
    let path = "";
    let pen = "M";
    let visible = false;
    for (let i = 0; i < points; i++) {
      if (Number.isNaN(values[i])) {
        pen = "M";
        continue;
      }
      path += `${pen}${across(logs[i]).toFixed(2)} ${down(values[i]).toFixed(2)}`;
      pen = "L";
      visible ||= values[i] >= axis[0];
    }
    if (path) return [path, visible ? "" : `below ${signed(axis[0])} dB`];
    const silent = curve(build, state.mark).every(Number.isNaN);
    return ["", silent ? "silent" : "silent at its reference"];
  }

  /** A remark where all shown curves lie so close that the last one hides the others. */
  function alike() {
    const shown = data.labels.flatMap((_, build) =>
      state.shown[build] ? [relative(build, state.mark, mode().name)] : []
    );
    if (shown.length < 2) return "";
    for (let i = 0; i < points; i++) {
      const here = shown.map((levels) => levels[i]);
      if (!(Math.max(...here) - Math.min(...here) < ALIKE)) return "";
    }
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
    const x = box.left + 12;
    const y = box.top + box.height - 12 - 18 * (lines.length - 1);
    const middle = { x: box.left + box.width / 2, y: box.top + box.height / 2 - 8 };
    at("remarks").replaceChildren(
      ...(all
        ? [element("text", { ...middle, class: "here halo", "text-anchor": "middle" }, all)]
        : lines.map((text, i) => element("text", { x, y: y + 18 * i, class: "halo" }, text)))
    );
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
    at("figure").setAttribute("aria-label", `${mark()}: ${mode().axis} against frequency. Numbers below.`);
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

  function sample(build) {
    const line = element("svg", { class: "sample", viewBox: "0 0 34 10", "aria-hidden": "true" });
    line.append(element("path", { class: `curve c${build}`, d: "M0 5H34" }));
    return line;
  }

  function choiceOf(build) {
    if (data.labels.length === 1) return html("span", { class: "label" }, sample(0), data.labels[0]);
    const tick = html("input", { type: "checkbox" });
    tick.checked = true;
    tick.addEventListener("change", () => {
      state.shown[build] = tick.checked;
      draw();
      say();
    });
    return html("label", {}, tick, sample(build), html("span", {}, data.labels[build]));
  }

  // The roles are written out because a table that is laid out as a grid loses its own.
  function makeTable() {
    const groups = [];
    for (const { group } of data.columns) {
      const last = groups[groups.length - 1];
      if (last && last.group === group) last.span += 1;
      else groups.push({ group, span: 1 });
    }
    const heads = groups.map(({ group, span }) => {
      const head = html("th", { colspan: span, scope: "colgroup", role: "columnheader" }, group);
      head.style.gridColumn = `span ${span}`;
      return head;
    });
    const names = data.columns.map(({ name }) =>
      html("th", { scope: "col", role: "columnheader" }, name)
    );
    const corner = html("td", { role: "cell" });
    const choice = html("th", { scope: "col", role: "columnheader" }, data.choice);
    const made = data.labels.map((_, build) => {
      const cells = data.columns.map(() => html("td", { role: "cell" }));
      const head = html("th", { scope: "row", role: "rowheader" }, choiceOf(build));
      return { cells, line: html("tr", { role: "row" }, head, ...cells) };
    });
    const head = [
      html("tr", { role: "row" }, corner, ...heads),
      html("tr", { role: "row" }, choice, ...names),
    ];
    at("numbers").append(
      html("caption", { class: "unseen" }, data.caption),
      html("thead", { role: "rowgroup" }, ...head),
      html("tbody", { role: "rowgroup" }, ...made.map(({ line }) => line))
    );
    for (const line of at("numbers").rows) {
      line.style.gridTemplateColumns = `repeat(${data.columns.length}, 1fr)`;
    }
    return made;
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

  const rows = makeTable();
  makeControls();
  at("live").hidden = false;
  drawAxes();
  draw();

  let drawn = at("plot").clientWidth;
  new ResizeObserver(() => {
    const wide = at("plot").clientWidth;
    if (wide && wide !== drawn) {
      drawn = wide;
      drawAxes();
      draw();
    }
  }).observe(at("plot"));
  const carrier = window.frameElement;
  if (carrier) {
    document.documentElement.classList.add("framed");
    new ResizeObserver(() => {
      carrier.style.height = `${Math.ceil(document.documentElement.offsetHeight)}px`;
    }).observe(document.body);
  }
})();
