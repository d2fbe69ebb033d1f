/**
 * What is kept on this device: the answers, one record each and never changed, and the round that each page shows.
 *
 * Two tabs may write at once: a record is named by its round and place, and the first one stays.
 */

import { openDB } from "idb";

/**
 * @typedef {object} Kept the round that a page showed last, or will show next
 * @property {string} key the page, with the options in its link
 * @property {string} round the round's name
 * @property {object} plan
 * @property {string | null} html null where it stands in the page already
 * @property {string} build which build the HTML is from
 */

/** @typedef {{round: string, place: number, choice: number, ms: number | null} & Record<string, unknown>} Answer */

const VERSION = 1;
/** Milliseconds after which a device that does not answer is taken for one that keeps nothing. */
const PATIENCE = 2_000;

/**
 * Opens the store.
 * @returns {Promise<Records>} rejects where the browser keeps nothing (private mode, storage refused)
 */
export async function openRecords() {
  const database = await patiently(
    openDB("linekeeper", VERSION, {
      upgrade(made) {
        made.createObjectStore("answers", { keyPath: ["round", "place"] });
        made.createObjectStore("rounds", { keyPath: "key" });
      },
      // Another tab wants a newer version of the store: this one steps aside and keeps to memory.
      blocking: (_, __, event) => /** @type {IDBDatabase} */ (event.target).close(),
    }),
  );
  return new Records(database);
}

export class Records {
  /** @param {import("idb").IDBPDatabase | null} database without one, everything is kept for this visit only */
  constructor(database) {
    this.database = database;
    /** @type {Map<string, Answer>} */
    this.answers = new Map();
    /** @type {Map<string, Kept>} */
    this.rounds = new Map();
  }

  /**
   * Keeps an answer; one that is there already stays as it is.
   * @param {Answer} answer
   * @returns {Promise<void>} settled once it is on the device; rejects where it could not be kept there
   */
  async add(answer) {
    this.answers.set(`${answer.round} ${answer.place}`, answer);
    await this.addAll([answer]);
  }

  /** @param {Answer[]} answers @returns {Promise<number>} how many of them were new */
  async addAll(answers) {
    if (!this.database) return 0;
    const change = this.database.transaction("answers", "readwrite");
    const there = await Promise.all(answers.map(({ round, place }) => change.store.getKey([round, place])));
    const fresh = answers.filter((_, number) => there[number] === undefined);
    for (const answer of fresh) void change.store.put(answer);
    await patiently(change.done);
    return fresh.length;
  }

  /** @param {string} round @returns {Promise<Answer[]>} its answers, by place */
  async ofRound(round) {
    const here = [...this.answers.values()].filter((answer) => answer.round === round);
    if (!this.database) return here;
    return patiently(this.database.getAll("answers", IDBKeyRange.bound([round], [round, []])));
  }

  /** @returns {Promise<Answer[]>} */
  async all() {
    return this.database ? this.database.getAll("answers") : [...this.answers.values()];
  }

  /** @param {string} key @returns {Promise<Kept | undefined>} */
  async round(key) {
    return this.database ? patiently(this.database.get("rounds", key)) : this.rounds.get(key);
  }

  /** @param {Kept} kept */
  async keepRound(kept) {
    this.rounds.set(kept.key, kept);
    if (this.database) await patiently(this.database.put("rounds", kept));
  }

  /** Forgets everything. */
  async clear() {
    this.answers.clear();
    this.rounds.clear();
    if (!this.database) return;
    const change = this.database.transaction(["answers", "rounds"], "readwrite");
    await Promise.all([change.objectStore("answers").clear(), change.objectStore("rounds").clear(), change.done]);
  }
}

/**
 * @template T
 * @param {Promise<T>} promise
 * @returns {Promise<T>} the same, but rejected when the device does not answer
 */
function patiently(promise) {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => reject(new Error("the device's storage does not answer")), PATIENCE);
    promise.then(resolve, reject).finally(() => clearTimeout(timer));
  });
}
