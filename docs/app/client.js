/**
 * The page's thin client: it sends what the player does to the engine and patches what comes back.
 *
 * The page works without it. The questions, their answers and every sentence were written by the engine;
 * here is only what is answered, which question is shown, and when the engine is asked.
 */

import { countAnswers, keepAnswers } from "./answers.js";
import { forgive, isShy } from "./engine.js";
import { keepOffline } from "./offline.js";
import { byId, linked, tell, words } from "./page.js";
import * as play from "./play.js";
import { Records, openRecords } from "./records.js";
import { shareLinks } from "./share.js";
import { travel } from "./travel.js";

/** Milliseconds after which the page's own round is offered to those who wait for a link's. */
const PATIENCE = 8_000;

const { classList } = document.documentElement;

/**
 * Makes the page that is in place ready: its round, what its link asks for, the engine.
 * @param {boolean} [fresh] whether the page is new; else only its link has changed
 */
async function arrive(fresh = true) {
  void countAnswers();
  if (!play.form()) return;
  if (fresh) play.take();
  try {
    if (linked()) {
      classList.add("linked");
      setTimeout(() => classList.add("late"), PATIENCE);
      await play.openLink(() => classList.contains("linked"));
    } else {
      await play.reopen();
    }
  } finally {
    // Where the engine cannot be had the page says so, and the round it brought along is better than none.
    classList.remove("linked", "kept", "late");
  }
  if (isShy()) tell(words("brokenOff"));
  // The page is painted and can be answered first; then the engine loads.
  else requestAnimationFrame(() => setTimeout(() => void warm()));
}

/** Starts the engine, and has it count what was answered before. */
async function warm() {
  if (!(await play.asked({}))) return;
  void keepOffline({ begin: true });
  await play.grade();
}

/** @param {MouseEvent} event */
function onClick(event) {
  const { target } = event;
  if (!(target instanceof Element)) return;
  if (target.closest(".waiting button")) classList.remove("linked");
  if (target.closest("#notice button")) {
    tell("");
    if (isShy()) {
      forgive();
      void warm();
    }
  }
  if (!play.form()?.contains(target)) return;
  if (target instanceof HTMLInputElement && target.type === "radio") {
    // The verdict shows with the check mark, and that waits until the answer is kept.
    event.preventDefault();
    void play.answer(target);
  }
  const link = target.closest('a[href^="#"]');
  if (link) {
    event.preventDefault();
    // Who looks at a question again after the round goes back to its result.
    const back = link.matches(".next") && play.isOver() ? "result" : "";
    play.show(byId(back || (link.getAttribute("href")?.slice(1) ?? "")));
  }
  const how = /** @type {HTMLElement | null} */ (target.closest("[data-how]"))?.dataset.how;
  if (how) void play.follow(how);
}

/** @param {KeyboardEvent} event */
function onKey(event) {
  const section = document.querySelector(".round .now");
  const focus = document.activeElement;
  if (!section || event.ctrlKey || event.altKey || event.metaKey) return;
  // Keys belong to the question unless the focus is at something else, beside or below it.
  if (focus && !focus.contains(section) && !section.contains(focus)) return;
  const inputs = /** @type {HTMLInputElement[]} */ ([...section.querySelectorAll(".choices input")]);
  const answered = inputs.some((input) => input.checked);
  const typed = inputs[Number(event.key) - 1];
  if (typed && !answered) {
    typed.click();
  } else if (event.key.startsWith("Arrow") && focus instanceof HTMLInputElement && !answered) {
    // By itself an arrow key would answer with the next choice; here it only goes there.
    const step = event.key === "ArrowDown" || event.key === "ArrowRight" ? 1 : inputs.length - 1;
    inputs[(inputs.indexOf(focus) + step) % inputs.length]?.focus();
  } else if (event.key === "Enter" && !(focus instanceof HTMLAnchorElement || focus instanceof HTMLButtonElement)) {
    if (answered || !inputs.length) /** @type {HTMLElement | null} */ (section.querySelector("a.next, .more"))?.click();
    else if (focus instanceof HTMLInputElement) focus.click();
  } else {
    return;
  }
  event.preventDefault();
}

async function begin() {
  void keepOffline({ begin: false });
  let store;
  try {
    store = await openRecords();
  } catch {
    store = new Records(null);
    if (play.form()) tell(words("notKept"));
  }
  play.use(store);
  keepAnswers(store);
  shareLinks();
  addEventListener("click", onClick);
  addEventListener("keydown", onKey);
  addEventListener("reset", () => setTimeout(() => play.take()));
  document.addEventListener("visibilitychange", play.onVisibility);
  addEventListener("hashchange", () => {
    if (linked()) void arrive(false);
    // Back from a link to the page as it is by itself.
    else if (!location.hash && play.form()) location.reload();
  });
  travel(() => void arrive());
  await arrive();
}

void begin();
