/**
 * Notes when the player taps along with what sounds. Only times are taken here; what they tell is worked out by the engine.
 *
 * A tap counts when it begins: a click would come with its end.
 */

/** What stays a control of its own while the space bar taps. */
const OTHERS = "a, input, select, textarea, summary, button";

/**
 * @param {HTMLElement} place the button to tap @param {(stamp: number) => number} second which second is heard at a time
 * @returns {() => number[]} ends it, and gives the seconds of the taps
 */
export function tapsAlong(place, second) {
  /** @type {number[]} */
  const taps = [];
  const ended = new AbortController();
  /** @param {Event} event */
  const tap = ({ timeStamp }) => void taps.push(Math.round(10_000 * second(timeStamp)) / 10_000);
  /** @param {KeyboardEvent} event */
  const onKey = (event) => {
    const { target, key, repeat } = event;
    const mine = target === place ? key === " " || key === "Enter" : key === " " && target instanceof Element && !target.closest(OTHERS);
    if (!mine) return;
    event.preventDefault();
    if (event.type === "keydown" && !repeat) tap(event);
  };
  const options = { signal: ended.signal };
  place.addEventListener("pointerdown", tap, options);
  // What reads the page aloud presses a button by a click alone.
  place.addEventListener("click", (event) => event.detail === 0 && tap(event), options);
  addEventListener("keydown", onKey, options);
  // Else the key would click as it is let go.
  addEventListener("keyup", onKey, options);
  return () => {
    ended.abort();
    return taps;
  };
}
