/** The controls of a live page: knobs, switches, cable, treble bleeds, capacitors; one dial. */
function makeControls(mount, data, prefix, moved) {
  const showing = []; // each brings one control to where the settings stand
  const feet = (metres) => `${(metres / 0.3048).toFixed(metres < 3 ? 1 : 0)} ft`;
  const cableWords = (metres) => `${Number(metres.toFixed(2))} m (${feet(metres)})`;
  const group = (words, ...children) =>
    html("fieldset", {}, html("legend", {}, words), ...children);

  /** A control that can do nothing where the switches stand is grey and says why. */
  function greying(name, whole, ...inputs) {
    const why = html("p", { class: "why" });
    whole.append(why);
    showing.push((_, whyIdle) => {
      const words = whyIdle(name);
      if (why.textContent === words && inputs[0].disabled === Boolean(words)) return;
      why.textContent = words;
      whole.classList.toggle("idle", Boolean(words));
      for (const input of inputs) input.disabled = Boolean(words);
    });
    return whole;
  }

  function slider(name, words, limits) {
    const id = `${prefix}-${name}`;
    const input = html("input", { type: "range", id, ...limits });
    const value = html("b", { "aria-hidden": "true" });
    const head = html("div", { class: "head" }, html("label", { for: id }, words), value);
    return { input, value, whole: html("div", { class: "turn" }, head, input) };
  }

  function knob({ name, said }) {
    const { input, value, whole } = slider(`knob-${name}`, said, { min: 0, max: 10, step: 0.1 });
    input.addEventListener("input", () => moved((s) => (s.marks[name] = Number(input.value))));
    showing.push(({ marks }) => {
      const mark = Number(marks[name].toFixed(2));
      input.value = mark;
      value.textContent = mark;
      input.setAttribute("aria-valuetext", `${said} ${mark}`);
    });
    return greying(name, whole, input);
  }

  function lever({ name, said, places }) {
    const inputs = [];
    const radios = places.map((place) => {
      const input = html("input", { type: "radio", name: `${prefix}-${name}` });
      input.addEventListener("change", () => moved((s) => (s.places[name] = place)));
      showing.push((s) => (input.checked = s.places[name] === place));
      inputs.push(input);
      return html("label", {}, input, html("span", {}, place));
    });
    return greying(name, group(said, ...radios), ...inputs);
  }

  /** A place of few that were computed, by a slider that snaps to them. */
  function dial({ name, said, places }) {
    const limits = { min: 0, max: places.length - 1, step: 1, list: `${prefix}-ticks` };
    const { input, value, whole } = slider(`dial-${name}`, said, limits);
    const ticks = places.map((_, i) => html("option", { value: i }));
    whole.append(html("datalist", { id: limits.list }, ...ticks));
    input.addEventListener("input", () => moved((s) => (s.places[name] = places[input.value])));
    showing.push((s) => {
      input.value = places.indexOf(s.places[name]);
      value.textContent = s.places[name];
      input.setAttribute("aria-valuetext", `${said} ${s.places[name]}`);
    });
    return whole;
  }

  function cable({ most, differ, own }) {
    const { input, value, whole } = slider("cable", "cable", { min: 0, max: most, step: 0.1 });
    input.addEventListener("input", () => moved((s) => (s.cable = Number(input.value))));
    const tick = html("input", { type: "checkbox" });
    tick.addEventListener("change", () =>
      moved((s) => (s.cable = tick.checked ? null : Number(input.value)))
    );
    if (differ) whole.append(html("label", {}, tick, html("span", {}, "each its own")));
    showing.push((s) => {
      tick.checked = s.cable === null;
      const metres = s.cable ?? own;
      input.value = metres;
      const words = s.cable === null ? "each its own" : cableWords(metres);
      value.textContent = words;
      input.setAttribute("aria-valuetext", words);
    });
    return whole;
  }

  function choice(words, options, change) {
    const select = html("select", { "aria-label": words });
    options.forEach(([value, text]) => select.append(html("option", { value }, text)));
    select.addEventListener("change", () => change(select.value));
    return select;
  }

  function bleed({ name, said, own }) {
    const set = (key, value) =>
      moved((s) => {
        const before = s.bleeds[name];
        const [c, r] = [before.c ?? data.usual.c, before.r ?? data.usual.r];
        s.bleeds[name] = { c, r, form: before.form, [key]: value };
      });
    const form = choice(
      said,
      [
        ["own", own],
        ["none", "none"],
        ["c", "capacitor alone"],
        ["parallel", "capacitor \u2225 resistor"],
        ["series", "capacitor + resistor"],
      ],
      (value) => set("form", value)
    );
    const c = choice(`${said}, capacitor`, data.lists.bleed, (value) => set("c", Number(value)));
    const r = choice(`${said}, resistor`, data.lists.resistor, (value) => set("r", Number(value)));
    const values = html("div", { class: "values" }, c, r);
    showing.push((s) => {
      const now = s.bleeds[name];
      form.value = now.form;
      values.hidden = now.form === "own" || now.form === "none";
      r.hidden = now.form === "c";
      c.value = now.c ?? data.usual.c;
      r.value = now.r ?? data.usual.r;
    });
    return greying(name, group(said, form, values), form, c, r);
  }

  function capacitor({ name, said, own }) {
    const id = `${prefix}-part-${name}`;
    const select = choice(said, [["own", own], ...data.lists.tone], (value) =>
      moved((s) => (s.capacitors[name] = value === "own" ? null : Number(value)))
    );
    select.id = id;
    showing.push((s) => (select.value = s.capacitors[name] ?? "own"));
    const whole = html("div", { class: "pick" }, html("label", { for: id }, said), select);
    return greying(name, whole, select);
  }

  /** Settings in words, or those of them that differ from others. */
  function words(settings, others = null) {
    const listed = (list, value) => list.find(([there]) => there === value)[1];
    const bleedWords = ({ form, c, r }, own) => {
      const farad = c && listed(data.lists.bleed, c);
      const ohm = r && listed(data.lists.resistor, r);
      const parallel = `${farad} \u2225 ${ohm}`;
      return { own, c: farad, parallel, series: `${farad} + ${ohm}` }[form] ?? form;
    };
    const told = (s) => [
      ...data.knobs.map(({ name, said }) => `${said} ${Number(s.marks[name].toFixed(2))}`),
      ...data.switches.map(({ name, said }) => `${said} ${s.places[name]}`),
      ...(data.cable ? [`cable ${s.cable === null ? "each its own" : cableWords(s.cable)}`] : []),
      ...data.bleeds.map(({ name, said, own }) => `${said} ${bleedWords(s.bleeds[name], own)}`),
      ...data.capacitors.map(({ name, said, own }) => {
        const farad = s.capacitors[name];
        return `${said} ${farad ? listed(data.lists.tone, farad) : own}`;
      }),
    ];
    const before = others ? told(others) : [];
    return told(settings).filter((one, i) => one !== before[i]).join("; ");
  }

  const inRows = (found) => (found.length ? [html("div", { class: "group" }, ...found)] : []);
  mount.append(
    ...inRows(data.knobs.map(knob)),
    ...inRows(data.switches.map((one) => (one.turns ? dial(one) : lever(one)))),
    ...inRows(data.cable ? [cable(data.cable)] : []),
    ...inRows(data.bleeds.map(bleed)),
    ...inRows(data.capacitors.map(capacitor))
  );
  const show = (settings, whyIdle) => showing.forEach((one) => one(settings, whyIdle));
  return { show, words };
}
