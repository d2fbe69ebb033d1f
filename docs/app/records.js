/**
 * What is kept on this device: the answers, one record each and never changed, and the rounds that each page shows.
 *
 * Two tabs may write at once: a record is named by its round and place, and the first one stays.
 */

import { unwrap } from "idb";
import { inBoth, inTurn, openStore, patiently } from "./store.js";

/**
 * @typedef {object} Kept a round that a page shows
 * @property {string} key the page, with the options in its link, and whether this is the round shown last or the next
 * @property {string} round the round's name; of a next one, the name of the round that it follows
 * @property {object} plan
 * @property {string | null} html null where it stands in the page already
 * @property {string} build which build the HTML is from
 */

/** @typedef {{round: string, place: number, choice: number, ms: number | null} & Record<string, unknown>} Answer */
/** @typedef {{id: string, at: number} & Record<string, unknown>} LineRecord what became of an own line, and when */
/** @typedef {import("./store.js").Database} Database */
/** @typedef {import("./store.js").Store} Store */

/** @param {Answer} answer */
const named = ({ round, place }) => `${round} ${place}`;

export class Records {
  constructor() {
    /** @type {Promise<Store | null> | undefined} */
    this.opened = undefined;
    /** Answers that are not on the device: all of this visit where it keeps nothing. @type {Map<string, Answer>} */
    this.owed = new Map();
    /** The same of rounds. @type {Map<string, Kept>} */
    this.rounds = new Map();
    /** The same of own lines. @type {Map<string, LineRecord>} */
    this.owedLines = new Map();
  }

  /**
   * The store; it is opened again where it was taken away, which phones do to pages in the background.
   * @returns {Promise<Store | null>} null where the browser keeps nothing (private mode, storage refused)
   */
  #store() {
    this.opened ??= patiently(this.#open()).catch(() => null);
    return this.opened;
  }

  async #open() {
    const store = await openStore(() => (this.opened = undefined));
    // It may come when nobody waits for it any more; from then on it is used.
    this.opened = Promise.resolve(store);
    return store;
  }

  /** What is read. @returns {Promise<Database | null>} null where the browser keeps nothing */
  async database() {
    return (await this.#store())?.main ?? null;
  }

  /**
   * Keeps an answer, and what could not be kept before it.
   * @param {Answer} answer
   * @param {Kept} [shown] with the first answer of a round, the round: both are there then, or none
   * @returns {Promise<Answer>} settled once it is on the device, with the one that counts: this, or an earlier one to
   *   the same question from another tab; rejects where it is kept for this visit only
   */
  async add(answer, shown) {
    this.owed.set(named(answer), answer);
    if (shown) this.rounds.set(shown.key, shown);
    const store = await this.#store();
    if (!store) throw new Error("the browser keeps nothing");
    const owed = [...this.owed.values()];
    const rounds = [...this.rounds.values()];
    const there = await inBoth(store, (database, before) => patiently(write(database, counting(owed, before), rounds)));
    for (const one of owed) this.owed.delete(named(one));
    for (const { key } of rounds) this.rounds.delete(key);
    return there[owed.indexOf(answer)] ?? answer;
  }

  /** @param {Answer[]} answers @returns {Promise<number>} how many of them were new */
  async addAll(answers) {
    const firsts = [...new Map([...answers].reverse().map((answer) => [named(answer), answer])).values()];
    const store = await this.#store();
    const there = store
      ? await inBoth(store, (database, before) => write(database, counting(firsts, before)))
      : firsts.map((answer) => this.owed.get(named(answer)));
    const fresh = firsts.filter((_, number) => !there[number]);
    if (!store) for (const answer of fresh) this.owed.set(named(answer), answer);
    return fresh.length;
  }

  /** @param {string} round @returns {Promise<Answer[]>} its answers, by place */
  async ofRound(round) {
    const database = await this.database();
    const range = IDBKeyRange.bound([round], [round, []]);
    return this.#withOwed(database ? await patiently(database.getAll("answers", range)) : [], round);
  }

  /** @returns {Promise<Answer[]>} */
  async all() {
    const store = await this.#store();
    await store?.whole;
    return this.#withOwed((await store?.main.getAll("answers")) ?? []);
  }

  /** @param {Answer[]} there @param {string} [round] */
  #withOwed(there, round) {
    const owed = [...this.owed.values()].filter((answer) => round === undefined || answer.round === round);
    return [...new Map([...owed, ...there].map((answer) => [named(answer), answer])).values()];
  }

  /** @param {string} key @returns {Promise<Kept | undefined>} */
  async round(key) {
    const database = await this.database();
    return this.rounds.get(key) ?? (database ? patiently(database.get("rounds", key)) : undefined);
  }

  /** @param {Kept} kept */
  async keepRound(kept) {
    this.rounds.set(kept.key, kept);
    const store = await this.#store();
    if (!store) return;
    await inBoth(store, (database) => patiently(database.put("rounds", kept)));
    this.rounds.delete(kept.key);
  }

  /**
   * Keeps records of own lines, and what could not be kept before them.
   * @param {LineRecord[]} made
   * @returns {Promise<void>} settled once they are on the device; rejects where they are kept for this visit only
   */
  async keepLines(made) {
    for (const one of made) this.owedLines.set(`${one.id} ${one.at}`, one);
    const store = await this.#store();
    if (!store) throw new Error("the browser keeps nothing");
    const owed = [...this.owedLines];
    await inBoth(store, async (database) => {
      const change = database.transaction("lines", "readwrite", { durability: "relaxed" });
      // Records are never changed: one that is there already stays.
      const put = owed.map(async ([, one]) => (await change.store.count([one.id, one.at])) || change.store.put(one));
      await patiently(Promise.all([...put, change.done]));
    });
    for (const [name] of owed) this.owedLines.delete(name);
  }

  /** @returns {Promise<LineRecord[]>} all that became of the own lines, the oldest first */
  async lines() {
    const database = await this.database();
    const there = database ? await patiently(database.getAll("lines")) : [];
    return [...there, ...this.owedLines.values()].sort((one, other) => one.at - other.at);
  }

  /** Forgets every answer. @returns {Promise<{answers: Answer[], rounds: Kept[]}>} what that was, for `restore` */
  async clear() {
    const store = await this.#store();
    const gone = {
      answers: await this.all(),
      rounds: [...this.rounds.values(), ...((await store?.main.getAll("rounds")) ?? [])],
    };
    store?.stop();
    await store?.even;
    const copy = await store?.copy;
    await inTurn(async () => {
      // The copy first: what it still had would be taken for what the store has lost.
      if (copy) await patiently(empty(copy));
      if (store) await empty(store.main);
    });
    this.owed.clear();
    this.rounds.clear();
    return gone;
  }

  /** @param {{answers: Answer[], rounds: Kept[]}} gone */
  async restore({ answers, rounds }) {
    await this.addAll(answers);
    for (const kept of rounds) await this.keepRound(kept);
  }
}

/** @param {Database} database */
async function empty(database) {
  const change = database.transaction(["answers", "rounds"], "readwrite");
  await Promise.all([change.objectStore("answers").clear(), change.objectStore("rounds").clear(), change.done]);
}

/**
 * @param {Answer[]} given @param {(Answer | undefined)[]} [before] what was there of them
 * @returns {Answer[]} those that count
 */
const counting = (given, before = []) => given.map((answer, number) => before[number] ?? answer);

/**
 * Writes answers that are not there yet, all or none. When it settles they are with the operating system: a browser
 * that is killed loses none of them. To wait for the disk as well ("strict") would guard against a power cut only, and
 * a player would feel it at every answer.
 * @param {Database} database
 * @param {Answer[]} answers
 * @param {Kept[]} [rounds] these take the place of what is there
 * @returns {Promise<(Answer | undefined)[]>} what was there before of the answers
 */
async function write(database, answers, rounds = []) {
  try {
    return await attempt(database, answers, rounds, true);
  } catch (error) {
    if (!(error instanceof DOMException && error.name === "ConstraintError")) throw error;
    return attempt(database, answers, rounds, false);
  }
}

/**
 * @param {Database} database @param {Answer[]} answers @param {Kept[]} rounds
 * @param {boolean} isNew whether none of the answers is expected to be there: then the store is told at once that this
 *   is all, and need not wait to hear it after its first reply, and the player with it; one that is there spoils all
 * @returns {Promise<(Answer | undefined)[]>}
 */
function attempt(database, answers, rounds, isNew) {
  return new Promise((resolve, reject) => {
    const change = unwrap(database).transaction(rounds.length ? ["answers", "rounds"] : "answers", "readwrite", { durability: "relaxed" });
    const store = change.objectStore("answers");
    /** @type {(Answer | undefined)[]} */
    const there = answers.map(() => undefined);
    for (const [number, answer] of answers.entries()) {
      const request = store.add(answer);
      if (!isNew) request.onerror = (event) => {
        if (request.error?.name !== "ConstraintError") return;
        // By itself a refused request takes back all that its transaction did.
        event.preventDefault();
        event.stopPropagation();
        const found = store.get([answer.round, answer.place]);
        found.onsuccess = () => (there[number] = found.result);
      };
    }
    for (const round of rounds) change.objectStore("rounds").put(round);
    change.oncomplete = () => resolve(there);
    change.onabort = () => reject(change.error ?? new Error("the device took it back"));
    if (isNew) change.commit();
  });
}

/** Tells the next visit, before it paints, whether something else than the round in the page will be shown. @param {boolean} there */
export function promise(there) {
  try {
    if (there) localStorage.setItem(`linekeeper kept ${location.pathname}`, "1");
    else localStorage.removeItem(`linekeeper kept ${location.pathname}`);
  } catch {
    // Then the page opens on its own round first.
  }
}
