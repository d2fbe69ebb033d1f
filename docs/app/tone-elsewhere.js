/**
 * Takes the place of tone.js in the edition that has Tone.js from a public host: the same names, once it has come.
 *
 * Its file there is all of it in one, and makes a global.
 */

/** @type {any} */
export let Context;
/** @type {any} */
export let Convolver;
/** @type {any} */
export let Gain;
/** @type {any} */
export let Panner;
/** @type {any} */
export let Sampler;
/** @type {any} */
export let setContext;
/** @type {any} */
export let ToneAudioBuffer;

/** @type {Promise<void> | undefined} */
let coming;

/** Settled once it can be used; rejects where it cannot be had, and the next time tries again. */
export const ready = () =>
  (coming ??= take().catch((error) => {
    coming = undefined;
    throw error;
  }));

async function take() {
  const { base = "./", runtime = "runtime/" } = document.documentElement.dataset;
  const { run } = await import(new URL(`${runtime}cdn.mjs`, new URL(base, document.baseURI)).href);
  const Tone = await run("Tone.js", "Tone");
  ({ Context, Convolver, Gain, Panner, Sampler, setContext, ToneAudioBuffer } = Tone);
  // It opened a context of its own as it came, with a clock; the band brings both.
  Tone.getContext().dispose();
}
