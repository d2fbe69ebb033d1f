/**
 * Plays what the engine has arranged: the bundle with Tone.js and the instruments, which sound.js loads with the first tap.
 *
 * The data are seconds and pitches (engine/sound/arrangement.py); here they become notes at exact times of the audio
 * clock. Nothing is ever counted on from the note before, so nothing drifts.
 */

import { Stage, contextOf } from "./stage.js";

export { ready } from "./tone.js";

/** Start and length in seconds, MIDI pitch, loudness, number of the instrument, note of the line. @typedef {[number, number, number | null, number, number, number | null]} Event */
/**
 * `more` tells that parts follow, each all that happens after the one before; length and loop are those of the whole.
 * @typedef {{v: 1, length: number, events: Event[], instruments: string[], chapters: [number, any][], loop: [number, number] | null, more?: string | null}} Arrangement
 */
/**
 * Who wants to know: of a line's note that begins or ends to sound, of a chapter that begins, of the end.
 * @typedef {{onNote?: (index: number, isOn: boolean) => void, onChapter?: (chapter: any) => void, onEnd?: () => void, from?: number, late?: number}} Wishes
 */
/** Something that happens at a second. @typedef {{time: number, event?: Event, chapter?: any}} Moment */

/** Seconds from the begin of playing to the first note: what the browser needs to get it ready. */
const LEAD = 0.08;
/** Seconds for which notes are given to the browser ahead of time; a page may be busy for this long and no note is late. */
const AHEAD = 1;
/** Seconds for which tones are worked out before the first sound, so that it comes soon. */
const FIRST = 0.3;
/** Seconds within which tones are worked out ahead, one at a time. */
const PREPARED = 5;
/** Milliseconds between two looks at what comes. */
const PULSE = 50;
/** A note that is later than this many seconds is left out rather than played: it would stumble. */
const TOO_LATE = 0.05;
/** Seconds of falling silent, after a stop and at the end. */
const FADE = 0.03;
const TAIL = 0.6;

/** All that happens, in order, as far as it is known. */
class Score {
  /** @type {Moment[]} */
  all = [];
  isWhole = false;

  /** @param {Arrangement} data @param {number} from seconds to leave out */
  constructor(data, from) {
    this.from = from;
    this.loop = data.loop;
    this.add(data);
  }

  /** @param {Pick<Arrangement, "events" | "chapters" | "more">} part what follows */
  add({ events, chapters, more }) {
    /** @type {Moment[]} */
    const part = [...chapters.map(([time, chapter]) => ({ time, chapter })), ...events.map((event) => ({ time: event[0], event }))];
    // The order is kept among those that happen at once: a chapter comes before its first note.
    this.all.push(...part.sort((one, other) => one.time - other.time));
    this.isWhole = !more;
  }

  /** Nothing follows; it ends with what is there. @returns {number} when that is over */
  close() {
    [this.isWhole, this.loop] = [true, null];
    return Math.max(0, ...this.all.map(({ time, event }) => time + (event?.[1] ?? 0)));
  }

  /** One after the other, undefined where the next one is not known yet; without an end in a loop. @returns {Generator<Moment | undefined, void>} */
  *read() {
    for (let place = 0; place < this.all.length || !this.isWhole; ) {
      const moment = this.all[place];
      if (moment) place += 1;
      if (!moment || (this.from <= moment.time && moment.time < (this.loop?.[1] ?? Infinity))) yield moment;
    }
    if (!this.loop) return;
    const [begin, end] = this.loop;
    const again = this.all.filter(({ time }) => begin <= time && time < end);
    if (!again.length || end <= begin) return;
    for (let lap = 1; ; lap++) for (const moment of again) yield { ...moment, time: moment.time + lap * (end - begin) };
  }
}

/** Reads a score, a moment at a time. */
class Reader {
  /** @param {Score} score */
  constructor(score) {
    this.coming = score.read();
    this.next = this.coming.next();
  }

  /** What comes before a second and was not taken yet. @param {number} time @returns {Moment | undefined} */
  before(time) {
    if (!this.next.done && !this.next.value) this.take();
    const moment = this.next.done ? undefined : this.next.value;
    return moment && moment.time < time ? moment : undefined;
  }

  take() {
    this.next = this.coming.next();
  }
}

/**
 * Plays an arrangement.
 * @param {AudioContext} context one that runs @param {Arrangement} data
 * @param {Wishes} [wishes] `from`: seconds to leave out; `late`: seconds by which sound comes later than the browser knows
 * @returns {{stop: () => void, late: () => number, second: (stamp: number) => number, add: (part: Arrangement | undefined) => void}}
 *   `late`: how many notes could not be given to the browser in time; `second`: which second of it is heard at a time of the
 *   page's clock, as far as the browser knows; `add` takes the parts that follow, or that none does
 */
export function play(context, data, { onNote, onChapter, onEnd, from = 0, late: lag = 0 } = {}) {
  const stage = new Stage(contextOf(context));
  const score = new Score(data, from);
  const coming = new Reader(score);
  /** What is to be prepared is looked at earlier. */
  const needed = new Reader(score);
  let { length } = data;
  /** What is told when it is heard: seconds and what to do, in order. @type {{time: number, tell: () => void}[]} */
  const told = [];
  let [late, over] = [0, false];

  /** @param {number} time @param {() => void} tell */
  const later = (time, tell) => {
    let place = told.length;
    while (place && /** @type {{time: number}} */ (told[place - 1]).time > time) place -= 1;
    told.splice(place, 0, { time, tell });
  };

  /** @param {Moment} moment @returns {boolean} whether its tone is still to be worked out */
  const isNew = ({ event }) => event !== undefined && !stage.has(data.instruments[event[4]] ?? "", event[2]);

  /** @param {Moment} moment @returns {boolean} whether there was anything to do */
  const ready = ({ event }) => event !== undefined && stage.prepare(data.instruments[event[4]] ?? "", event[2]);

  // What the first sounds need is worked out before the clock is read.
  for (let need; (need = needed.before(from + FIRST)); needed.take()) ready(need);
  const zero = context.currentTime + LEAD - from;
  /** What the browser has come to, as it is heard: what it knows of its own delay is the device's, not the headphones'. */
  const heard = () => context.currentTime - (context.outputLatency || context.baseLatency || 0);

  /** @param {Moment} moment */
  const perform = ({ time, event, chapter }) => {
    const when = zero + time;
    if (!event) return later(when, () => onChapter?.(chapter));
    const [, length, midi, loudness, instrument, index] = event;
    const behind = context.currentTime - when;
    if (behind > 0) late += 1;
    if (behind < TOO_LATE) stage.strike(data.instruments[instrument] ?? "", midi, Math.max(when, context.currentTime), length, loudness);
    if (index === null) return;
    later(when + length, () => onNote?.(index, false));
    later(when, () => onNote?.(index, true));
  };

  const schedule = () => {
    const now = context.currentTime - zero;
    for (let next; (next = coming.before(now + AHEAD)); coming.take()) perform(next);
    for (let need, worked = false; !worked && (need = needed.before(now + PREPARED)); needed.take()) worked = ready(need);
    stage.tick();
    if (coming.next.done && now > length + TAIL + lag) finish();
  };

  const light = () => {
    if (over) return;
    const now = heard() - lag;
    while (told[0] && told[0].time <= now) told.shift()?.tell();
    frame = requestAnimationFrame(light);
  };

  const stop = () => {
    if (over) return;
    over = true;
    clearTimeout(soon);
    clearInterval(pulse);
    cancelAnimationFrame(frame);
    stage.fade(FADE);
    setTimeout(() => stage.dispose(), 4000 * FADE);
  };

  const finish = () => {
    stop();
    onEnd?.();
  };

  // At first only as far as nothing has to be worked out.
  for (let next; (next = coming.before(from + AHEAD)) && !isNew(next); coming.take()) perform(next);
  const soon = setTimeout(schedule);
  const pulse = setInterval(schedule, PULSE);
  let frame = requestAnimationFrame(light);
  /** @param {Arrangement | undefined} part */
  const add = (part) => {
    if (part) score.add(part);
    else length = score.close();
  };

  return { stop, late: () => late, second: (stamp) => heard() - (performance.now() - stamp) / 1000 - zero, add };
}

/**
 * What would be heard, without hearing it; notes are given to the browser as they are when it is heard.
 * @param {Arrangement} data @param {number} seconds @param {number} rate samples a second
 * @returns {Promise<Float32Array[]>} left and right
 */
export async function render(data, seconds, rate) {
  const context = new OfflineAudioContext(2, Math.ceil(seconds * rate), rate);
  const stage = new Stage(contextOf(context));
  const coming = new Reader(new Score({ ...data, chapters: [] }, 0));
  const schedule = () => {
    for (let next; (next = coming.before(context.currentTime + AHEAD)); coming.take()) {
      const { time, event } = next;
      if (event) stage.strike(data.instruments[event[4]] ?? "", event[2], time, event[1], event[3]);
    }
    stage.tick();
  };
  schedule();
  for (let time = AHEAD / 2; time < seconds; time += AHEAD / 2) {
    void context.suspend(time).then(() => {
      schedule();
      return context.resume();
    });
  }
  const made = await context.startRendering();
  stage.dispose();
  return [0, 1].map((channel) => made.getChannelData(channel));
}
