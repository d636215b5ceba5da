/** Levels and numbers that were computed beforehand: of each curve at each place of one control. */
function tableLevels(data) {
  const { frequency, step, levels, reference, numbers, full } = data.table;
  const SILENT = -32768;
  const [dial] = data.switches;
  const logs = Float64Array.from(frequency, Math.log10);
  const curves = unpack();

  /** Little-endian 16-bit steps to levels [dB]; behind those of a curve stands its reference. */
  function unpack() {
    const bytes = Uint8Array.from(atob(levels), (c) => c.charCodeAt(0));
    const view = new DataView(bytes.buffer);
    let next = 0;
    const one = () => {
      const steps = view.getInt16(2 * next++, true);
      return steps === SILENT ? -Infinity : steps * step;
    };
    return reference.map((places) =>
      places.map((at) => Float64Array.from([...frequency.map(one), at ?? -Infinity]))
    );
  }

  const at = (settings) => Math.max(0, dial.places.indexOf(settings.places[dial.name]));
  const levelsOf = (build, settings) => curves[build][at(settings)];
  const fullOf = (build) => curves[build][full] ?? null;
  /** Curves that the axis must hold: all places of the control, so that only the curves move. */
  const spanOf = ({ build }) =>
    curves[build].map((levels) => ({ levels, full: fullOf(build) }));
  const numbersOf = ({ build, settings }) => numbers[build][at(settings)].map((x) => x ?? NaN);

  function peakOf(entry) {
    const [kilohertz, height] = numbersOf(entry).slice(-2);
    if (data.columns.at(-1).group !== "peak" || Number.isNaN(kilohertz)) return null;
    return { log: Math.log10(1000 * kilohertz), level: height + entry.levels.at(-1), height };
  }

  /** Levels as sentences take them; see `makeSentences`. The peak is that of the numbers. */
  function curveOf(levels, build, place) {
    const next = data.told ? frequency.findIndex((f) => f >= data.told.treble) : -1;
    const between = () => {
      const share = (Math.log10(data.told.treble) - logs[next - 1]) / (logs[next] - logs[next - 1]);
      return levels[next - 1] + share * (levels[next] - levels[next - 1]);
    };
    const [kilohertz, height] = numbers[build][place].slice(-2);
    return {
      hertz: Float64Array.from(frequency),
      levels: seen(levels),
      bass: levels.at(-1),
      treble: next > 0 ? between() : NaN,
      peak: kilohertz === null ? null : [1000 * kilohertz, height],
    };
  }

  const seen = (values) => values.subarray(0, frequency.length);
  return { logs, seen, at, full, levelsOf, fullOf, spanOf, numbersOf, peakOf, curveOf };
}
