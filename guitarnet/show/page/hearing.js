/*
 * makeHearing(mount, source, chose): a plucked string, or the listener's own file, through curves
 * that the page computes. `chose()` is called back when the listener has chosen what to compare.
 *
 * source.names()                      names of the curves, always as many
 * source.response(index, frequencies) { re, im } over frequencies [Hz], 0 among them
 * source.onChange(callback)           takes what to call when a curve has changed
 */
function makeHearing(mount, source, chose = () => {}) {
  const RATE = 48000; // of what is played; the browser makes the loudspeaker's of it
  const FILL = 0.05; // s in which a new filter takes in what came before it is heard
  const BEFORE = 256; // samples by which every filter is late, room for what rings before 0
  const [SHORT, LONG] = [8192, 65536]; // samples of a filter
  const GONE = 1e-4; // what of a filter may be left at its end
  const SILENT = 3e-5; // of the string's own level: 90 dB
  const LONGEST = 30; // s of a listener's file
  const LARGEST = 200e6; // bytes of it
  const KEY = "x"; // changes between A and B

  /** Fourier transform in place, its length a power of 2. */
  function transform(re, im) {
    const count = re.length;
    for (let i = 1, j = 0; i < count; i++) {
      let bit = count >> 1;
      for (; j & bit; bit >>= 1) j ^= bit;
      j ^= bit;
      if (i < j) {
        [re[i], re[j]] = [re[j], re[i]];
        [im[i], im[j]] = [im[j], im[i]];
      }
    }
    const turns = Float64Array.from({ length: count / 2 }, (_, k) => (2 * Math.PI * k) / count);
    const [cos, sin] = [turns.map(Math.cos), turns.map(Math.sin)];
    for (let size = 2; size <= count; size *= 2) {
      const half = size / 2;
      const step = count / size;
      for (let first = 0; first < count; first += size) {
        for (let k = 0; k < half; k++) {
          const a = first + k;
          const b = a + half;
          const c = cos[k * step];
          const s = -sin[k * step];
          const x = re[b] * c - im[b] * s;
          const y = re[b] * s + im[b] * c;
          re[b] = re[a] - x;
          im[b] = im[a] - y;
          re[a] += x;
          im[a] += y;
        }
      }
    }
  }

  /**
   * The filter of a response: its inverse transform. A guitar still passes a little at half the
   * sampling rate; cut off there its filter would ring for long, so the top 18 % of the band fade
   * to nothing. What then rings before 0 has room in the first samples.
   */
  function sampled(response, rate, count) {
    const half = count / 2;
    const frequencies = Float64Array.from({ length: half + 1 }, (_, k) => (k * rate) / count);
    const found = response(frequencies);
    const re = new Float64Array(count);
    const im = new Float64Array(count);
    let most = 0;
    for (let k = 0; k <= half; k++) {
      const place = Math.max(0, (k / half - 0.82) / 0.18);
      const share = (0.5 + 0.5 * Math.cos(Math.PI * place)) / count;
      if (!Number.isFinite(found.re[k] + found.im[k])) throw new RangeError("not finite");
      re[k] = share * found.re[k];
      im[k] = k ? -share * found.im[k] : 0;
      most = Math.max(most, Math.hypot(found.re[k], found.im[k]));
      if (k && k < half) {
        re[count - k] = re[k];
        im[count - k] = -im[k];
      }
    }
    transform(re, im);
    let left = 0;
    for (let i = Math.floor(0.875 * count); i < count - 2 * BEFORE; i++) left += Math.abs(re[i]);
    const kernel = Float32Array.from(re, (_, i) => re[(i - BEFORE + count) % count]);
    return [kernel, left <= GONE * most];
  }

  function kernelOf(response, rate) {
    for (let count = SHORT; ; count *= 2) {
      const [kernel, faded] = sampled(response, rate, count);
      if (faded || count === LONG) return kernel;
    }
  }

  /** Curve by index; without one it is the sound itself, late and band-limited as the others. */
  function kernel(index, rate) {
    if (index !== null) return kernelOf((f) => source.response(index, f), rate);
    return kernelOf((f) => ({ re: f.map(() => 1), im: f.map(() => 0) }), rate);
  }

  /** A plucked string: sum over n of a_n sin(2 pi f_n t) e^(-s_n t), each by a recurrence. */
  function pluck(clip, rate) {
    const count = Math.round(clip.duration * rate);
    const total = new Float64Array(count);
    const slow = Math.log(1000) / clip.fade;
    const bend = (Math.log(1000) / clip.treble_fade - slow) / 5000 ** 2;
    clip.string.forEach((first, number) => {
      const start = Math.round(number * clip.apart * rate);
      for (let n = 1; n * first <= 0.45 * rate; n++) {
        const f = n * first * Math.sqrt(1 + clip.stiffness * n * n);
        if (f >= 0.45 * rate) break;
        const at = (place) => Math.sin((Math.PI * n * place) / clip.scale);
        const decay = slow + bend * f * f;
        const shrink = Math.exp(-decay / rate);
        const turn = (2 * Math.PI * f) / rate;
        const [a, b] = [2 * shrink * Math.cos(turn), shrink * shrink];
        let now = 0;
        let next = ((clip.level * at(clip.distance) * at(clip.pickup)) / n) * shrink * Math.sin(turn);
        const end = Math.min(count, start + Math.floor((Math.log(1e6) / decay) * rate) + 1);
        for (let i = start; i < end; i++) {
          total[i] += now;
          const after = a * next - b * now;
          now = next;
          next = after;
        }
      }
    });
    const last = Math.min(count, Math.round(0.02 * rate));
    for (let i = 0; i < last; i++) {
      total[count - last + i] *= Math.cos((Math.PI / 2) * (i / (last - 1))) ** 2;
    }
    return total;
  }

  function mono(samples, rate) {
    const buffer = new AudioBuffer({ length: samples.length, numberOfChannels: 1, sampleRate: rate });
    buffer.getChannelData(0).set(samples);
    return buffer;
  }

  /** A sound that plays through one filter at a time; a new one is faded in. */
  function chain(context, clip, loop, output) {
    const player = context.createBufferSource();
    player.buffer = clip;
    player.loop = loop;
    const out = context.createGain();
    out.connect(output);
    let voices = [];
    return {
      player,
      /** Fade to a filter and a gain; the time at which that is done. */
      hear(filter, gain) {
        const convolver = context.createConvolver();
        convolver.normalize = false;
        convolver.buffer = mono(filter, context.sampleRate);
        const level = context.createGain();
        player.connect(convolver).connect(level).connect(out);
        const old = voices.at(-1);
        const at = context.currentTime + FILL;
        level.gain.value = old ? 0 : gain;
        if (old) {
          fadeGain(level.gain, 0, gain, at);
          fadeGain(old.level.gain, old.gain, 0, at);
        } else player.start();
        voices.push({ convolver, level, gain });
        return at + SOUND.fade;
      },
      time: () => context.currentTime,
      /** Take away what has faded out. */
      tidy() {
        for (const { convolver, level } of voices.slice(0, -1)) {
          player.disconnect(convolver);
          level.disconnect();
        }
        voices = voices.slice(-1);
      },
      stop: () => voices.length && fadeOut(context, out, player),
    };
  }

  /** Root mean square and largest sample of a clip through a filter, over all it rings. */
  async function measure(clip, filter) {
    const length = clip.length + filter.length;
    const context = new OfflineAudioContext(clip.numberOfChannels, length, clip.sampleRate);
    chain(context, clip, false, context.destination).hear(filter, 1);
    const heard = await context.startRendering();
    let [power, peak] = [0, 0];
    for (let channel = 0; channel < heard.numberOfChannels; channel++) {
      for (const sample of heard.getChannelData(channel)) {
        power += sample * sample;
        peak = Math.max(peak, Math.abs(sample));
      }
    }
    return { rms: Math.sqrt(power / length / heard.numberOfChannels), peak };
  }

  /**
   * Gains for what is compared, the string itself last. Matched: all as loud as the quietest that
   * sounds, then turned up or down together. Else one gain for all, never above `held`, so that
   * what a knob does to the level is heard.
   */
  function gainsOf(levels, matched, held) {
    const floor = SILENT * levels.at(-1).rms;
    const quietest = Math.min(...levels.map(({ rms }) => (rms > floor ? rms : Infinity)));
    const factors = levels.map(({ rms }) => (matched && rms > floor ? quietest / rms : 1));
    const most = Math.max(...levels.map(({ peak }, i) => peak * factors[i]));
    const common = most ? SOUND.loudest / most : 1;
    return factors.map((factor) => factor * (matched ? common : Math.min(common, held)));
  }

  // -- in the page -------------------------------------------------------------------------------

  const sounds = PLUCKED.map((how) => ({ name: how.name, make: () => mono(pluck(how, RATE), RATE) }));
  let clip = sounds[0];
  let playing = null;
  let held = Infinity; // the gain that serves all, lowered where a curve would clip
  let known = new Map(); // levels of this clip by curve, until a curve changes
  let names = source.names();
  const lanes = new Map(names.length > 1 ? [["A", 0], ["B", 1]] : [["A", 0]]);
  lanes.set("straight", null);

  /** Filter of a curve, and the levels of this clip through it, found once. */
  function heardThrough(index, cache) {
    const find = async () => {
      const filter = kernel(index, RATE);
      return { filter, ...(await measure(clip.buffer, filter)) };
    };
    if (!cache.has(index)) cache.set(index, find());
    return cache.get(index);
  }

  const settle = oneAtATime(async () => {
    const now = playing;
    if (!now) return;
    let ready;
    try {
      ready = await Promise.all([...lanes.values()].map((index) => heardThrough(index, known)));
    } catch (problem) {
      if (!(problem instanceof RangeError)) throw problem;
      halt("This curve is not finite and cannot be played; change a setting.");
      return;
    }
    if (now !== playing) return;
    const straight = ready.at(-1);
    const own = straight.peak ? SOUND.loudest / straight.peak : 1;
    const gains = gainsOf(ready, panel.matches(), Math.min(held, own));
    if (!panel.matches()) held = gains[0];
    const place = [...lanes.keys()].indexOf(panel.choice);
    const end = now.hear(ready[place].filter, gains[place]);
    tell(ready, gains.map((gain) => gain / own));
    // The clock of the sound, which may stand still where nothing plays it.
    while (now === playing && now.time() < end) await pause(0.02);
    now.tidy();
  });

  function begin() {
    const [context, output] = out.open();
    clip.buffer ??= clip.make();
    playing = chain(context, clip.buffer, panel.loops(), output);
    panel.say("Preparing the sound.");
    playing.player.onended = () => halt("The sound has ended.");
    settle();
  }

  const panel = soundPanel(mount, "Hear it", {
    play: begin,
    stop: () => halt("Stopped."),
    change,
    loop() {
      if (playing) playing.player.loop = panel.loops();
    },
    turn: () => out.turn(),
  });
  const out = soundOutput(RATE, panel);

  function change() {
    chose();
    settle();
  }

  function halt(words) {
    playing?.stop();
    playing = null;
    panel.stopped(words);
    panel.tell("");
  }

  function called(lane) {
    const index = lanes.get(lane);
    return index === null ? `straight from the ${clip.from ?? "string"}` : `${lane}: ${names[index]}`;
  }

  /** Which of them plays, and what was done to the levels. */
  function tell(ready, gains) {
    const place = [...lanes.keys()].indexOf(panel.choice);
    const silent = ready.map(({ rms }) => !(rms > SILENT * ready.at(-1).rms));
    panel.say(`Playing ${called(panel.choice)}${silent[place] ? " (silent)" : ""}.`);
    const each = [...lanes.keys()].map((lane, i) =>
      `${lane} ${silent[i] ? "silent" : decibels(gains[i])}`
    );
    const matched =
      "Levels are matched, so that you hear the tone and not what is louder. " +
      `Gain ${each.join(", ")}: equal rms over the whole sound.`;
    const common = `The true difference in level: one gain for all, ${decibels(gains[0])}.`;
    const zero = "At 0 dB the sound's own peak is at \u22121 dB of full scale.";
    panel.tell(`${panel.matches() ? matched : common} ${zero}`);
  }

  const showing = []; // each writes the names and the choice of one lane

  function laneChoice(lane) {
    const select = html("select", { "aria-label": `${lane} is` });
    names.forEach((name, i) => select.append(html("option", { value: i }, name)));
    const radio = panel.choose(lane, lane, select);
    const show = () => {
      names.forEach((name, i) => (select.options[i].textContent = name));
      select.value = lanes.get(lane);
      radio.setAttribute("aria-label", called(lane));
    };
    select.addEventListener("change", () => {
      lanes.set(lane, Number(select.value));
      show();
      change();
    });
    showing.push(show);
    show();
  }

  /** What is compared, as text: which plays, whether levels are matched, and the curves. */
  function chosen() {
    const matched = panel.matches() ? "matched" : "plain";
    return [panel.choice, matched, ...[...lanes.values()].slice(0, -1)].join();
  }

  /** The same from text; what does not fit changes nothing. */
  function choose(text) {
    const [play, matched, ...curves] = text.split(",");
    const fits =
      lanes.has(play) &&
      ["matched", "plain"].includes(matched) &&
      curves.length === lanes.size - 1 &&
      curves.every((curve) => /^\d$/.test(curve) && Number(curve) < names.length);
    if (!fits) return;
    [...lanes.keys()].slice(0, -1).forEach((lane, i) => lanes.set(lane, Number(curves[i])));
    panel.pick(play);
    panel.setMatch(matched === "matched", true);
    showing.forEach((show) => show());
  }

  /** Another sound from its beginning, at the level that suits it. */
  function changeClip(next) {
    clip = next;
    straight.nextElementSibling.textContent = called("straight");
    held = Infinity;
    known = new Map();
    if (!playing) return;
    playing.stop();
    begin();
  }

  async function readFile(file) {
    const name = `\u201c${file.name}\u201d`;
    if (file.size > LARGEST) throw `${name} is too large; cut out the part to listen to.`;
    const decoder = new OfflineAudioContext(1, 1, RATE);
    let whole;
    try {
      whole = await decoder.decodeAudioData(await file.arrayBuffer());
    } catch {
      throw `${name} cannot be read as sound; choose a WAV, FLAC, MP3 or Ogg file.`;
    }
    const length = Math.min(whole.length, LONGEST * RATE);
    const channels = whole.numberOfChannels;
    const buffer = new AudioBuffer({ length, numberOfChannels: channels, sampleRate: RATE });
    for (let i = 0; i < channels; i++) {
      buffer.copyToChannel(whole.getChannelData(i).subarray(0, length), i);
    }
    return [buffer, whole.length > length];
  }

  function clipChoice() {
    const select = html("select", { "aria-label": "sound" });
    const add = (sound, i) => select.append(html("option", { value: i }, sound.name));
    sounds.forEach(add);
    select.addEventListener("change", () => changeClip(sounds[select.value]));
    const input = html("input", { type: "file", accept: "audio/*", class: "unseen" });
    input.addEventListener("change", async () => {
      const file = input.files[0];
      if (!file) return;
      input.value = ""; // so that the same file can be chosen again
      try {
        const [buffer, cut] = await readFile(file);
        sounds.push({ name: file.name, from: "file", buffer });
        add(sounds.at(-1), sounds.length - 1);
        select.value = sounds.length - 1;
        changeClip(sounds.at(-1));
        panel.say(`\u201c${file.name}\u201d is chosen${cut ? `: its first ${LONGEST} s` : ""}.`);
      } catch (words) {
        if (typeof words !== "string") throw words;
        panel.say(words);
      }
    });
    const own = html("label", { class: "own" }, input, "your own file \u2026");
    panel.options.before(html("div", { class: "options" }, html("label", {}, "sound", select), own));
  }

  for (const [lane, index] of lanes) {
    if (index !== null) laneChoice(lane);
  }
  panel.setMatch(true, true);
  // One key changes between A and B; it works in this part of the page alone, and not in lists.
  mount.addEventListener("keydown", (event) => {
    const { target, key, ctrlKey, metaKey, altKey } = event;
    if (key.toLowerCase() !== KEY || ctrlKey || metaKey || altKey || !lanes.has("B")) return;
    if (target.tagName === "SELECT") return;
    panel.pick(panel.choice === "A" ? "B" : "A");
    change();
  });
  const straight = panel.choose("straight", called("straight"));
  clipChoice();
  source.onChange(() => {
    known = new Map([...known].filter(([index]) => index === null));
    names = source.names();
    showing.forEach((show) => show());
    settle();
  });
  mount.append(
    html(
      "p",
      { class: "notes" },
      `${WORDS} What plays is the circuit's output voltage alone: no amplifier, no loudspeaker, no ` +
        "room. A file of your own stays in this page and is sent nowhere; one recorded through " +
        "pickups has a guitar in it already."
    )
  );
  panel.say(
    "Play it, and turn a knob while it sounds." +
      (lanes.has("B") ? ` The key ${KEY.toUpperCase()} changes between A and B.` : "")
  );
  return { kernel, pluck, chain, measure, gainsOf, chosen, choose };
}
