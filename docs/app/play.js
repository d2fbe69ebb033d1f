/**
 * Playing a round: which question is shown, what was answered and how long it took.
 *
 * An answer is on the device before its verdict is shown. What is right, and every sentence, stands in the page.
 */

import { Idiomorph } from "idiomorph";
import { Shy, ask, isWanted } from "./engine.js";
import { facts, form, freeze, inputs, judge, suits } from "./form.js";
import { oneStop } from "./neck.js";
import { byId, linked, painted, rested, say, showProgress, tell, words } from "./page.js";
import { promise } from "./records.js";
import { otherNeck, withoutSound } from "./settings.js";

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
/** The link that asked for the round, empty where it is the page's own. */
let asking = "";
/** For which neck the page's rounds are, where it is not the one that they were built for. */
let neck = "";
/** How many questions the page's own round has, and which drill asks them. */
let usual = 0;
let page = "";
/** After which round the next one is made already, or was made early. */
let followed = "";
/** The answers on their way to the device, one after the other. @type {Promise<void>} */
let underway = Promise.resolve();
/** Settled once it is decided which round the page shows; answers wait for that. @type {Promise<void>} */
let opening = Promise.resolve();
let openings = 0;
/** Whether the player was told that nothing is kept. */
let warned = false;
/** Milliseconds that the question was in view before `since`; NaN while it cannot be known. */
let seen = 0;
let since = NaN;

const build = () => document.documentElement.dataset.build ?? "";
const now = () => form()?.querySelector(".now") ?? null;
/** Under which name the page's round is kept; with options in its link, or on another neck, it is another page. @param {"shown" | "next"} what */
const key = (what, link = asking) => `${what} ${page}${link}${neck}${withoutSound(form())}`;

/** The answers of the round as the engine wants them. */
export const given = () => ({ plan, answers: answers.map(({ place, choice, ms }) => ({ index: place, choice, ms })) });

/** The link that the round in the page was made for. */
export const askedBy = () => asking;

/** @param {import("./records.js").Records} store */
export function use(store) {
  records = store;
}

/** Takes the page's own round as the one that is played. */
export function take() {
  if (!form()) return;
  begin(chanceName(), "");
  [page, usual] = [plan.drill, plan.indexes.length];
}

/** Takes the same questions as a round of its own. */
export function restart() {
  const html = source;
  begin(chanceName(), asking);
  source = html;
}

/** Begins the round that stands in the page. @param {string} round its name @param {string} link what asked for it */
function begin(round, link) {
  plan = JSON.parse(form()?.dataset.plan ?? "{}");
  [name, asking, source, answers] = [round, link, null, []];
  for (const input of inputs()) input.disabled = false;
  for (const part of form()?.querySelectorAll(".pictured, .told") ?? []) part.classList.remove("pictured", "told");
  for (const section of form()?.querySelectorAll("[data-heard]") ?? []) section.removeAttribute("data-heard");
  showFirst(false);
}

/** Goes to the first question that is not answered yet. @param {boolean} focus */
function showFirst(focus) {
  const open = [...(form()?.querySelectorAll(".question") ?? [])].find((section) => !section.querySelector(".choice :checked"));
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
  oneStop(section);
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
 * @param {object} [how]
 * @param {boolean} [how.timed] whether the time it took is known
 * @param {boolean} [how.caught] whether the click was caught before it reached the input
 */
export function answer(input, { timed = true, caught = false } = {}) {
  const ms = !timed || Number.isNaN(since) ? null : Math.round(seen + performance.now() - since);
  const before = underway.then(() => opening);
  underway = (caught ? before : before.then(handled)).then(() => settle(input, ms));
  if (caught) {
    const { activeElement } = document;
    // Whoever has gone on to something else meanwhile is not called back.
    const stays = () => [activeElement, document.body].includes(document.activeElement) && now()?.contains(input);
    void underway.then(rested).then(() => stays() && input.focus({ preventScroll: true }));
  }
  return underway;
}

/** Settled after the click was handled; until then the browser would take a check mark back, as it was told not to set it. */
const handled = () => new Promise((resolve) => setTimeout(resolve));

/** @param {HTMLInputElement} input @param {number | null} ms */
async function settle(input, ms) {
  const section = input.closest(".question");
  const place = Number(input.name.slice(1)) - 1;
  if (!section?.isConnected || answers.some((other) => other.place === place)) return;
  tell("");
  const shown = { key: key("shown"), round: name, plan, html: source, build: build() };
  /** @type {Answer} */
  let record = { ...facts(input), round: name, place, choice: Number(input.value), ms, at: Date.now() };
  if (section.matches(".heard")) record.heard = Number(/** @type {HTMLElement} */ (section).dataset.heard ?? 0);
  if (!answers.length) promise(true);
  try {
    record = await records.add(record, answers.length ? undefined : shown);
  } catch {
    warn();
  }
  if (shown.round !== name) return;
  answers.push(record);
  if (judge(record)) await painted();
  if (shown.round !== name) return;
  freeze(record);
  void painted().then(() => section.isConnected && section === now() && settled(section));
  if (isOver()) void painted().then(grade);
  else if (isWanted()) void rested().then(grade);
  // Once a round was played to its end it is worth keeping.
  if (isOver()) void navigator.storage?.persist?.().catch(() => {});
}

/** Tells what the verdict says, once it is seen. @param {Element} section */
function settled(section) {
  const parts = [...section.querySelectorAll(".verdict, .why")].filter((part) => part.checkVisibility({ visibilityProperty: true }));
  say(parts.map((part) => `${named(part)}${part.textContent}`.replace(/\.?$/, ".")).join(" "));
  // A neck leaves little room on a phone: the reasons and the way on come into view.
  if (section.matches(".taps")) section.querySelector(".way-on")?.scrollIntoView({ block: "nearest" });
}

/** Which place of a neck a verdict is about; a card's says it itself. @param {Element} verdict */
const named = (verdict) => {
  const place = verdict.closest("label")?.control?.ariaLabel;
  return place ? `${place}: ` : "";
};

/** Says that nothing is kept, once a visit. */
export function warn() {
  if (!warned) tell(words("notKept"));
  warned = true;
}

/** Has the engine count what was answered, shows what that changes, and has the next round made. */
export async function grade() {
  if (!form()) return;
  const [round, count] = [name, answers.length];
  const next = { key: key("next"), round, build: build() };
  const reply = await asked({ do: "grade", ...given() });
  if (round !== name || count !== answers.length) return;
  for (const [id, html] of Object.entries(reply?.patches ?? {})) {
    const place = byId(id);
    if (!place) continue;
    const current = place.classList.contains("now");
    Idiomorph.morph(place, html, { morphStyle: "outerHTML" });
    byId(id)?.classList.toggle("now", current);
  }
  // So that the next visit opens on new questions at once, however this one ends.
  // One by ear takes more of the engine. Who is here for the first time is spared that until this round is over; then
  // it takes the place of the one that was made early.
  const early = form()?.dataset.ear === "next" && !isOver();
  const following = early ? `${round} early` : round;
  if (!reply || !count || followed === following) return;
  followed = following;
  const made = await asked({ do: "follow", ...given(), how: "once more", early });
  if (made?.html) await keep({ ...next, plan: made.plan, html: made.html });
}

/** Asks the engine; nothing where it cannot be had, which is said. @param {object} request */
export async function asked(request) {
  try {
    const reply = await ask(request, showProgress);
    if (!reply.error) return reply;
    tell(reply.error);
  } catch (error) {
    showProgress(1);
    tell(words(error instanceof Shy ? "brokenOff" : "cannotLoad"));
  }
  return undefined;
}

/** Puts a round into the page. @param {Made} made @param {string} link what asked for it @param {string} [round] its name */
function put({ html }, link, round = chanceName()) {
  const old = form();
  if (!old) return;
  old.insertAdjacentHTML("afterend", html);
  old.remove();
  begin(round, link);
  source = html;
}

/** Plays on with another round. @param {string} how */
export async function follow(how) {
  const round = name;
  const next = how === "once more" ? await kept("next") : undefined;
  const made = next?.html && next.round === round ? next : await asked({ do: "follow", ...given(), how });
  if (!made?.html || round !== name) return;
  put(/** @type {Made} */ (made), asking);
  showFirst(true);
}

/** Whether any question of the round has its answer. */
export const isBegun = () => answers.length > 0;

/** Whether every question of the round has its answer. */
export const isOver = () => answers.length === plan.indexes.length;

/** Waits no longer for what the link asks for: the round in the page is played. */
export function stay() {
  openings += 1;
  opening = Promise.resolve();
}

/** Opens the page on what its link asks for, or on what is kept for it. Answers wait until it is decided. */
export async function open() {
  const number = ++openings;
  const isStale = () => number !== openings;
  const link = linked();
  neck = otherNeck(form());
  opening = (async () => {
    if (!(await records.database())) warn();
    if (isStale() || (await reopen(link, isStale)) || isStale()) return;
    if (link || neck) await openLink(link, isStale);
    else promise(false);
  })();
  // What was answered in the moments before this script ran.
  for (const input of inputs()) if (input.checked && input.name) void answer(input, { timed: false });
  await opening;
}

/**
 * Opens the round that was broken off, else fresh questions.
 * @param {string} link @param {() => boolean} isStale
 * @returns {Promise<boolean>} whether there was any
 */
async function reopen(link, isStale) {
  const [shown, next] = [await kept("shown", link), await kept("next", link)];
  const before = shown ? await records.ofRound(shown.round).catch(() => []) : [];
  const under = shown && before.length > 0 && before.length < /** @type {Plan} */ (shown.plan).indexes.length;
  // Who has begun to answer the page's own round goes on with it.
  const touched = !link && !neck && form()?.querySelector("input:checked");
  if (isStale()) return true;
  if (under) return resume(shown, before, link, isStale);
  // A link that says which questions it asks opens on those again.
  if (touched || !next?.html || next.round !== shown?.round || /[#&]seed=/.test(link)) return false;
  put(/** @type {Made} */ (next), link);
  return true;
}

/**
 * @param {import("./records.js").Kept} shown @param {Answer[]} before what was answered of it
 * @param {string} link @param {() => boolean} isStale
 */
async function resume(shown, before, link, isStale) {
  const here = !answers.length && JSON.stringify(shown.plan) === JSON.stringify(plan);
  if (!here && !link && form()?.querySelector("input:checked")) return false;
  if (!here && !shown.html) document.documentElement.classList.add("linked");
  const made = here || shown.html ? shown : await asked({ do: "show", plan: shown.plan });
  if (isStale()) return true;
  const round = document.createElement("template");
  round.innerHTML = made?.html ?? "";
  // Another build may ask otherwise.
  if (!before.every((record) => suits(here ? form() : round.content, record))) return false;
  if (here) begin(shown.round, link);
  else put(/** @type {Made} */ (made), link, shown.round);
  before.forEach(freeze);
  answers = before;
  showFirst(false);
  return true;
}

/** Opens what a link asks for. @param {string} link @param {() => boolean} isStale */
async function openLink(link, isStale) {
  const made = await asked({ do: "open", drill: page, link, count: usual, seed: chance() });
  if (!made?.html || isStale()) return;
  put(/** @type {Made} */ (made), link);
  if (made.notice) tell(made.notice);
}

/** @param {import("./records.js").Kept} round */
async function keep(round) {
  promise(true);
  // Only a head start is lost where it fails: the round on the page works, and the answers are records of their own.
  await records.keepRound(round).catch(() => {});
}

/** @param {"shown" | "next"} what @param {string} [link] */
async function kept(what, link) {
  const found = await records.round(key(what, link)).catch(() => undefined);
  // Another build's questions look and read otherwise; their plan is still good.
  return found && found.build !== build() ? { ...found, html: null } : found;
}
