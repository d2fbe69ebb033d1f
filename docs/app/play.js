/**
 * Playing a round: which question is shown, what was answered and how long it took.
 *
 * An answer is on the device before its verdict is shown. What is right, and every sentence, stands in the page.
 */

import { Idiomorph } from "idiomorph";
import { ask, isWanted } from "./engine.js";
import { byId, linked, say, showProgress, tell, words } from "./page.js";

/** @typedef {{drill: string, seed: number, indexes: number[]}} Plan */
/** @typedef {import("./records.js").Answer} Answer */
/** @typedef {{plan: Plan, html: string}} Made */

/** @type {import("./records.js").Records} */
let records;
/** @type {Plan} */
let plan;
/** The round's name. */
let name = "";
/** What was answered, in order. @type {Answer[]} */
let answers = [];
/** The round's HTML where the engine made it, null where it came with the page. @type {string | null} */
let source = null;
/** Whether an answer is on its way to the device. */
let busy = false;
/** Milliseconds that the question was in view before `since`; NaN while it cannot be known. */
let seen = 0;
let since = NaN;

export const form = () => /** @type {HTMLFormElement | null} */ (byId("round"));
const now = () => form()?.querySelector(".now") ?? null;
const build = () => document.documentElement.dataset.build ?? "";
/** Under which name the page's round is kept; with options in its link it is another page. */
/** @param {"shown" | "next"} what */
const key = (what) => `${what} ${plan.drill}${linked()}`;

/** The answers of the round as the engine wants them. */
export const given = () => ({ plan, answers: answers.map(({ place, choice, ms }) => ({ index: place, choice, ms })) });

/** @param {import("./records.js").Records} store */
export function use(store) {
  records = store;
}

/** Whether a round has been begun and not ended. */
export const isUnderWay = () => answers.length > 0 && answers.length < plan.indexes.length;

/** Takes the round that stands in the page as the one that is played. @param {string} [round] its name, where it has one */
export function take(round) {
  const place = form();
  if (!place) return;
  plan = JSON.parse(place.dataset.plan ?? "{}");
  name = round ?? chanceName();
  source = null;
  answers = [];
  if (!round) void keepEarly([.../** @type {NodeListOf<HTMLInputElement>} */ (place.querySelectorAll("input:checked"))]);
  showFirst(false);
}

/** Keeps what was answered in the moments before this script ran. @param {HTMLInputElement[]} inputs */
async function keepEarly(inputs) {
  for (const input of inputs) await answer(input, false);
}

/** Goes to the first question that is not answered yet. @param {boolean} focus */
function showFirst(focus) {
  const open = [...(form()?.querySelectorAll(".question") ?? [])].find((section) => !section.querySelector(":checked"));
  show(open ?? byId("result"), focus);
}

const chance = () => crypto.getRandomValues(new Uint32Array(1))[0] ?? 0;
const chanceName = () => [chance(), chance()].map((part) => part.toString(16).padStart(8, "0")).join("");

/** @param {Element | null | undefined} section @param {boolean} [focus] */
export function show(section, focus = true) {
  if (!section) return;
  now()?.classList.remove("now");
  section.classList.add("now");
  seen = 0;
  since = document.hidden ? NaN : performance.now();
  say("");
  if (!focus) return;
  /** @type {HTMLElement} */ (section).focus({ preventScroll: true });
  scrollTo(0, 0);
}

/** Time while the page is hidden never counts. */
export function onVisibility() {
  if (document.hidden) {
    if (!Number.isNaN(since)) seen += performance.now() - since;
    since = NaN;
  } else {
    since = performance.now();
  }
}

/**
 * Keeps the answer that an input stands for, then shows its verdict.
 * @param {HTMLInputElement} input
 * @param {boolean} [timed] whether the time it took is known
 */
export async function answer(input, timed = true) {
  const section = input.closest(".question");
  const place = Number(input.name.slice(1)) - 1;
  if (busy || !(section instanceof HTMLElement) || answers.some((other) => other.place === place)) return;
  busy = true;
  tell("");
  const ms = !timed || Number.isNaN(since) ? null : Math.round(seen + performance.now() - since);
  /** @type {Answer} */
  const record = {
    ...JSON.parse(section.dataset.question ?? "{}"),
    ...JSON.parse(input.dataset.choice ?? "{}"),
    round: name, place, choice: Number(input.value), ms, at: Date.now(),
  };
  try {
    await Promise.all([records.add(record), answers.length ? undefined : keep("shown", { plan, html: source })]);
  } catch {
    tell(words("notKept"));
  }
  busy = false;
  if (!section.isConnected) return;
  freeze(input);
  answers.push(record);
  const shown = [...section.querySelectorAll(".verdict, .why")].filter((part) => part.checkVisibility());
  say(shown.map((part) => (part.textContent ?? "").replace(/\.?$/, ".")).join(" "));
  if (isWanted()) void grade();
  if (answers.length === plan.indexes.length) void makeNext();
}

/** @param {HTMLInputElement} input */
function freeze(input) {
  input.checked = true;
  for (const other of /** @type {NodeListOf<HTMLInputElement>} */ (form()?.querySelectorAll(`input[name="${input.name}"]`) ?? [])) {
    other.disabled = other !== input;
  }
}

/** Has the engine count what was answered, and shows what that changes. */
export async function grade() {
  if (!answers.length || !form()) return;
  const round = name;
  const reply = await asked({ do: "grade", ...given() });
  if (round !== name) return;
  for (const [id, html] of Object.entries(reply?.patches ?? {})) {
    const place = byId(id);
    if (!place) continue;
    const current = place.classList.contains("now");
    Idiomorph.morph(place, html, { morphStyle: "outerHTML" });
    byId(id)?.classList.toggle("now", current);
  }
}

/** Asks the engine; nothing where it cannot be had, which is said. @param {object} request */
export async function asked(request) {
  try {
    const reply = await ask(request, showProgress);
    if (!reply.error) return reply;
    tell(reply.error);
  } catch {
    showProgress(1);
    tell(words("cannotLoad"));
  }
  return undefined;
}

/** Puts a round into the page. @param {Made} made @param {string} [round] its name, where it has one */
function put({ html }, round) {
  const old = form();
  if (!old) return;
  old.insertAdjacentHTML("afterend", html);
  old.remove();
  take(round);
  source = html;
}

/** Plays on with another round. @param {string} how */
export async function follow(how) {
  const stored = how === "once more" ? await kept("next") : undefined;
  const made = stored?.html ? stored : await asked({ do: "follow", ...given(), how });
  if (!made?.html) return;
  put(/** @type {Made} */ (made));
  if (stored) await keep("next", null);
  showFirst(true);
}

/** @param {Answer} record */
const inputOf = ({ place, choice }) => form()?.querySelector(`input[name="q${place + 1}"][value="${choice}"]`);

/** Whether a record's question and choice are those that stand in the page. @param {Answer} record */
function isAsked(record) {
  const input = inputOf(record);
  if (!(input instanceof HTMLInputElement)) return false;
  const asked = JSON.parse(byId(input.name)?.dataset.question ?? "{}");
  return asked.skill === record.skill && JSON.parse(input.dataset.choice ?? "{}").value === record.value;
}

/**
 * Opens the page on what is kept for it: the round that was broken off, else fresh questions.
 * @returns {Promise<boolean>} whether there was any
 */
export async function reopen() {
  const [shown, next] = [await kept("shown"), await kept("next")];
  const before = shown ? await records.ofRound(shown.round).catch(() => []) : [];
  if (shown && before.length && before.length < /** @type {Plan} */ (shown.plan).indexes.length) {
    const same = JSON.stringify(shown.plan) === JSON.stringify(plan);
    const made = same ? undefined : shown.html ? shown : await asked({ do: "show", plan: shown.plan });
    if (!same && !made?.html) return false;
    if (made) put(/** @type {Made} */ (made), shown.round);
    else take(shown.round);
    // Another build may ask something else in the same place; such an answer is kept, but not shown here.
    answers = before.filter((record) => isAsked(record));
    for (const record of answers) freeze(/** @type {HTMLInputElement} */ (inputOf(record)));
    showFirst(false);
    return true;
  }
  if (!next?.html) return false;
  put(/** @type {Made} */ (next));
  await keep("next", null);
  return true;
}

/** Whether every question of the round has its answer. */
export const isOver = () => answers.length === plan.indexes.length;

/** Opens what the page's link asks for. @param {() => boolean} isWaited whether the player still waits for it */
export async function openLink(isWaited) {
  if (await reopen()) return;
  const count = plan.indexes.length;
  const made = await asked({ do: "open", drill: plan.drill, link: linked(), count, seed: chance() });
  if (!made?.html || !isWaited()) return;
  put(/** @type {Made} */ (made));
  tell(made.notice ?? "");
}

/** Has the round after this one made and kept, so that the next visit opens on new questions at once. */
async function makeNext() {
  // Asked once a round was played to its end: by then it is worth keeping.
  void navigator.storage?.persist?.().catch(() => {});
  const made = await asked({ do: "follow", ...given(), how: "once more" });
  if (made?.html) await keep("next", /** @type {Made} */ (made));
}

/** @param {"shown" | "next"} what @param {{plan: object, html: string | null} | null} made */
async function keep(what, made) {
  promise(Boolean(made?.html));
  try {
    await records.keepRound({ key: key(what), round: name, plan: made?.plan ?? {}, html: made?.html ?? null, build: build() });
  } catch {
    // Only the head start is lost: the round on the page works, and the answers are records of their own.
  }
}

/** @param {"shown" | "next"} what */
async function kept(what) {
  try {
    const found = await records.round(key(what));
    // Another build's questions look and read otherwise; their plan is still good.
    return found && found.build !== build() ? { ...found, html: null } : found;
  } catch {
    return undefined;
  }
}

/** Tells the next visit, before it paints, that something else than the round in the page will be shown. @param {boolean} there */
function promise(there) {
  try {
    if (there) localStorage.setItem(`linekeeper kept ${location.pathname}`, "1");
    else localStorage.removeItem(`linekeeper kept ${location.pathname}`);
  } catch {
    // Then the page opens on its own round first.
  }
}
