/** What the band uses of Tone.js, file by file, so that all the rest of it stays out of the bundle. */

export { Panner } from "tone/build/esm/component/channel/Panner.js";
export { Convolver } from "tone/build/esm/component/filter/Convolver.js";
export { Context } from "tone/build/esm/core/context/Context.js";
export { Gain } from "tone/build/esm/core/context/Gain.js";
export { setContext } from "tone/build/esm/core/context/GlobalContext.js";
export { ToneAudioBuffer } from "tone/build/esm/core/context/ToneAudioBuffer.js";
export { Sampler } from "tone/build/esm/instrument/Sampler.js";

/** Settled once it can be used: at once, since it came along. */
export const ready = async () => {};
