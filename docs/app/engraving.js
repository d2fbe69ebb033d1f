/** Keeps the lines of a page drawn as music: at the width there is, on paper, and after every change. */

import { beside } from "./beside.js";
import { tell, words } from "./page.js";

/** The width on paper, in pixels. */
const PAPER = 660;
/** Milliseconds that a width must stay before it counts. */
const PATIENCE = 100;

/** @returns {typeof import("./engraver.js") | undefined} */
const engraver = () => /** @type {any} */ (globalThis).engraver;

/** What each figure shows. @type {WeakMap<HTMLElement, string>} */
const shown = new WeakMap();

/** @type {Promise<void> | undefined} */
let loading;
let waiting = 0;

/** Draws every line of the page that is not drawn as it should be; what draws is loaded with the first one. */
export async function engrave() {
  const all = figures();
  if (!all.length) return;
  try {
    if (!isReady) await (loading ??= load());
    drawAll();
    for (const figure of all) widths.observe(figure);
  } catch {
    loading = undefined;
    tell(words("cannotEngrave"));
  }
}

const figures = () => /** @type {HTMLElement[]} */ ([...document.querySelectorAll("figure[data-engraving]")]);

/** Whether the signs of music are there too. */
let isReady = false;

async function load() {
  if (!engraver()) await beside("engraver.js");
  await engraver()?.ready;
  isReady = true;
}

/** @param {number} [paper] a width in pixels in the place of each figure's own */
function drawAll(paper) {
  for (const figure of figures()) {
    const width = paper ?? figure.clientWidth;
    const spec = figure.dataset.engraving ?? "";
    const wanted = `${width} ${spec}`;
    if (!width || (shown.get(figure) === wanted && figure.firstElementChild)) continue;
    engraver()?.draw(figure, JSON.parse(spec), width);
    shown.set(figure, wanted);
  }
}

const widths = new ResizeObserver(() => {
  clearTimeout(waiting);
  waiting = setTimeout(() => void engrave(), PATIENCE);
});
addEventListener("beforeprint", () => isReady && drawAll(PAPER));
addEventListener("afterprint", () => isReady && drawAll());
// Words are as wide as their typeface.
document.fonts.addEventListener("loadingdone", () => {
  for (const figure of figures()) shown.delete(figure);
  void engrave();
});
