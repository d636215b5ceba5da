/* Sounds that are there already: one is heard at a time, all at the same place of each. */
function makeListening(mount, data) {
  const AHEAD = 0.01; // s, so that nothing begins in the past

  /** 16-bit samples, least byte first, in base64: a channel for each sound, at its full scale. */
  function unpack(texts) {
    const bytes = texts.map((text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)));
    const length = bytes[0].length / 2;
    const buffer = new AudioBuffer({ length, numberOfChannels: texts.length, sampleRate: data.rate });
    bytes.forEach((one, channel) => {
      const view = new DataView(one.buffer);
      const samples = buffer.getChannelData(channel);
      for (let i = 0; i < length; i++) samples[i] = view.getInt16(2 * i, true) / 32767;
    });
    return buffer;
  }

  /** All sounds as channels of one, so that none is ever ahead; each has a gain of its own. */
  function chain(context, sounds, loop, output) {
    const out = context.createGain();
    out.connect(output);
    const player = context.createBufferSource();
    player.buffer = sounds;
    player.loop = loop;
    const splitter = context.createChannelSplitter(sounds.numberOfChannels);
    player.connect(splitter);
    const gains = Array.from({ length: sounds.numberOfChannels }, (_, i) => {
      const node = context.createGain();
      node.gain.value = 0;
      splitter.connect(node, i);
      node.connect(out);
      return node.gain;
    });
    let heard = null;
    return {
      player,
      /** Fade to a sound and its gain; the time at which that is done. */
      hear(index, gain) {
        const at = context.currentTime + AHEAD;
        const last = heard;
        heard = { index, gain };
        if (!last) {
          gains[index].value = gain;
          player.start();
          return at;
        }
        if (last.index !== index) fadeGain(gains[last.index], last.gain, 0, at);
        fadeGain(gains[index], last.index === index ? last.gain : 0, gain, at);
        return at + SOUND.fade;
      },
      time: () => context.currentTime,
      stop: () => fadeOut(context, out, player),
    };
  }

  // -- in the page -------------------------------------------------------------------------------

  let sounds = null;
  let playing = null;

  const settle = oneAtATime(async () => {
    const now = playing;
    if (!now) return;
    const clip = data.clips[panel.choice];
    const end = now.hear(Number(panel.choice), panel.matches() ? clip.matched : clip.gain);
    panel.say(`Playing ${clip.name}.`);
    panel.tell(panel.matches() ? data.words.matched : data.words.plain);
    while (now === playing && now.time() < end) await pause(0.01);
  });

  const panel = soundPanel(mount, "", {
    play() {
      const [context, output] = out.open();
      sounds ??= unpack(data.clips.map(({ samples }) => samples));
      playing = chain(context, sounds, panel.loops(), output);
      playing.player.onended = () => {
        playing = null;
        panel.stopped("The sound has ended.");
      };
      settle();
    },
    stop() {
      playing.stop();
      playing = null;
      panel.stopped("Stopped.");
    },
    change: settle,
    loop() {
      if (playing) playing.player.loop = panel.loops();
    },
    turn: () => out.turn(),
  });
  const out = soundOutput(data.rate, panel);
  data.clips.forEach(({ name }, i) => panel.choose(String(i), name));
  panel.setMatch(data.match, data.clips.length > 1);
  if (data.clips.length > 1) panel.say("Play, and change between the sounds while they go on.");
  panel.tell(data.match ? data.words.matched : data.words.plain);
  return { unpack, chain };
}
