/** What every way to the engine has in common: a start that must show signs of life, and answers that must come in time. */

/** Milliseconds without any sign of life after which a start has failed. */
export const SILENCE_LIMIT = 60_000;

/** Milliseconds after which a call has failed. */
export const CALL_LIMIT = 10_000;

/** Fails plainly where no engine can run. */
export function needEngineRoom() {
  if (typeof WebAssembly !== "object") throw new Error("this browser has no WebAssembly");
  if (typeof Worker !== "function") throw new Error("this browser has no workers");
}

/**
 * Runs a start; one that falls silent is given up.
 * @param {object} options
 * @param {(fraction: number) => void} options.onProgress is told how far the start is, from 0 to 1, never falling
 * @param {number} options.silenceLimit milliseconds
 * @param {(alive: (fraction: number) => void, fail: (error: Error) => void) => Promise<void>} start gets two
 *   functions: one shows that it is alive and how far it is, one ends it
 * @returns {Promise<void>}
 */
export async function watched({ onProgress, silenceLimit }, start) {
  let furthest = 0;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  /** @type {(error: Error) => void} */
  let fail = () => {};
  const failure = new Promise((_, reject) => {
    fail = reject;
  });
  failure.catch(() => {}); // it may come after the start has ended by itself
  /** @param {number} fraction */
  const alive = (fraction) => {
    clearTimeout(timer);
    timer = setTimeout(() => fail(new Error("the engine fell silent while it was loading")), silenceLimit);
    if (fraction > furthest) {
      furthest = fraction;
      onProgress(fraction);
    }
  };
  try {
    onProgress(0);
    alive(0);
    await Promise.race([start(alive, fail), failure]);
    alive(1);
  } finally {
    clearTimeout(timer);
  }
}

/**
 * @template T
 * @param {number} limit milliseconds
 * @param {Promise<T>} answer
 * @returns {Promise<T>} the same, but rejected when it takes longer than that
 */
export function inTime(limit, answer) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error("the engine did not answer in time")), limit);
    answer.then(resolve, reject).finally(() => clearTimeout(timer));
  });
}
