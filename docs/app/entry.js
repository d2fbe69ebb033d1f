/**
 * Where the client's one script starts: the build bundles this file and what it imports (docs/hooks/bundle.py).
 *
 * What is exported here is `globalThis.linekeeper` in the browser.
 */

import "./client.js";

export { engrave } from "./engraving.js";
export { openEngine } from "./ports.js";
