/** The door to the engine that fits the way this page was opened. */

import * as disk from "./port-disk.js";
import * as http from "./port.js";

/** Whether the runtime must come from beside the page without being fetched, or is in the page already. */
const fromDisk = () => location.protocol === "file:" || disk.carried() !== undefined;

/** @type {typeof http.openEngine} */
export const openEngine = (options) => (fromDisk() ? disk : http).openEngine(options);
