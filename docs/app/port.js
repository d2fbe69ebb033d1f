/**
 * The page's one door to the engine: this adapter starts it in PyScript's worker, over http.
 *
 * Nothing here waits for ever: a start that falls silent and a call that is not answered are rejected.
 */

import { forgetSnapshots, keepSnapshot } from "./snapshot.js";
import { CALL_LIMIT, SILENCE_LIMIT, inTime, needEngineRoom, watched } from "./starting.js";

/**
 * @typedef {object} Engine
 * @property {(request: object) => Promise<object>} call one question to engine/browser.py and its answer;
 *   rejects after `callLimit` milliseconds without one
 * @property {(name: string) => Promise<void>} pack makes the modules of a pack importable for the engine
 * @property {() => void} close ends the worker; a new one can be opened after that
 * @property {boolean} [restored] whether it started from a snapshot
 */

/**
 * @typedef {object} PyScriptWorker what PyScript hands out for a worker, as far as it is used here
 * @property {Promise<unknown>} ready
 * @property {{call: (request: string) => Promise<string>, pack: (name: string, bytes: Uint8Array) => Promise<void>}} sync
 * @property {((event: {error?: unknown}) => void) | null} onerror
 * @property {() => void} terminate
 * @property {(type: "message" | "error", listener: (event: any) => void) => void} addEventListener
 */

const UNUSED_PLUGINS = [
  "codemirror", "deprecations-manager", "donkey", "error", "py-editor", "py-game", "py-terminal",
];

/**
 * Starts the engine.
 * @param {object} options
 * @param {string | URL} options.base the site's root, absolute or relative to the page, ending in "/"
 * @param {(fraction: number) => void} [options.onProgress] is told how far the start is, from 0 to 1, never falling
 * @param {number} [options.silenceLimit] milliseconds
 * @param {number} [options.callLimit] milliseconds
 * @param {boolean} [options.careful] whether to do without what may quicken the start: the last one did not finish
 * @returns {Promise<Engine>} rejects with an Error that says in plain words what failed
 */
export async function openEngine({
  base,
  onProgress = () => {},
  silenceLimit = SILENCE_LIMIT,
  callLimit = CALL_LIMIT,
  careful = false,
}) {
  needEngineRoom();
  // The page names the files of its own build.
  const { runtime: folder = "runtime/", build } = document.documentElement.dataset;
  const root = new URL(base, document.baseURI);
  const runtime = new URL(folder, root);
  if (careful) await forgetSnapshots(root);
  /** @type {import("./snapshot.js").Snapshot | undefined} */
  let snapshot;
  /** @type {PyScriptWorker | undefined} */
  let worker;
  /** @param {(fraction: number) => void} alive @param {(error: Error) => void} fail */
  const start = async (alive, fail) => {
    worker = await startWorker(runtime, `worker-${build}.py`, (/** @type {PyScriptWorker} */ made) => {
      worker = made;
      made.onerror = ({ error }) => fail(new Error(`the engine's worker failed: ${error}`));
      made.addEventListener("error", (event) => {
        fail(new Error(`the engine's worker could not start: ${event.message ?? "it is blocked"}`));
      });
      made.addEventListener("message", ({ data }) => {
        if (data?.engine?.failed) fail(new Error(data.engine.failed));
        else if (data?.engine?.snapshot) snapshot = data.engine.snapshot;
        else if (data?.engine) alive(data.engine.progress);
      });
    });
    // Whatever the answer says, an answer shows that the whole way there and back works.
    await worker.sync.call("{}").catch((reason) => {
      throw new Error(`the engine's first answer failed: ${reason}`);
    });
  };

  try {
    await watched({ onProgress, silenceLimit }, start);
  } catch (error) {
    worker?.terminate();
    // It may have been the snapshot's fault.
    await forgetSnapshots(root);
    throw error;
  }
  if (snapshot) void keepSnapshot(snapshot, root);
  const open = /** @type {PyScriptWorker} */ (/** @type {unknown} */ (worker));
  return {
    call: async (request) => JSON.parse(await inTime(callLimit, open.sync.call(JSON.stringify(request)))),
    pack: async (name) => {
      const response = await fetch(new URL(`packs/${name}.zip`, runtime));
      if (!response.ok) throw new Error(`${name}.zip could not be loaded: status ${response.status}`);
      await inTime(callLimit, open.sync.pack(name, new Uint8Array(await response.arrayBuffer())));
    },
    close: () => open.terminate(),
    restored: snapshot?.kept ?? false,
  };
}

/**
 * Lets PyScript start the worker.
 * @param {URL} runtime the folder of the runtime's files
 * @param {string} name the worker's file in it
 * @param {(worker: PyScriptWorker) => void} onWorker is given the worker as soon as it exists
 * @returns {Promise<PyScriptWorker>} the worker, once its Python file has run
 */
async function startWorker(runtime, name, onWorker) {
  // PyScript reads its settings once, while its module loads: they must stand in the page before.
  const settings = JSON.stringify({
    interpreter: new URL("interpreter.mjs", runtime).href,
    sync_main_only: true,
    plugins: UNUSED_PLUGINS.map((name) => `!${name}`),
  });
  for (const tag of ["py-config", "mpy-config"]) {
    if (document.querySelector(tag)) continue;
    const element = document.createElement(tag);
    element.hidden = true;
    element.textContent = settings;
    document.body.append(element);
  }
  const { hooks } = await import(new URL("pyscript/core.js", runtime).href).catch(() => {
    throw new Error("pyscript/core.js could not be loaded");
  });
  return new Promise((resolve, reject) => {
    /** @param {unknown} _ @param {PyScriptWorker} worker */
    const announce = (_, worker) => {
      hooks.main.onWorker.delete(announce);
      onWorker(worker);
      worker.ready.then(
        () => resolve(worker),
        (reason) => reject(new Error(`the engine's worker failed: ${reason}`)),
      );
    };
    hooks.main.onWorker.add(announce);
    const script = document.createElement("script");
    script.type = "py";
    script.setAttribute("worker", "");
    script.setAttribute("name", "engine");
    const source = new URL(name, runtime).href;
    script.setAttribute("src", source);
    document.body.append(script);
    // PyScript says nothing when it cannot load this file; so it is asked for twice (the second comes from the cache).
    const lost = () => reject(new Error(`${name} could not be loaded`));
    fetch(source).then((response) => response.ok || lost(), lost);
  });
}
