/** The door to the engine that fits the way this page was opened. */

export { openEngine } from "./port.js";
