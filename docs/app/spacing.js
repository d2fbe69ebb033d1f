/**
 * Where the notes of a line stand: what fits on a system, and how far apart its notes are.
 *
 * Lengths are the engraver's units, ten to a staff space. The longer a note the more room behind it, but not in
 * proportion; signs, degrees and chord symbols keep their distance whatever the note values are.
 */

/**
 * A note or rest: what it needs to the `left` of its head's left edge and to the right of it, the width of its
 * `head` and of the `label` below it, and its `length` in beats.
 * @typedef {{left: number, right: number, head: number, label: number, length: number}} Item
 */
/** A chord symbol's `width`, the place of the `note` that it comes with, and how much of that has passed by then. @typedef {{note: number, share: number, width: number}} Symbol */
/** @typedef {{items: Item[], chords: Symbol[]}} Bar */
/** The left edges of a bar's heads and chord symbols, and its bar line. @typedef {{at: number[], symbols: number[], end: number}} Placed */
/** The bars from `first` up to `last`, where each of them stands. @typedef {{first: number, last: number, bars: Placed[]}} System */

/** An eighth note's room at its narrowest; others go by a power of their length. */
const EIGHTH = 21;
const GROWTH = 0.6;
/** Notes are not pulled further apart than this many times their room; the last system rather ends early. */
const LOOSEST = 4;
const LOOSEST_AT_LAST = 2.2;
/** Room between a note and the next one's sign, behind a bar line, before one, between two words. */
const GAP = 4;
const BEHIND = 13;
const BEFORE = 9;
const BETWEEN = 7;
/** Trials of a bisection; the error is less than a thousandth. */
const TRIALS = 20;

/** @param {number} length in beats */
const room = (length) => EIGHTH * (length * 2) ** GROWTH;

/**
 * Breaks a line into as few systems as its width allows, alike in length, and fills each.
 * @param {Bar[]} bars @param {(first: number) => number} startOf where the notes may start, for a system's first bar
 * @param {number} width
 * @returns {System[]}
 */
export function systems(bars, startOf, width) {
  /** @param {number} first @param {number} last @param {number} limit */
  const fit = (first, last, limit) => widthOf(placed(bars.slice(first, last), startOf(first), 1)) <= limit;
  const [pickup, full] = bars.slice(0, 2).map(({ items }) => items.reduce((sum, { length }) => sum + length, 0));
  // A pickup does not stand alone where there is room.
  const least = (pickup ?? 0) < (full ?? 0) && fit(0, 2, width) ? 2 : 1;
  /** @param {number} limit */
  const broken = (limit) => {
    /** @type {[number, number][]} */
    const found = [];
    for (let last = 0; last < bars.length; ) {
      const first = last;
      last += first ? 1 : least;
      while (last < bars.length && fit(first, last + 1, limit)) last++;
      found.push([first, last]);
    }
    return found;
  };
  const { length } = broken(width);
  const limit = smallest(0, width, (trial) => broken(trial).length <= length);
  return broken(limit).map(([first, last]) => {
    /** @param {number} stretch */
    const at = (stretch) => placed(bars.slice(first, last), startOf(first), stretch);
    const stretch = smallest(0, last < bars.length ? LOOSEST : LOOSEST_AT_LAST, (trial) => widthOf(at(trial)) >= width);
    return { first, last, bars: at(stretch) };
  });
}

/** The width below which a bar cannot be set. @param {Bar[]} bars @param {(first: number) => number} startOf */
export const narrowest = (bars, startOf) => Math.max(0, ...bars.map((bar, first) => widthOf(placed([bar], startOf(first), 0))));

/** @param {Placed[]} bars */
const widthOf = (bars) => bars.at(-1)?.end ?? 0;

/** The least number between two others that will do, or the greater one. @param {number} low @param {number} high @param {(trial: number) => boolean} does */
function smallest(low, high, does) {
  for (let trial = 0; trial < TRIALS; trial++) {
    const middle = (low + high) / 2;
    if (does(middle)) high = middle;
    else low = middle;
  }
  return high;
}

/**
 * Sets bars from `start` on; `stretch` is how many times its room a note has.
 * @param {Bar[]} bars @param {number} start @param {number} stretch
 * @returns {Placed[]}
 */
function placed(bars, start, stretch) {
  /** Where the last bar line is, and from where on there may be a degree and a chord symbol. */
  let [line, label, chord] = [start, 0, 0];
  return bars.map(({ items, chords }, index) => {
    /** @type {number[]} */
    const at = [];
    /** @type {number[]} */
    const symbols = [];
    for (let place = 0; place <= items.length; place++) {
      const [item, before, behind] = [items[place], items[place - 1], at[place - 1] ?? 0];
      const own = chords.find(({ note, share }) => note === place && !share);
      const inside = chords.filter(({ note, share }) => note === place - 1 && share);
      let x = line + BEHIND + (item?.left ?? 0);
      if (before) x = behind + Math.max(room(before.length) * stretch, before.right + (item ? GAP + item.left : BEFORE));
      if (item?.label) x = Math.max(x, label + (item.label - item.head) / 2);
      // Symbols within the note before stand between it and this one; each must leave room for the next.
      let [passed, taken] = [0, chord - behind];
      for (const { share, width } of [...inside, ...(own ? [{ ...own, share: 1 }] : [])]) {
        x = Math.max(x, behind + taken / (share - passed));
        [passed, taken] = [share, width + BETWEEN];
      }
      const here = [...inside.map(({ share }) => behind + share * (x - behind)), ...(own ? [x] : [])];
      symbols.push(...here);
      if (here.length) chord = (here.at(-1) ?? 0) + taken;
      if (item?.label) label = x + (item.label + item.head) / 2 + BETWEEN;
      at.push(x);
    }
    line = at.pop() ?? line;
    if (index === bars.length - 1) line = Math.max(line, chord - BETWEEN);
    return { at, symbols, end: line };
  });
}
