// What the live views share: one plot of levels against frequency, and a table of numbers.

const NONE = "\u2014";
const ALIKE = 0.05; // dB; curves so close hide each other

const hundredth = (x) => Math.round(100 * x) / 100;
const signed = (number) => String(number).replace("-", "\u2212");

function frequencyTicks([low, high]) {
  const made = [];
  for (let power = Math.floor(low); power <= high; power++) {
    for (const digit of [1, 2, 5]) {
      const hertz = digit * 10 ** power;
      const log = Math.log10(hertz);
      if (log < low - 1e-9 || log > high + 1e-9) continue;
      const text = hertz >= 1000 ? `${hertz / 1000}k` : String(Number(hertz.toPrecision(1)));
      made.push({ log, text, strong: digit === 1 });
    }
  }
  return made;
}

/**
 * Axes of levels [dB] against frequency; ``name`` tells the plots of one document apart. Given
 * where the middle begins and ends [Hz], bass, middle and treble stand below the axis.
 */
function makePlot(figure, limits, name, middle = null) {
  const ends = limits.map(Math.log10);
  const box = { left: 42, right: 14, top: 28, bottom: middle ? 46 : 42, width: 0, height: 0 };
  let axis = [0, 1];
  const across = (log) => box.left + ((log - ends[0]) / (ends[1] - ends[0])) * box.width;
  const down = (level) => box.top + ((axis[1] - level) / (axis[1] - axis[0])) * box.height;

  /** Everything that does not move with the curves, which are put inside the frame. */
  function frame(wide, tall, range, step, words, curves) {
    axis = range;
    box.width = wide - box.left - box.right;
    box.height = tall - box.top - box.bottom;
    figure.setAttribute("viewBox", `0 0 ${wide} ${tall}`);
    const [left, right] = [box.left, box.left + box.width];
    const [top, bottom] = [box.top, box.top + box.height];
    const parts = [element("text", { x: 4, y: 15, class: "axis" }, words)];
    for (const { log, text, strong } of frequencyTicks(ends)) {
      const x = across(log).toFixed(2);
      const kind = strong ? "strong" : "";
      parts.push(element("line", { x1: x, x2: x, y1: top, y2: bottom, class: kind }));
      const place = { x, y: bottom + 17, class: strong ? "" : "small", "text-anchor": "middle" };
      parts.push(element("text", place, text));
    }
    for (let level = axis[0]; level <= axis[1]; level += step) {
      const y = down(level).toFixed(2);
      const kind = level === 0 ? "zero" : "";
      parts.push(element("line", { x1: left, x2: right, y1: y, y2: y, class: kind }));
      const place = { x: left - 7, y: Number(y) + 4.5, "text-anchor": "end", "data-level": level };
      parts.push(element("text", place, signed(level)));
    }
    const inside = { x: left, y: top, width: box.width, height: box.height };
    const clip = element("clipPath", { id: name });
    clip.append(element("rect", inside));
    parts.push(clip, element("rect", inside));
    if (middle) {
      const unit = { x: left - 12, y: bottom + 17, "text-anchor": "end" };
      parts.push(element("text", unit, "Hz"), ...ranges(bottom + 26));
    } else {
      const centre = { x: (left + right) / 2, y: tall - 6, "text-anchor": "middle" };
      parts.push(element("text", centre, "frequency [Hz]"));
    }
    const group = element("g", { "clip-path": `url(#${name})` });
    group.append(...curves);
    parts.push(group);
    figure.replaceChildren(...parts);
  }

  /** Bass, middle and treble, each in words over a bar as wide as it is. */
  function ranges(y) {
    const edges = [ends[0], ...middle.map(Math.log10), ends[1]];
    return ["bass", "middle", "treble"].flatMap((words, i) => {
      const low = Math.max(edges[i], ends[0]);
      const high = Math.min(edges[i + 1], ends[1]);
      const [x1, x2] = [across(low) + 2, across(high) - 2];
      if (!(x2 - x1 > 48)) return [];
      const place = { x: (x1 + x2) / 2, y: y + 15, class: "range", "text-anchor": "middle" };
      return [
        element("line", { x1, x2, y1: y, y2: y, class: "range" }),
        element("text", place, words),
      ];
    });
  }

  /** Path through what is a number, and whether any of it lies above the lower edge. */
  function trace(logs, values) {
    let path = "";
    let pen = "M";
    let visible = false;
    for (let i = 0; i < logs.length; i++) {
      if (!Number.isFinite(values[i])) {
        pen = "M";
        continue;
      }
      path += `${pen}${hundredth(across(logs[i]))} ${hundredth(down(values[i]))}`;
      pen = "L";
      visible ||= values[i] >= axis[0];
    }
    return { path, visible };
  }

  /** Words in the lower left corner, or one in the middle. */
  function remarks(lines, all) {
    const x = box.left + 12;
    const y = box.top + box.height - 12 - 18 * (lines.length - 1);
    const middle = { x: box.left + box.width / 2, y: box.top + box.height / 2 - 8 };
    return all
      ? [element("text", { ...middle, class: "here halo", "text-anchor": "middle" }, all)]
      : lines.map((text, i) => element("text", { x, y: y + 18 * i, class: "halo" }, text));
  }

  return { box, frame, trace, remarks, across, down };
}

/** Tell whether all curves lie so close that the last one hides the others. */
function areAlike(curves) {
  if (curves.length < 2) return false;
  for (let i = 0; i < curves[0].length; i++) {
    const here = curves.map((levels) => levels[i]);
    if (!(Math.max(...here) - Math.min(...here) < ALIKE)) return false;
  }
  return true;
}

function sampleOf(kind) {
  const line = element("svg", { class: "sample", viewBox: "0 0 34 10", "aria-hidden": "true" });
  line.append(element("path", { class: `curve ${kind}`, d: "M0 5H34" }));
  return line;
}

/**
 * Head of a table of numbers, and a function that adds a row and gives its cells.
 * The roles are written out because a table that is laid out as a grid loses its own.
 */
function makeNumbers(table, { columns, caption, choice }) {
  const groups = [];
  for (const { group } of columns) {
    const last = groups[groups.length - 1];
    if (last && last.group === group) last.span += 1;
    else groups.push({ group, span: 1 });
  }
  const heads = groups.map(({ group, span }) => {
    const head = html("th", { colspan: span, scope: "colgroup", role: "columnheader" }, group);
    head.style.gridColumn = `span ${span}`;
    return head;
  });
  const names = columns.map(({ name }) => html("th", { scope: "col", role: "columnheader" }, name));
  const corner = html("td", { role: "cell" });
  const first = html("th", { scope: "col", role: "columnheader" }, choice);
  const body = html("tbody", { role: "rowgroup" });
  const lines = [
    html("tr", { role: "row" }, corner, ...heads),
    html("tr", { role: "row" }, first, ...names),
  ];
  const laidOut = (line) => {
    line.style.gridTemplateColumns = `repeat(${columns.length}, 1fr)`;
    return line;
  };
  table.append(
    html("caption", { class: "unseen" }, caption),
    html("thead", { role: "rowgroup" }, ...lines.map(laidOut)),
    body
  );
  return (head) => {
    const cells = columns.map(() => html("td", { role: "cell" }));
    const own = html("th", { scope: "row", role: "rowheader" }, head);
    const line = laidOut(html("tr", { role: "row" }, own, ...cells));
    body.append(line);
    return { cells, line };
  };
}

/** Redraw when the width changes. */
function followSize(plot, redraw) {
  let drawn = plot.clientWidth;
  new ResizeObserver(() => {
    const wide = plot.clientWidth;
    if (wide && wide !== drawn) {
      drawn = wide;
      redraw();
    }
  }).observe(plot);
}
