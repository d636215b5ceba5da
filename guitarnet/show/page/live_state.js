/** Where the controls of a live page stand, and how that is written into an address. */
function makeState(data) {
  const forms = ["c", "parallel", "series"];

  // A name that guitars give to things of two kinds is told with its kind by the second.
  const claimed = new Map();
  function key(kind, name) {
    if (!claimed.has(name)) claimed.set(name, kind);
    return claimed.get(name) === kind ? name : `${kind}.${name}`;
  }
  for (const kind of ["knobs", "switches", "bleeds", "capacitors"]) {
    for (const { name } of data[kind]) key(kind, name);
  }

  function opening() {
    return {
      marks: Object.fromEntries(data.knobs.map(({ name, mark }) => [name, mark])),
      places: Object.fromEntries(data.switches.map(({ name, place }) => [name, place])),
      cable: data.cable ? data.cable.length : null,
      bleeds: Object.fromEntries(data.bleeds.map(({ name }) => [name, { form: "own" }])),
      capacitors: Object.fromEntries(data.capacitors.map(({ name }) => [name, null])),
    };
  }

  const copy = (settings) => structuredClone(settings);

  /** As the model takes them. */
  function forModel(settings) {
    const networks = {};
    for (const [name, { form, c, r }] of Object.entries(settings.bleeds)) {
      if (form === "none") networks[name] = ["open"];
      if (form === "c") networks[name] = ["c", c];
      if (form === "parallel" || form === "series") networks[name] = [form, ["c", c], ["r", r]];
    }
    return { ...settings, networks };
  }

  /** The same settings with some knobs full up. */
  function full(settings, names) {
    const marks = { ...settings.marks };
    for (const name of names) marks[name] = 10;
    return { ...settings, marks };
  }

  const bleedText = ({ form, c, r }) => [form, ...(forms.includes(form) ? [c, r] : [])].join(",");

  /** What differs from the opening settings, as key=value. */
  function write(settings) {
    const first = opening();
    const found = new URLSearchParams();
    const add = (name, value, before) => {
      if (String(value) !== String(before)) found.set(name, value);
    };
    for (const name in settings.marks) {
      add(key("knobs", name), settings.marks[name], first.marks[name]);
    }
    for (const name in settings.places) {
      add(key("switches", name), settings.places[name], first.places[name]);
    }
    for (const name in settings.bleeds) {
      add(key("bleeds", name), bleedText(settings.bleeds[name]), "own");
    }
    for (const name in settings.capacitors) {
      add(key("capacitors", name), settings.capacitors[name] ?? "own", "own");
    }
    if (data.cable) add(key("cable", "cable"), settings.cable ?? "own", first.cable ?? "own");
    return found.toString();
  }

  const within = (text, low, high) => {
    const number = text === null || text.trim() === "" ? NaN : Number(text);
    return number >= low && number <= high ? number : null;
  };
  /** The value of a list that is meant; null where there is none. */
  const listed = (list, text) => {
    const number = Number(text);
    const near = list.find(([value]) => Math.abs(value - number) <= 1e-6 * value);
    return near ? near[0] : null;
  };

  function readBleed(text) {
    const [form, c, r] = text.split(",");
    if (form === "own" || form === "none") return { form };
    const made = { form, c: listed(data.lists.bleed, c), r: listed(data.lists.resistor, r) };
    return forms.includes(form) && made.c && made.r ? made : null;
  }

  /** Settings from key=value; whatever is unknown or out of range is passed over. */
  function read(text) {
    const given = new URLSearchParams(text.slice(0, 4000));
    const made = opening();
    for (const name in made.marks) {
      made.marks[name] = within(given.get(key("knobs", name)), 0, 10) ?? made.marks[name];
    }
    for (const { name, places } of data.switches) {
      const place = given.get(key("switches", name));
      if (places.includes(place)) made.places[name] = place;
    }
    for (const name in made.bleeds) {
      const written = given.get(key("bleeds", name));
      made.bleeds[name] = (written && readBleed(written)) || made.bleeds[name];
    }
    for (const name in made.capacitors) {
      const written = given.get(key("capacitors", name));
      if (written) made.capacitors[name] = listed(data.lists.tone, written);
    }
    const metres = data.cable ? given.get(key("cable", "cable")) : null;
    if (metres === "own" && data.cable.differ) made.cable = null;
    else if (data.cable) made.cable = within(metres, 0, data.cable.most) ?? made.cable;
    return made;
  }

  return { opening, copy, forModel, full, write, read };
}
