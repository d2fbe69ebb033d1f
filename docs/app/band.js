/**
 * Plays what the engine has arranged: the bundle with Tone.js and the instruments, which sound.js loads with the first tap.
 *
 * The data are seconds and pitches (engine/sound/arrangement.py); here they become notes at exact times of the audio
 * clock. Nothing is ever counted on from the note before, so nothing drifts.
 */

import { Stage, contextOf } from "./stage.js";

/** Start and length in seconds, MIDI pitch, loudness, number of the instrument, note of the line. @typedef {[number, number, number | null, number, number, number | null]} Event */
/** @typedef {{v: 1, length: number, events: Event[], instruments: string[], chapters: [number, any][], loop: [number, number] | null}} Arrangement */
/**
 * Who wants to know: of a line's note that begins or ends to sound, of a chapter that begins, of the end.
 * @typedef {{onNote?: (index: number, isOn: boolean) => void, onChapter?: (chapter: any) => void, onEnd?: () => void, from?: number}} Wishes
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

/**
 * All that happens, in order, from a second on; without an end where the arrangement loops.
 * @param {Arrangement} data @param {number} from @returns {Generator<Moment, void>}
 */
export function* moments({ events, chapters, loop }, from) {
  /** @type {Moment[]} */
  const all = [...chapters.map(([time, chapter]) => ({ time, chapter })), ...events.map((event) => ({ time: event[0], event }))];
  // The order is kept among those that happen at once: a chapter comes before its first note.
  all.sort((one, other) => one.time - other.time);
  const [begin, end] = loop ?? [0, Infinity];
  const again = all.filter(({ time }) => begin <= time && time < end);
  for (const moment of all) if (from <= moment.time && moment.time < end) yield moment;
  if (!loop || !again.length || end <= begin) return;
  for (let lap = 1; ; lap++) for (const moment of again) yield { ...moment, time: moment.time + lap * (end - begin) };
}

/**
 * Plays an arrangement.
 * @param {AudioContext} context one that runs @param {Arrangement} data @param {Wishes} [wishes] `from`: seconds to leave out
 * @returns {{stop: () => void, late: () => number}} `late`: how many notes could not be given to the browser in time
 */
export function play(context, data, { onNote, onChapter, onEnd, from = 0 } = {}) {
  const stage = new Stage(contextOf(context));
  const coming = moments(data, from);
  let next = coming.next();
  /** What is to be prepared, in a list of its own, since it is looked at earlier. */
  const needed = moments({ ...data, chapters: [] }, from);
  let need = needed.next();
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
  for (; !need.done && need.value.time < from + FIRST; need = needed.next()) ready(need.value);
  const zero = context.currentTime + LEAD - from;

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
    for (; !next.done && next.value.time < now + AHEAD; next = coming.next()) perform(next.value);
    while (!need.done && need.value.time < now + PREPARED) {
      const worked = ready(need.value);
      need = needed.next();
      if (worked) break;
    }
    stage.tick();
    if (next.done && now > data.length + TAIL) finish();
  };

  const light = () => {
    if (over) return;
    const heard = context.currentTime - (context.outputLatency || context.baseLatency || 0);
    while (told[0] && told[0].time <= heard) told.shift()?.tell();
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
  for (; !next.done && next.value.time < from + AHEAD && !isNew(next.value); next = coming.next()) perform(next.value);
  const soon = setTimeout(schedule);
  const pulse = setInterval(schedule, PULSE);
  let frame = requestAnimationFrame(light);
  return { stop, late: () => late };
}

/**
 * What would be heard, without hearing it; notes are given to the browser as they are when it is heard.
 * @param {Arrangement} data @param {number} seconds @param {number} rate samples a second
 * @returns {Promise<Float32Array[]>} left and right
 */
export async function render(data, seconds, rate) {
  const context = new OfflineAudioContext(2, Math.ceil(seconds * rate), rate);
  const stage = new Stage(contextOf(context));
  const coming = moments({ ...data, chapters: [] }, 0);
  let next = coming.next();
  const schedule = () => {
    for (; !next.done && next.value.time < context.currentTime + AHEAD; next = coming.next()) {
      const { time, event } = next.value;
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
