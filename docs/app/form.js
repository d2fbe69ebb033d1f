/** The round's form in the page: its questions, and what is checked in them. */

import { byId, rested } from "./page.js";

/** @typedef {import("./records.js").Answer} Answer */

export const form = () => /** @type {HTMLFormElement | null} */ (byId("round"));

/** @param {ParentNode | null} [round] @returns {HTMLInputElement[]} */
export const inputs = (round = form()) => [.../** @type {NodeListOf<HTMLInputElement>} */ (round?.querySelectorAll("input") ?? [])];

/** What can be answered to one of the round's questions. @param {ParentNode | null} round @param {number} place */
const choices = (round, place) => inputs(round?.querySelector(`#q${place + 1}`)).filter(({ name }) => name);

/** @param {ParentNode | null} round @param {Answer} answer @returns {HTMLInputElement | undefined} what it checks there */
const inputOf = (round, { place, choice }) => choices(round, place).find(({ value }) => value === String(choice));

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

/**
 * Shows the verdict on the cards that it is about, ahead of all else that an answer brings to light: that takes a slow
 * phone twice as long. A neck shows everything at once.
 * @param {Answer} answer @returns {boolean} whether there was anything to show
 */
export function judge(answer) {
  const card = inputOf(form(), answer)?.closest(".choices .choice");
  for (const right of card?.closest(".choices")?.querySelectorAll(".right") ?? []) right.classList.add("told");
  card?.classList.add("told");
  return Boolean(card);
}

/** Checks an answer, for good. The picture that goes with it follows a moment later, so that the verdict is there sooner. @param {Answer} answer */
export function freeze(answer) {
  const input = inputOf(form(), answer);
  if (!input) return;
  input.checked = true;
  void rested().then(() => input.closest(".question")?.classList.toggle("pictured", input.checked));
  for (const other of choices(form(), answer.place)) other.disabled = other !== input;
}
