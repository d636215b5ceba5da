/**
 * Names at the curves: each above or below its own, where that is nearest and the others are far,
 * on nothing else. `curves` are { label, kind, levels }, `taken` are boxes { x, y, w, h }, and
 * `before` remembers the places, so that a name stays while its curve moves a little.
 */
function namesAtCurves(plot, logs, curves, taken, before) {
  const STEP = 12; // px from one column to the next
  const TALL = 16;
  const SAMPLE = 24;
  const { box } = plot;
  const letters = box.width < 500 ? 18 : 32;
  const count = Math.floor(box.width / STEP) + 1;
  const nearest = [];
  for (let k = 0, i = 0; k < count; k++) {
    while (i < logs.length - 1 && plot.across(logs[i]) < box.left + k * STEP) i++;
    nearest.push(i);
  }
  const heights = curves.map(({ levels }) => nearest.map((i) => plot.down(levels[i])));
  const meets = (a, b) => a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;
  const used = [...taken];
  return curves.flatMap(({ label, kind }, own) => {
    const text = label.length > letters ? `${label.slice(0, letters - 1)}\u2026` : label;
    const w = SAMPLE + 7 * text.length;
    const span = Math.ceil(w / STEP);
    let best = null;
    for (let k = 1; k + span < count; k++) {
      const under = heights[own].slice(k, k + span + 1);
      const [high, low] = [Math.min(...under), Math.max(...under)];
      if (!Number.isFinite(high + low)) continue;
      for (let row = 0; row < 6; row++) {
        const away = 5 + TALL * (row >> 1);
        const y = row % 2 ? low + away : high - away - TALL;
        const at = { x: box.left + k * STEP, y, w, h: TALL };
        if (y < box.top + 2 || y + TALL > box.top + box.height - 2) continue;
        const stays = before.get(kind) === `${k},${row}` ? 15 : 0;
        const most = 40 + stays - 24 * (row >> 1) - (low - high) / 2;
        if (best && most <= best.worth) continue;
        if (used.some((other) => meets(at, other)) || isCrossed(at, k, span)) continue;
        const centre = y + TALL / 2;
        const apart = clearance(own, centre, k, span) - away - TALL / 2;
        // Where its curve lies on another a name tells little.
        const worth = most - 40 + (apart < 6 ? apart - 60 : Math.min(40, apart));
        if (best && worth <= best.worth) continue;
        best = { worth, at, key: `${k},${row}` };
      }
    }
    if (!best) return [];
    before.set(kind, best.key);
    used.push(best.at);
    const { x, y } = best.at;
    return [
      element("path", { class: `mark ${kind}`, d: `M${x} ${y + 8}h${SAMPLE - 6}` }),
      element("text", { x: x + SAMPLE, y: y + 12.5, class: "halo" }, text),
    ];
  });

  /** How far the nearest other curve is from a height, over some columns. */
  function clearance(own, y, first, span) {
    let least = 60;
    heights.forEach((ys, i) => {
      if (i === own) return;
      for (let k = first; k <= first + span; k++) least = Math.min(least, Math.abs(ys[k] - y) || 60);
    });
    return least;
  }
  /** Whether a curve runs through a box, which begins at a column and spans some. */
  function isCrossed({ y, h }, first, span) {
    for (const ys of heights) {
      for (let k = first; k <= first + span; k++) if (ys[k] > y - 3 && ys[k] < y + h + 3) return true;
    }
    return false;
  }
}
