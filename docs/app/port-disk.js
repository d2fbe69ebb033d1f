/**
 * The other adapter of the port to the engine, for pages that can fetch nothing: opened from disk, or one
 * file with everything inside. The runtime comes along in a classic script, which is put into the page when
 * the engine is first wanted.
 */

import { CALL_LIMIT, SILENCE_LIMIT, inTime, needEngineRoom, watched } from "./starting.js";

/**
 * @typedef {object} Carried
 * @property {string} worker the worker's text
 * @property {object} info the head of Pyodide's list of packages
 * @property {Record<string, string>} files the runtime's files, as gzip in base64
 */
/** @typedef {{id: number, answer?: string, failed?: string, progress?: number}} News */

/** The script that carries the runtime, in its folder. */
const NAME = "disk.js";

/** The share of the progress bar for loading that script; the worker tells the rest. */
const LOADED = 0.1;

/** @returns {Carried | undefined} */
export const carried = () => /** @type {any} */ (globalThis).carriedRuntime;

/**
 * Starts the engine.
 * @param {Parameters<typeof import("./port.js").openEngine>[0]} options
 * @returns {Promise<import("./port.js").Engine>} rejects with an Error that says in plain words what failed
 */
export async function openEngine({
  base,
  onProgress = () => {},
  silenceLimit = SILENCE_LIMIT,
  callLimit = CALL_LIMIT,
}) {
  needEngineRoom();
  if (typeof DecompressionStream !== "function") throw new Error("this browser cannot unpack the engine");
  /** @type {Worker | undefined} */
  let worker;
  let asked = 0;
  /** What waits for an answer, by the number of its request. @type {Map<number, (news: News) => void>} */
  const waiting = new Map();

  /** @param {object} request @returns {Promise<string>} */
  const ask = (request) =>
    new Promise((resolve, reject) => {
      const id = ++asked;
      waiting.set(id, ({ answer, failed }) => {
        waiting.delete(id);
        if (failed === undefined) resolve(answer ?? "");
        else reject(new Error(`the engine's worker failed: ${failed}`));
      });
      worker?.postMessage({ ...request, id });
    });

  try {
    await watched({ onProgress, silenceLimit }, async (alive, fail) => {
      const { worker: text, ...rest } = carried() ?? (await loadRuntime(base));
      alive(LOADED);
      const address = URL.createObjectURL(new Blob([text], { type: "text/javascript" }));
      try {
        worker = new Worker(address);
      } catch (error) {
        throw new Error(`the engine's worker could not start: ${error}`);
      }
      worker.onerror = ({ message }) => fail(new Error(`the engine's worker failed: ${message ?? "it is blocked"}`));
      worker.onmessage = (/** @type {MessageEvent<News>} */ { data }) => {
        if (data.progress) alive(data.progress);
        else waiting.get(data.id)?.(data);
      };
      await ask({ carried: rest });
      URL.revokeObjectURL(address);
      // Whatever the answer says, an answer shows that the whole way there and back works.
      await ask({ request: "{}" });
    });
  } catch (error) {
    worker?.terminate();
    throw error;
  }
  return {
    call: async (request) => JSON.parse(await inTime(callLimit, ask({ request: JSON.stringify(request) }))),
    pack: async (name) => void (await inTime(callLimit, ask({ name }))),
    close: () => worker?.terminate(),
  };
}

/** Puts the script into the page. @param {string | URL} base @returns {Promise<Carried>} */
function loadRuntime(base) {
  const { runtime = "runtime/" } = document.documentElement.dataset;
  return new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = new URL(NAME, new URL(runtime, new URL(base, document.baseURI))).href;
    script.onload = () => {
      const found = carried();
      if (found) resolve(found);
      else reject(new Error(`${NAME} is not what it should be`));
    };
    script.onerror = () => reject(new Error(`${NAME} could not be loaded`));
    document.head.append(script);
  });
}
