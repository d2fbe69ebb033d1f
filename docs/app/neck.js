/** Going over a neck by keyboard, and from one step of a question to the next. */

import { say } from "./page.js";

/** @param {Element} section @returns {HTMLInputElement[]} the places of the step that is next, string by string */
export const places = (section) =>
  /** @type {HTMLInputElement[]} */ ([...section.querySelectorAll(".board input")]).filter((input) =>
    input.checkVisibility({ visibilityProperty: true }));

/** Makes a board one stop of the Tab key: at a place, else at the first one of the step that is next. @param {Element} section @param {HTMLInputElement} [at] */
export function oneStop(section, at = places(section)[0]) {
  if (!at) return;
  for (const input of /** @type {NodeListOf<HTMLInputElement>} */ (section.querySelectorAll(".board input"))) input.tabIndex = input === at ? 0 : -1;
}

/** How far the arrow keys go: strings down, frets to the right. */
const ARROWS = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };

/** Goes from one place to the next as an arrow key says, and stays at the edge. @param {Element} section @param {string} key */
export function go(section, key) {
  const all = places(section);
  const frets = Number(/** @type {HTMLElement | null} */ (section.querySelector(".board"))?.dataset.frets);
  const at = all.indexOf(/** @type {HTMLInputElement} */ (document.activeElement));
  if (at < 0) return all[0]?.focus();
  const [down, right] = ARROWS[/** @type {keyof typeof ARROWS} */ (key)];
  // Where the neck is turned round, the frets go up to the left; a keyboard never is.
  const isTurned = document.documentElement.classList.contains("left-handed") && !section.querySelector(".keyed");
  const up = isTurned ? -right : right;
  const fret = (at % frets) + up;
  if (fret >= 0 && fret < frets) all[at + down * frets + up]?.focus();
}

/** Goes on to the next step at the place where this one was answered. @param {HTMLInputElement} input */
export function goOn(input) {
  const step = input.closest(".step");
  const next = step?.nextElementSibling;
  if (!step || !next) return;
  const at = [...step.querySelectorAll("input")].indexOf(input);
  next.querySelectorAll("input")[at]?.focus({ preventScroll: true });
  say([input.ariaLabel, input.nextElementSibling?.firstElementChild?.textContent, next.querySelector(".doing")?.textContent].join(". "));
}
