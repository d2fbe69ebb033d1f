/** Where the instruments stand: their samples, how loud each is and where, a small room, and a ceiling above them all. */

import { Context, Convolver, Gain, Panner, Sampler, ToneAudioBuffer, setContext } from "./tone.js";
import { STRINGS, frequency, room, tone } from "./tones.js";

/** `level`: what an instrument is multiplied by. `side`: from -1, left, to 1. `release`: seconds. @type {Record<string, {level: number, side: number, release: number}>} */
const PLACES = {
  guitar: { level: 2.4, side: 0, release: 0.08 },
  piano: { level: 1.2, side: -0.3, release: 0.12 },
  bass: { level: 1.7, side: 0.1, release: 0.07 },
  ride: { level: 1.2, side: 0.3, release: 0.1 },
  "hi-hat": { level: 4.5, side: 0.35, release: 0.05 },
  click: { level: 3.6, side: 0, release: 0.05 },
};

/** Half steps between tones that are worked out; a pitch between is the nearest of them, played faster or slower. */
const GRID = 3;
/** Under which pitch a sampler has what is struck. */
const STRUCK = 60;
const ROOM = { level: 0.14, seconds: 0.35 };
/** Up to the knee a sample stays as it is, and none gets past the ceiling: -1 dB of what can be played is 0.891. */
const [KNEE, CEILING] = [0.55, 0.885];
/** How far above what can be played the curve of the ceiling reaches, and of how many points it is. */
const [REACH, POINTS] = [4, 8193];

/** Samples of the tones, worked out once. @type {Map<string, Float32Array<ArrayBuffer>>} */
const worked = new Map();
/** Tone's view of each context of the browser's. @type {WeakMap<BaseAudioContext, Context>} */
const contexts = new WeakMap();

/** It brings no clock, since what plays has one of its own. @param {AudioContext | OfflineAudioContext} context @returns {Context} */
export function contextOf(context) {
  const found = contexts.get(context) ?? new Context({ context, clockSource: "offline", lookAhead: 0 });
  contexts.set(context, found);
  return found;
}

/**
 * The curve that limits. The browsers' compressor would come milliseconds late, overshoot, and make all else louder.
 * @returns {Float32Array<ArrayBuffer>}
 */
function ceiling() {
  return Float32Array.from({ length: POINTS }, (_, index) => {
    const sample = REACH * ((2 * index) / (POINTS - 1) - 1);
    const over = Math.abs(sample) - KNEE;
    return over <= 0 ? sample : Math.sign(sample) * (KNEE + (CEILING - KNEE) * Math.tanh(over / (CEILING - KNEE)));
  });
}

/** The instruments in a context. */
export class Stage {
  /** @param {Context} context Tone's */
  constructor(context) {
    // Whatever is made without being told where looks there, and else opens a context of its own.
    setContext(context);
    this.context = context;
    /** @type {Map<string, Sampler>} */
    this.samplers = new Map();
    /** Which tones they have. @type {Set<string>} */
    this.ready = new Set();
    this.out = new Gain({ context });
    this.bus = new Gain({ context, gain: 1 / REACH });
    const limit = context.createWaveShaper();
    limit.curve = ceiling();
    this.bus.chain(limit, this.out);
    // Tone's own way out also sets up a listener in space, which Firefox's contexts have not.
    this.out.connect(/** @type {AudioNode} */ (context.rawContext.destination));
    this.walls = new Convolver({ context, url: this.#buffer("room", () => room(context.sampleRate, ROOM.seconds)) });
    this.send = new Gain({ context, gain: ROOM.level });
    this.send.chain(this.walls, this.bus);
    /** @type {import("tone/build/esm/core/context/ToneAudioNode.js").ToneAudioNode[]} */
    this.nodes = [this.out, this.bus, this.walls, this.send];
  }

  /**
   * Works out the tone that a note will need.
   * @param {string} instrument @param {number | null} midi
   * @returns {boolean} whether it was not worked out before
   */
  prepare(instrument, midi) {
    const [root, name] = this.#root(instrument, midi);
    if (this.ready.has(name)) return false;
    this.ready.add(name);
    const isWorked = worked.has(`${this.context.sampleRate} ${name}`);
    this.#sampler(instrument).add(/** @type {any} */ (root), this.#buffer(name, () => tone(instrument, root, this.context.sampleRate)));
    return !isWorked;
  }

  /** Whether a note's tone was worked out already. @param {string} instrument @param {number | null} midi */
  has(instrument, midi) {
    return worked.has(`${this.context.sampleRate} ${this.#root(instrument, midi)[1]}`);
  }

  /**
   * Plays a note.
   * @param {string} instrument @param {number | null} midi none for what has no pitch; that rings as long as it does
   * @param {number} time @param {number} length in seconds @param {number} loudness from 0 to 1
   */
  strike(instrument, midi, time, length, loudness) {
    this.prepare(instrument, midi);
    const sampler = this.#sampler(instrument);
    // As MIDI's velocity is usually heard: half of it is 12 dB less.
    const gain = loudness * loudness;
    if (STRINGS[instrument]) sampler.triggerAttackRelease(frequency(midi ?? STRUCK), length, time, gain);
    else sampler.triggerAttack(frequency(STRUCK), time, gain);
  }

  /** Lets what is over go. Tone does this by its own clock, where it has one. */
  tick() {
    this.context.emit("tick");
  }

  /** Brings all to silence. @param {number} seconds */
  fade(seconds) {
    this.out.gain.rampTo(0, seconds);
  }

  dispose() {
    for (const sampler of this.samplers.values()) sampler.dispose();
    for (const node of this.nodes) node.dispose();
  }

  /** Which tone a note is played from, and that tone's name. @param {string} instrument @param {number | null} midi @returns {[number, string]} */
  #root(instrument, midi) {
    const root = STRINGS[instrument] ? Math.round((midi ?? 0) / GRID) * GRID : STRUCK;
    return [root, `${instrument} ${root}`];
  }

  /** @param {string} instrument @returns {Sampler} */
  #sampler(instrument) {
    const found = this.samplers.get(instrument);
    if (found) return found;
    const place = PLACES[instrument];
    if (!place) throw new Error(`there is no instrument named ${instrument}`);
    const { context } = this;
    const sampler = new Sampler({ context, release: place.release });
    const level = new Gain({ context, gain: place.level });
    const side = new Panner({ context, pan: place.side, channelCount: 1 });
    sampler.chain(level, side, this.bus);
    level.connect(this.send);
    this.nodes.push(level, side);
    this.samplers.set(instrument, sampler);
    return sampler;
  }

  /** @param {string} name @param {() => Float32Array<ArrayBuffer>} make */
  #buffer(name, make) {
    const { sampleRate } = this.context;
    const key = `${sampleRate} ${name}`;
    const samples = worked.get(key) ?? make();
    worked.set(key, samples);
    const buffer = this.context.createBuffer(1, samples.length, sampleRate);
    buffer.copyToChannel(samples, 0);
    return new ToneAudioBuffer(buffer);
  }
}
