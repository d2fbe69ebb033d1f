/** The door to the engine that fits the way this page was opened. */

import * as disk from "./port-disk.js";
import * as http from "./port.js";

/** Whether the runtime must come from beside the page without being fetched, or is in the page already. */
const fromDisk = () => location.protocol === "file:" || disk.carried() !== undefined;

/** As the engine names packs that it lacks for an answer: more than these it has not. */
const MOST_PACKS = 3;

/** @type {typeof http.openEngine} */
export async function openEngine(options) {
  const engine = await (fromDisk() ? disk : http).openEngine(options);
  /** @param {object} request */
  const call = async (request) => {
    let reply = await engine.call(request);
    for (let packs = 0; packs < MOST_PACKS && "pack" in reply; packs += 1) {
      const lacking = String(reply.pack);
      const had = await engine.pack(lacking).then(() => true, () => false);
      // There may be an answer that does without.
      reply = await engine.call(had ? request : { ...request, lacking });
      if (!had && "pack" in reply) throw new Error(`${lacking} could not be loaded`);
    }
    return reply;
  };
  return { ...engine, call };
}
