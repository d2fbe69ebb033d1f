/**
 * The engine as the page sees it: started once and when it is wanted, asked, started again when it falls silent.
 */

import { openEngine } from "./ports.js";
import { settings } from "./settings.js";

/** @typedef {{error?: string} & Record<string, any>} Reply */

/** Where the starts that were begun and not finished are counted; a crash of the tab leaves them there. */
const STARTS = "linekeeper starts";
/** After so many of them the engine is not started again by itself: it may be what crashes the tab. */
const MOST_STARTS = 2;

/** @type {Promise<import("./port.js").Engine> | undefined} */
let running;

/** @param {number} [count] @returns {number} */
function unfinished(count) {
  try {
    if (count !== undefined) localStorage.setItem(STARTS, String(count));
    return Number(localStorage.getItem(STARTS)) || 0;
  } catch {
    return 0;
  }
}

/** Whether the last starts all broke off, so that only the player may ask for another. */
export const isShy = () => unfinished() >= MOST_STARTS;

/** The engine is not started, because `isShy`. */
export class Shy extends Error {}

/** Whether the engine was asked for already. */
export const isWanted = () => running !== undefined;

/** Lets the next start happen, whatever became of the last ones. */
export function forgive() {
  unfinished(0);
}

/**
 * Starts the engine unless it runs.
 * @param {(fraction: number) => void} onProgress
 * @returns {Promise<import("./port.js").Engine>} rejects where it cannot be had
 */
export function engine(onProgress = () => {}) {
  if (!running && isShy()) return Promise.reject(new Shy());
  running ??= begin(onProgress);
  return running;
}

/** @param {(fraction: number) => void} onProgress */
async function begin(onProgress) {
  const careful = unfinished() > 0;
  unfinished(unfinished() + 1);
  // A start that is broken off because the player goes to another page is no crash.
  const leaving = () => unfinished(unfinished() - 1);
  addEventListener("pagehide", leaving, { once: true });
  try {
    const opened = await openEngine({ base: document.documentElement.dataset.base ?? "./", onProgress, careful });
    performance.mark("engine ready", { detail: opened.restored ?? false }); // for whoever measures, docs/hooks/bench.py for one
    return opened;
  } catch (error) {
    running = undefined;
    throw error;
  } finally {
    // Failed or started, it came to an end without taking the tab down.
    removeEventListener("pagehide", leaving);
    unfinished(0);
  }
}

/**
 * Asks the engine. One that does not answer in time is given up and a new one is asked the same, once:
 * it keeps nothing, so nothing is lost.
 * @param {object} request
 * @param {(fraction: number) => void} [onProgress]
 * @returns {Promise<Reply>} rejects where the engine cannot be had
 */
export async function ask(request, onProgress) {
  const kept = settings();
  // What does nothing only shows that the engine is there.
  if (kept && "do" in request) request = { ...request, settings: kept };
  const mine = engine(onProgress);
  const asked = await mine;
  try {
    return await asked.call(request);
  } catch {
    // Several questions may wait for the same answerer; the first that gives it up starts the next.
    if (running === mine) {
      asked.close();
      running = undefined;
    }
    return (await engine(onProgress)).call(request);
  }
}

/** @param {string} name @returns {Promise<void>} settled once the pack's modules can be imported */
export async function pack(name) {
  // One that has fallen silent is replaced by this.
  await ask({});
  await (await engine()).pack(name);
}
