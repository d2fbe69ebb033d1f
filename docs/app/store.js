/**
 * The database in which all is kept, and its copy.
 *
 * A browser that is killed while it writes may leave half of what it wrote. Chromium then writes on behind it, at the
 * start after the next takes the whole file for damaged, and drops every database in it. What is in a storage bucket has
 * a file of its own, so one of the two is always there to fill the other from. Browsers without buckets keep databases
 * otherwise.
 */

import { wrap } from "idb";
import { rested } from "./page.js";

/** @typedef {import("idb").IDBPDatabase} Database */
/**
 * @typedef {object} Store
 * @property {Database} main what is read, and written first
 * @property {Promise<Database | null>} copy null where the browser has no place for one; rejects where it cannot be used
 * @property {Promise<void>} whole settled once all that the store had lost is there again
 * @property {Promise<unknown>} even settled once each of the two has what only the other had, or was told to leave it
 * @property {() => void} stop leaves it, for this visit
 * @property {unknown} place the bucket: Chromium lets a database hang whose bucket nobody holds any more
 * @property {boolean} behind whether the copy did not take all: it is given that at a later start
 */

const NAME = "linekeeper";
const VERSION = 2;
/** The bucket that the copy is in. */
const BUCKET = "linekeeper-copy";
/** Milliseconds after which a device that does not answer is taken for one that keeps nothing. */
const PATIENCE = 2_000;
/** How many records are brought over at once: each time the player's next answer, and the page, wait for that many. */
const BATCH = 100;

/**
 * @param {() => void} closed called when the store was taken away: by the browser, or by a tab that wants a newer one
 * @returns {Promise<Store>} settled once what pages open on is there again, were it lost; rejects where the browser keeps
 *   nothing
 */
export async function openStore(closed) {
  /** @type {Database[]} */
  const opened = [];
  const openIn = async (/** @type {IDBFactory} */ factory) => {
    const database = await open(factory, () => {
      for (const one of opened) one.close();
      closed();
    });
    opened.push(database);
    return database;
  };
  const place = bucket();
  const copy = patiently(place.then((found) => found && openIn(found.indexedDB)));
  copy.catch(() => {}); // whoever needs it hears of it
  const main = await openIn(indexedDB);
  const withCopy = (/** @type {(other: Database) => Promise<void>} */ act) =>
    copy.then((other) => (other ? act(other) : undefined)).catch(() => {});
  // What has only just been made, or made anew, is empty.
  if (!(await main.count("answers"))) await withCopy((other) => bringRounds(main, other));
  let stopped = false;
  const pause = async () => {
    await rested();
    if (stopped) throw new Error("stopped");
  };
  const whole = withCopy((other) => bring(main, other, pause));
  const even = whole.then(() => withCopy((other) => bring(other, main, pause)));
  return { main, copy, behind: false, whole, even, stop: () => (stopped = true), place };
}

/** Settled once all that was written in turn is over. @type {Promise<unknown>} */
let before = Promise.resolve();

/**
 * One write after the other, whichever of the two databases it is to: a browser that is killed leaves half a write in one
 * of them at most.
 * @template T
 * @param {() => Promise<T>} act
 * @returns {Promise<T>}
 */
export function inTurn(act) {
  const acted = before.then(act);
  // One that never ends holds up the others no longer than the player.
  before = before.then(() => patiently(acted)).catch(() => {});
  return acted;
}

/** @returns {Promise<{indexedDB: IDBFactory} | null>} null where the browser has none, or none for such a page */
async function bucket() {
  try {
    return await /** @type {any} */ (navigator).storageBuckets.open(BUCKET);
  } catch {
    return null;
  }
}

/** @param {IDBFactory} factory @param {() => void} closed @returns {Promise<Database>} */
function open(factory, closed) {
  const request = factory.open(NAME, VERSION);
  request.onupgradeneeded = ({ oldVersion }) => {
    const made = request.result;
    if (oldVersion < 1) {
      made.createObjectStore("answers", { keyPath: ["round", "place"] });
      made.createObjectStore("rounds", { keyPath: "key" });
    }
    if (oldVersion < 2) made.createObjectStore("lines", { keyPath: ["id", "at"] });
  };
  return new Promise((resolve, reject) => {
    request.onerror = () => reject(request.error);
    request.onsuccess = () => {
      request.result.onclose = request.result.onversionchange = closed;
      resolve(wrap(request.result));
    };
  });
}

/** What pages open on: the rounds, with their answers, and the own lines. @param {Database} target @param {Database} source */
async function bringRounds(target, source) {
  for (const name of ["lines", "rounds"]) await fill(target, source, name);
  const rounds = new Set((await source.getAll("rounds")).map(({ round }) => round));
  for (const round of rounds) await fill(target, source, "answers", IDBKeyRange.bound([round], [round, []]));
}

/** Whatever a database has fewer of than another. @param {Database} target @param {Database} source @param {() => Promise<void>} pause */
async function bring(target, source, pause) {
  for (const name of source.objectStoreNames) {
    const [here = 0, there = 0] = await patiently(Promise.all([target.count(name), source.count(name)]));
    if (here < there) await fill(target, source, name, null, pause);
  }
}

/**
 * Puts what only one database has into another: all of it, or some, and the rest at a later start.
 * @param {Database} target
 * @param {Database} source
 * @param {string} name of a store in both
 * @param {IDBKeyRange | null} [within] null for all of it
 * @param {() => Promise<unknown>} [pause] what is waited for in between
 */
async function fill(target, source, name, within = null, pause = async () => {}) {
  for (let range = within; ; ) {
    const { store } = source.transaction(name);
    const [keys, found] = await patiently(Promise.all([store.getAllKeys(range, BATCH), store.getAll(range, BATCH)]));
    const [first, last] = [keys[0], keys[keys.length - 1]];
    if (first === undefined || last === undefined) return;
    await inTurn(async () => {
      const known = await patiently(target.getAllKeys(name, IDBKeyRange.bound(first, last)));
      const there = new Set(known.map((key) => JSON.stringify(key)));
      const change = target.transaction(name, "readwrite", { durability: "relaxed" });
      const put = found.filter((_, number) => !there.has(JSON.stringify(keys[number]))).map((one) => change.store.put(one));
      await patiently(Promise.all([...put, change.done]));
    });
    range = within ? IDBKeyRange.bound(last, within.upper, true) : IDBKeyRange.lowerBound(last, true);
    await pause();
  }
}

/**
 * Makes a change to the store, and then, not at once, to its copy.
 * @template T
 * @param {Store} store
 * @param {(database: Database, before?: T) => Promise<T>} change for the copy it is given what came of it in the store
 * @returns {Promise<T>} what came of it in the store
 */
export function inBoth(store, change) {
  return inTurn(async () => {
    const made = await change(store.main);
    const copy = store.behind ? null : await store.copy.catch(() => null);
    if (copy) await change(copy, made).catch(() => (store.behind = true));
    return made;
  });
}

/**
 * @template T
 * @param {Promise<T>} promise
 * @returns {Promise<T>} the same, but rejected when the device does not answer
 */
export function patiently(promise) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error("the device's storage does not answer")), PATIENCE);
    promise.then(resolve, reject).finally(() => clearTimeout(timer));
  });
}
