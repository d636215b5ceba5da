/*
 * What every player of sounds shares: its controls, and changes without a click.
 *
 * soundPanel(mount, heading, act) puts the controls into the empty element `mount` and calls
 * act.play(), act.stop(), act.change(), act.loop() and act.turn() when they are used. What has
 * stopped or ended says so by panel.stopped(words).
 */
const SOUND = {
  fade: 0.04, // s from one sound to the next
  loudest: 10 ** (-1 / 20), // of full scale
  levels: [-40, 0, -11], // dB: the ends of the playback level and where it opens: peaks at -12
};

/**
 * Move a gain along half a cosine, so that not even its slope jumps. Two sounds that are alike add
 * up to the same through it, which equal power would not give.
 */
function fadeGain(gain, from, to, at, seconds = SOUND.fade) {
  const share = (i) => (1 - Math.cos((Math.PI * i) / 128)) / 2;
  const curve = Float32Array.from({ length: 129 }, (_, i) => from + (to - from) * share(i));
  gain.setValueCurveAtTime(curve, at, seconds);
}

/** Stop a player behind a gain, without a click and without its saying that it ended. */
function fadeOut(context, out, player) {
  const at = context.currentTime;
  fadeGain(out.gain, 1, 0, at, 0.02);
  player.onended = null;
  player.stop(at + 0.03);
}

/** One change at a time: those asked for meanwhile are made together once it is done. */
function oneAtATime(change) {
  let wanted = false;
  let busy = false;
  return async () => {
    wanted = true;
    if (busy) return;
    busy = true;
    try {
      while (wanted) {
        wanted = false;
        await change();
      }
    } finally {
      busy = false;
    }
  };
}

const pause = (seconds) => new Promise((done) => setTimeout(done, 1000 * seconds));
const decibels = (factor) => {
  const text = (20 * Math.log10(factor)).toFixed(1);
  return `${Number(text) > 0 ? "+" : ""}${Number(text) ? text.replace("-", "\u2212") : "0.0"} dB`;
};

function soundPanel(mount, heading, act) {
  const button = html("button", { type: "button", class: "play" }, "Play");
  const legend = html("legend", { class: "unseen" }, "Play");
  const choices = html("fieldset", { class: "through" }, legend);
  const loop = html("input", { type: "checkbox" });
  const match = html("input", { type: "checkbox" });
  const [low, high, first] = SOUND.levels;
  const level = html("input", { type: "range", min: low, max: high, step: 1, value: first });
  const shown = html("b", { "aria-hidden": "true" });
  const options = html(
    "div",
    { class: "options" },
    html("label", {}, loop, "loop"),
    html("label", {}, match, "match levels (untick it to hear what is louder)"),
    html("label", { class: "level" }, "playback level", level, shown)
  );
  const said = html("p", { role: "status", class: "said" });
  const gains = html("p", { class: "gains" });
  const top = html("div", { class: "top" }, button, choices);
  mount.classList.add("hearing");
  if (heading) mount.append(html("h2", {}, heading));
  mount.append(top, options, said, gains);
  loop.checked = true;

  const radios = new Map();
  const panel = {
    choice: null,
    playing: false,
    top,
    options,
    say(text) {
      if (said.textContent !== text) said.textContent = text; // else it would be read aloud again
    },
    tell: (text) => (gains.textContent = text),
    loops: () => loop.checked,
    matches: () => match.checked,
    setMatch(whether, offered) {
      match.checked = whether;
      match.parentElement.hidden = !offered;
    },
    /** The playback level as a factor; the left end of its travel is silence. */
    level: () => (Number(level.value) === low ? 0 : 10 ** (level.value / 20)),
    /** One more sound to choose: its key, its name, and what stands beside it. */
    choose(key, name, ...beside) {
      const radio = html("input", { type: "radio", name: "play-through", value: key });
      radios.set(key, radio);
      if (panel.choice === null) panel.pick(key);
      radio.addEventListener("change", () => {
        panel.choice = key;
        act.change();
      });
      choices.append(html("div", {}, html("label", {}, radio, html("span", {}, name)), ...beside));
      return radio;
    },
    pick(key) {
      panel.choice = key;
      radios.get(key).checked = true;
    },
    stopped(words) {
      panel.playing = false;
      button.textContent = "Play";
      button.classList.remove("on");
      panel.say(words);
    },
  };

  const turn = () => {
    const words = panel.level() ? `${level.value.replace("-", "\u2212")} dB` : "off";
    shown.textContent = words;
    level.setAttribute("aria-valuetext", words);
  };
  turn();
  level.addEventListener("input", () => {
    turn();
    act.turn();
  });
  loop.addEventListener("change", () => act.loop());
  match.addEventListener("change", () => act.change());
  button.addEventListener("click", () => {
    if (panel.playing) {
      act.stop();
      return;
    }
    panel.playing = true;
    button.textContent = "Stop";
    button.classList.add("on");
    try {
      act.play();
    } catch {
      panel.stopped("This browser gives no sound here; open the page in another one.");
    }
  });
  return panel;
}

/** The way out to the loudspeaker, opened by a listener's act and kept: the playback level. */
function soundOutput(rate, panel) {
  let context = null;
  let gain = null;
  return {
    open() {
      if (!context) {
        context = new AudioContext({ sampleRate: rate });
        gain = context.createGain();
        gain.gain.value = panel.level();
        gain.connect(context.destination);
      }
      context.resume();
      return [context, gain];
    },
    turn() {
      if (context) gain.gain.setTargetAtTime(panel.level(), context.currentTime, 0.02);
    },
  };
}
