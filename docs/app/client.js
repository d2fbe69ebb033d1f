/**
 * The page's thin client: it sends what the player does to the engine and patches what comes back.
 *
 * The page works without it. The questions, their answers and every sentence were written by the engine;
 * here is only what is answered, which question is shown, and when the engine is asked.
 */

import { Idiomorph } from "idiomorph";
import { openEngine } from "./ports.js";

/** @typedef {{index: number, choice: number, ms: number | null}} Answer */
/** @typedef {{drill: string, seed: number, indexes: number[]}} Plan */
/** @typedef {{plan?: Plan, html?: string, notice?: string, patches?: Record<string, string>, records?: object[], error?: string}} Reply */

const root = document.documentElement;
const base = new URL(root.dataset.base ?? "./", document.baseURI);
const LARGEST_SEED = 2 ** 32;

/** The engine once it runs; before that a promise of it. @type {Promise<import("./port.js").Engine> | undefined} */
let engine;
/** What was answered in this round, in order. @type {Answer[]} */
let answers = [];
/** The records that the engine has made of them; each is told once. @type {object[]} */
let records = [];
/** @type {Plan} */
let plan;
/** When the question was shown; NaN once the page was hidden since: that time does not count. */
let shownAt = NaN;

/** @param {string} id */
const byId = (id) => document.getElementById(id);
const form = () => /** @type {HTMLFormElement | null} */ (byId("round"));
const now = () => form()?.querySelector(".now") ?? null;

/** The next sentence for those who listen, and the place for one that all should read. @param {string} text */
function tell(text, id = "notice") {
  const place = byId(id);
  if (!place) return;
  place.textContent = text;
  place.hidden = !text;
}

/** A sentence that the page brought along. @param {string} name */
const words = (name) => byId("words")?.dataset[name] ?? "";

/** Takes a round that stands in the page as the one that is played. */
function take() {
  const round = form();
  if (!round) return;
  plan = JSON.parse(round.dataset.plan ?? "{}");
  answers = [];
  records = [];
  // A question may have been answered in the moments before this script ran.
  for (const input of round.querySelectorAll("input:checked")) keep(/** @type {HTMLInputElement} */ (input), null);
  show(round.querySelectorAll(".question")[Math.min(answers.length, plan.indexes.length - 1)], false);
}

/** @param {Element | null | undefined} section @param {boolean} [focus] */
function show(section, focus = true) {
  if (!section) return;
  now()?.classList.remove("now");
  section.classList.add("now");
  shownAt = document.hidden ? NaN : performance.now();
  tell("", "said");
  if (!focus) return;
  /** @type {HTMLElement} */ (section).focus({ preventScroll: true });
  scrollTo(0, 0);
}

/** Keeps the answer that an input stands for, and freezes its question. @param {HTMLInputElement} input @param {number | null} ms */
function keep(input, ms) {
  const index = Number(input.name.slice(1)) - 1;
  if (answers.some((answer) => answer.index === index)) return;
  answers.push({ index, choice: Number(input.value), ms });
  for (const other of form()?.querySelectorAll(`input[name="${input.name}"]`) ?? []) {
    /** @type {HTMLInputElement} */ (other).disabled = other !== input;
  }
}

/** @param {Event} event */
function onChange({ target }) {
  if (!(target instanceof HTMLInputElement) || target.type !== "radio" || !form()?.contains(target)) return;
  const ms = performance.now() - shownAt;
  keep(target, Number.isNaN(ms) ? null : Math.round(ms));
  const section = target.closest(".question");
  const seen = [...(section?.querySelectorAll(".verdict, .why") ?? [])].filter((part) => part.checkVisibility());
  tell(seen.map((part) => (part.textContent ?? "").replace(/\.?$/, ".")).join(" "), "said");
  if (engine) void grade();
}

/** Has the engine grade what was answered, and shows what that changes. */
async function grade() {
  if (!answers.length) return;
  const reply = await ask({ do: "grade", plan, answers });
  records = reply?.records ?? records;
  for (const [id, html] of Object.entries(reply?.patches ?? {})) {
    const place = byId(id);
    if (!place) continue;
    const current = place.classList.contains("now");
    Idiomorph.morph(place, html, { morphStyle: "outerHTML" });
    byId(id)?.classList.toggle("now", current);
  }
}

/** Puts another round into the page. @param {object} request @param {boolean} focus */
async function replace(request, focus) {
  const reply = await ask(request);
  const old = form();
  if (!reply?.html || !old) return false;
  old.insertAdjacentHTML("afterend", reply.html);
  old.remove();
  tell(reply.notice ?? "");
  take();
  if (focus) show(form()?.querySelector(".question"));
  return true;
}

/** Asks the engine; undefined where it cannot be had, which is said. @param {object} request @returns {Promise<Reply | undefined>} */
async function ask(request) {
  try {
    const running = await (engine ??= start());
    const reply = /** @type {Reply} */ (await running.call(request));
    if (!reply.error) return reply;
    tell(reply.error);
  } catch {
    tell(words("cannotLoad"));
  }
  return undefined;
}

/** Starts the engine and shows how far it is. */
function start() {
  const place = byId("loading");
  const bar = place?.querySelector("progress");
  if (place) place.hidden = false;
  return openEngine({
    base,
    onProgress: (fraction) => {
      if (bar) bar.value = fraction;
    },
  }).finally(() => {
    if (place) place.hidden = true;
  });
}

/** Opens what the link asks for; the prebuilt round stays hidden until that is there. */
async function openLink() {
  root.classList.add("linked");
  const seed = Math.floor(Math.random() * LARGEST_SEED);
  const count = plan.indexes.length;
  await replace({ do: "open", drill: plan.drill, link: location.hash, count, seed }, false);
  // Where the engine cannot be had the page says so, and the round it brought along is better than none.
  root.classList.remove("linked");
}

/** @param {KeyboardEvent} event */
function onKey(event) {
  const section = now();
  if (!section || event.ctrlKey || event.altKey || event.metaKey) return;
  const inputs = /** @type {HTMLInputElement[]} */ ([...section.querySelectorAll(".choices input")]);
  const answered = inputs.some((input) => input.checked);
  const typed = inputs[Number(event.key) - 1];
  if (typed && !answered) {
    typed.click();
  } else if (event.key.startsWith("Arrow") && document.activeElement instanceof HTMLInputElement && !answered) {
    // By itself an arrow key would answer with the next choice; here it only goes there.
    const step = event.key === "ArrowDown" || event.key === "ArrowRight" ? 1 : inputs.length - 1;
    inputs[(inputs.indexOf(document.activeElement) + step) % inputs.length]?.focus();
  } else if (event.key === "Enter" && !(document.activeElement instanceof HTMLAnchorElement)) {
    if (document.activeElement instanceof HTMLButtonElement) return;
    if (answered) /** @type {HTMLElement | null} */ (section.querySelector("a.next"))?.click();
    else if (document.activeElement instanceof HTMLInputElement) document.activeElement.click();
  } else {
    return;
  }
  event.preventDefault();
}

/** @param {MouseEvent} event */
function onClick(event) {
  if (!(event.target instanceof Element) || !form()?.contains(event.target)) return;
  const link = event.target.closest('a[href^="#"]');
  if (link) {
    event.preventDefault();
    show(byId(link.getAttribute("href")?.slice(1) ?? ""));
  }
  const how = /** @type {HTMLElement | null} */ (event.target.closest("[data-how]"))?.dataset.how;
  if (how) void replace({ do: "follow", plan, answers, how }, true);
}

if (form()) {
  take();
  document.addEventListener("change", onChange);
  document.addEventListener("click", onClick);
  document.addEventListener("keydown", onKey);
  document.addEventListener("reset", () => setTimeout(take));
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) shownAt = NaN;
  });
  addEventListener("hashchange", () => {
    if (location.hash.includes("=")) void openLink();
  });
  if (root.classList.contains("linked")) void openLink();
  // The page is painted and can be answered first; then the engine loads.
  else requestAnimationFrame(() => setTimeout(() => void ask({}).then(grade)));
}
