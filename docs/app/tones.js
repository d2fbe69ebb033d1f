/**
 * What each instrument sounds like, worked out as samples: sums of partials, each with a pitch, a strength and a decay
 * of its own, and a breath of noise where a pick, a hammer or a stick strikes. Nothing is recorded, and chance is seeded.
 *
 * A string's partials are those of the plucked string (strength by where it is plucked, a little sharp by stiffness).
 * A phone's speaker gives little below 300 Hz, so low tones get partials there, and strength is measured above it.
 */

/**
 * Facts of a string instrument. `partials`: how many. `stiffness`: B of f(n) = n f √(1 + B n²). `pluck`: where on the
 * string it is struck, as a share of its length. `weak`: Hz below which partials are weak, as of a body too small for
 * them. `bright`: Hz from which partials grow weak, `slope` how fast.
 * `ring`: seconds until the fundamental of A3 has fallen by 60 dB, `dull`: Hz at which a partial falls twice as fast.
 * `rise`: seconds of the attack. `noise`: strength, seconds and Hz of what strikes. `seconds`: the longest tone.
 * @typedef {{partials: number, stiffness: number, pluck: number, weak: number, bright: number, slope: number, ring: number, dull: number, rise: number, noise: [number, number, number], seconds: number}} Strings
 */
/**
 * Facts of struck metal or wood. `modes`: from which to which Hz, how many, strongest at which. `ring`: seconds until they
 * have fallen by 60 dB. `noise`: strength, seconds and the Hz below which there is none. `chance`: the seed.
 * @typedef {{modes: [number, number, number, number], ring: number, noise: [number, number, number], seconds: number, chance: number}} Struck
 */

/** @type {Record<string, Strings>} */
export const STRINGS = {
  guitar: { partials: 28, stiffness: 3e-5, pluck: 0.19, weak: 110, bright: 1500, slope: 3, ring: 3.4, dull: 1700, rise: 0.003, noise: [0.35, 0.006, 2200], seconds: 3 },
  piano: { partials: 24, stiffness: 8e-5, pluck: 0.12, weak: 60, bright: 900, slope: 2.6, ring: 4.5, dull: 1200, rise: 0.004, noise: [0.12, 0.02, 500], seconds: 4 },
  bass: { partials: 30, stiffness: 3e-5, pluck: 0.21, weak: 130, bright: 850, slope: 3, ring: 1.9, dull: 900, rise: 0.004, noise: [0.3, 0.012, 900], seconds: 2 },
};

/** @type {Record<string, Struck>} */
export const STRUCK = {
  ride: { modes: [420, 9000, 48, 3600], ring: 1.5, noise: [0.5, 0.25, 5200], seconds: 1.4, chance: 11 },
  "hi-hat": { modes: [2400, 9500, 24, 6200], ring: 0.12, noise: [1, 0.07, 5600], seconds: 0.25, chance: 5 },
  click: { modes: [1180, 3200, 3, 1900], ring: 0.09, noise: [0.15, 0.004, 1500], seconds: 0.12, chance: 3 },
};

/** A partial that has fallen this far is left out. */
const SILENCE = 3e-4;
/** Hz below which a small speaker gives little. */
const SPEAKER = 280;
/** Seconds in which a tone is brought to nothing where its samples end. */
const END = 0.06;
/** The strength that every tone is brought to, root mean square of its begin as a small speaker gives it. */
const STRENGTH = 0.1;

/** @param {number} midi */
export const frequency = (midi) => 440 * 2 ** ((midi - 69) / 12);

/** @param {string} instrument @param {number} midi the pitch, of a string @param {number} rate samples a second @returns {Float32Array<ArrayBuffer>} */
export function tone(instrument, midi, rate) {
  const [strings, struck] = [STRINGS[instrument], STRUCK[instrument]];
  if (strings) return plucked(strings, midi, rate);
  if (struck) return hit(struck, rate);
  throw new Error(`there is no instrument named ${instrument}`);
}

/** @param {Strings} facts @param {number} midi @param {number} rate */
function plucked({ partials, stiffness, pluck, weak, bright, slope, ring, dull, rise, noise, seconds }, midi, rate) {
  const pitch = frequency(midi);
  const fall = ring * Math.min(1.5, (220 / pitch) ** 0.4);
  const samples = new Float32Array(Math.ceil(Math.min(seconds, fall * 1.1) * rate));
  let heard = 0;
  for (let n = 1; n <= partials; n++) {
    const hertz = n * pitch * Math.sqrt((1 + stiffness * n * n) / (1 + stiffness));
    if (hertz > Math.min(9000, 0.45 * rate)) break;
    const body = 1 / Math.hypot(1, weak / hertz) / Math.sqrt(1 + (hertz / bright) ** slope);
    const strength = (Math.abs(Math.sin(n * Math.PI * pluck)) / n) * body;
    const lasting = (fall * (1 + pitch / dull)) / (1 + hertz / dull);
    const phase = 2.4 * n * n;
    // Most of it falls fast, the rest stays: a string swings in two planes.
    add(samples, rate, hertz, strength * 0.65, lasting * 0.55, phase);
    add(samples, rate, hertz, strength * 0.35, lasting, phase);
    heard += (strength * audible(hertz)) ** 2 / 2;
  }
  const strength = Math.sqrt(heard);
  burst(samples, rate, [noise[0] * strength, noise[1], noise[2]], 1 + midi);
  return shaped(samples, rate, rise, STRENGTH / strength);
}

/** @param {Struck} facts @param {number} rate */
function hit({ modes: [low, high, count, strongest], ring, noise, seconds, chance }, rate) {
  const draw = chances(chance);
  const samples = new Float32Array(Math.ceil(seconds * rate));
  let heard = 0;
  for (let n = 0; n < count; n++) {
    const hertz = low * (high / low) ** ((n + draw()) / count);
    const strength = (0.4 + draw()) / (1 + 4 * Math.log2(hertz / strongest) ** 2) / Math.sqrt(count);
    add(samples, rate, hertz, strength, ring * Math.min(1.6, (strongest / hertz) ** 0.5), 6.28 * draw());
    heard += (strength * audible(hertz)) ** 2 / 2;
  }
  const strength = Math.sqrt(heard);
  burst(samples, rate, [noise[0] * strength, noise[1], noise[2]], chance);
  return shaped(samples, rate, 0.001, STRENGTH / strength);
}

/** How much of a frequency a small speaker gives. @param {number} hertz */
const audible = (hertz) => 1 / (1 + (SPEAKER / hertz) ** 2);

/**
 * Adds a partial that falls by 60 dB in `lasting` seconds.
 * @param {Float32Array} samples @param {number} rate @param {number} hertz @param {number} strength @param {number} lasting @param {number} phase
 */
function add(samples, rate, hertz, strength, lasting, phase) {
  const step = (2 * Math.PI * hertz) / rate;
  const keep = 10 ** (-3 / (lasting * rate));
  // A resonator: each sample follows from the two before it.
  const [one, two] = [2 * keep * Math.cos(step), -keep * keep];
  let last = strength * Math.sin(phase);
  let before = (strength / keep) * Math.sin(phase - step);
  const end = Math.min(samples.length, Math.log(SILENCE / strength) / Math.log(keep));
  for (let index = 0; index < end; index++) {
    samples[index] = (samples[index] ?? 0) + last;
    const next = one * last + two * before;
    before = last;
    last = next;
  }
}

/**
 * Adds noise that falls by 60 dB in some seconds, without what lies below `low` Hz.
 * @param {Float32Array} samples @param {number} rate @param {[number, number, number]} noise @param {number} chance
 */
function burst(samples, rate, [strength, lasting, low], chance) {
  const draw = chances(chance);
  const keep = 10 ** (-3 / (lasting * rate));
  const pass = Math.exp((-2 * Math.PI * low) / rate);
  let [level, before, passed] = [strength * 2, 0, 0];
  const end = Math.min(samples.length, lasting * rate);
  for (let index = 0; index < end; index++) {
    const drawn = 2 * draw() - 1;
    passed = pass * (passed + drawn - before);
    before = drawn;
    samples[index] = (samples[index] ?? 0) + level * passed;
    level *= keep;
  }
}

/** Brings a tone to a strength, in without a click and out without one. @param {Float32Array<ArrayBuffer>} samples @param {number} rate @param {number} rise @param {number} factor */
function shaped(samples, rate, rise, factor) {
  const [begin, end] = [Math.ceil(rise * rate), Math.ceil(END * rate)];
  for (let index = 0; index < samples.length; index++) {
    const rest = samples.length - 1 - index;
    const inward = index < begin ? 0.5 - 0.5 * Math.cos((Math.PI * index) / begin) : 1;
    samples[index] = (samples[index] ?? 0) * factor * inward * Math.min(1, rest / end);
  }
  return samples;
}

/** What a small room answers: noise that grows dark and falls. @param {number} rate @param {number} seconds @returns {Float32Array<ArrayBuffer>} */
export function room(rate, seconds) {
  const draw = chances(7);
  const samples = new Float32Array(Math.ceil(seconds * rate));
  let dark = 0;
  for (let index = 0; index < samples.length; index++) {
    const share = index / samples.length;
    dark += (2 * draw() - 1 - dark) * (0.6 - 0.45 * share);
    samples[index] = dark * (1 - share) ** 3;
  }
  return samples;
}

/** Numbers from 0 to 1 that look like chance and are always the same (a 32-bit generator of its own). @param {number} seed */
function chances(seed) {
  let state = seed * 0x9e3779b9;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}
