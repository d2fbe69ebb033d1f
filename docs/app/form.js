/** The round's form in the page: its questions, and what is checked in them. */

import { byId, rested } from "./page.js";

/** @typedef {import("./records.js").Answer} Answer */

export const form = () => /** @type {HTMLFormElement | null} */ (byId("round"));

/** @param {ParentNode | null} [round] @returns {HTMLInputElement[]} */
export const inputs = (round = form()) => [.../** @type {NodeListOf<HTMLInputElement>} */ (round?.querySelectorAll("input") ?? [])];

/** @param {ParentNode | null} round @param {Answer} answer @returns {HTMLInputElement | undefined} what it checks there */
const inputOf = (round, { place, choice }) =>
  inputs(round).find(({ name, value }) => name === `q${place + 1}` && value === String(choice));

/** What the page tells about an input, as a record has it. @param {HTMLInputElement} input @returns {Record<string, unknown>} */
export function facts(input) {
  const section = /** @type {HTMLElement | null} */ (input.closest("[data-question]"));
  return { ...JSON.parse(section?.dataset.question ?? "{}"), ...JSON.parse(input.dataset.choice ?? "{}") };
}

/** Whether an answer was given to what a round asks at its place. @param {ParentNode | null} round @param {Answer} answer */
export function suits(round, answer) {
  const input = inputOf(round, answer);
  return input !== undefined && Object.entries(facts(input)).every(([name, value]) => answer[name] === value);
}

/** Checks an answer, for good. The picture that goes with it follows a moment later, so that the verdict is there sooner. @param {Answer} answer */
export function freeze(answer) {
  const input = inputOf(form(), answer);
  if (!input) return;
  input.checked = true;
  void rested().then(() => input.closest(".question")?.classList.toggle("pictured", input.checked));
  for (const other of inputs()) if (other.name === input.name) other.disabled = other !== input;
}
