/**
 * The page's thin client: it sends what the player does to the engine and patches what comes back.
 *
 * The page works without it. The questions, their answers and every sentence were written by the engine;
 * here is only what is answered, which question is shown, and when the engine is asked.
 */

import { countAnswers, keepAnswers } from "./answers.js";
import { hasDesk, keepDesks, openDesks, rehearse } from "./desk.js";
import { forgive, isShy } from "./engine.js";
import { engrave } from "./engraving.js";
import { form } from "./form.js";
import { go, goOn, oneStop, places } from "./neck.js";
import { keepOffline } from "./offline.js";
import { byId, linked, painted, tell } from "./page.js";
import * as play from "./play.js";
import { Records } from "./records.js";
import { followSettings, isRetuned, otherNeck } from "./settings.js";
import { shareLinks } from "./share.js";
import { hush, keepSound } from "./sound.js";
import { again, isHere, travel } from "./travel.js";

/** Milliseconds after which the page's own round is offered to those who wait for a link's. */
const PATIENCE = 8_000;

const { classList } = document.documentElement;
/** How often a page was made ready; only the last time counts. */
let arrivals = 0;

/**
 * Makes the page that is in place ready: its round, what its link asks for, the engine.
 * @param {boolean} [fresh] whether the page is new; else only its link has changed
 */
async function arrive(fresh = true) {
  void countAnswers();
  hush();
  tell("");
  void engrave();
  if (hasDesk()) {
    if (fresh) classList.toggle("retuned", isRetuned());
    await openDesks(fresh);
    classList.remove("linked", "retuned");
    void painted().then(() => warm());
    return;
  }
  if (!form()) return;
  if (fresh) play.take();
  const arrival = ++arrivals;
  if (linked() || otherNeck(form())) classList.add("linked");
  classList.remove("retuned");
  setTimeout(() => classList.toggle("late", arrival === arrivals && classList.contains("linked")), PATIENCE);
  // The page is painted and can be answered first; then the engine loads, while what is kept here is looked up.
  const started = painted().then(() => play.asked({}));
  try {
    await play.open();
  } finally {
    // Where the engine cannot be had the page says so, and the round it brought along is better than none.
    if (arrival === arrivals) classList.remove("linked", "kept", "late");
  }
  void warm(started);
}

/** Starts the engine, and has it count what was answered before. @param {Promise<object | undefined>} [started] */
async function warm(started = play.asked({})) {
  if (!(await started)) return;
  void keepOffline({ begin: true });
  await rehearse();
  await play.grade();
}

/** @param {MouseEvent} event */
function onClick(event) {
  const { target } = event;
  if (!(target instanceof Element)) return;
  if (target.closest(".waiting button")) {
    classList.remove("linked");
    play.stay();
  }
  if (target.closest("#notice button")) {
    tell("");
    if (isShy()) {
      forgive();
      void (linked() === play.askedBy() ? warm() : arrive(false));
    }
  }
  if (!form()?.contains(target)) return;
  // The verdict shows with the check mark, and that waits until the answer is kept. A finger's click is caught at the
  // label: one that reaches the input checks it first and takes that back, and all styles are worked out twice more.
  const choice = target.closest("label")?.control ?? target;
  // A tap that only leads on to the next step of its question has no name, and is checked like any box.
  if (choice instanceof HTMLInputElement && choice.name) {
    event.preventDefault();
    const caught = choice !== target;
    if (!choice.disabled && !(caught && choice.checked)) void play.answer(choice, { caught });
  }
  const link = target.closest('a[href^="#"]');
  if (link) {
    event.preventDefault();
    hush();
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
  const answered = section.querySelector(".choice :checked") !== null;
  const typed = inputs[Number(event.key) - 1];
  if (typed && !answered) {
    typed.click();
  } else if (event.key.startsWith("Arrow") && !answered && places(section).length) {
    go(section, event.key);
  } else if (event.key.startsWith("Arrow") && focus instanceof HTMLInputElement && !answered) {
    // By itself an arrow key would answer with the next choice; here it only goes there.
    const step = event.key === "ArrowDown" || event.key === "ArrowRight" ? 1 : inputs.length - 1;
    inputs[(inputs.indexOf(focus) + step) % inputs.length]?.focus();
  } else if (event.key === "Enter" && !(focus instanceof HTMLAnchorElement || focus instanceof HTMLButtonElement)) {
    if (answered || !section.querySelector(".choice")) /** @type {HTMLElement | null} */ (section.querySelector("a.next, .more"))?.click();
    else if (focus instanceof HTMLInputElement) focus.click();
  } else {
    return;
  }
  event.preventDefault();
}

function begin() {
  // From here on the client says when the picture of an answer is shown.
  classList.add("scripted", "steered", "no-target");
  void keepOffline({ begin: false });
  const store = new Records();
  play.use(store);
  keepAnswers(store);
  keepDesks(store);
  shareLinks();
  keepSound();
  addEventListener("click", onClick);
  addEventListener("keydown", onKey);
  addEventListener("focusin", ({ target }) => {
    const board = target instanceof HTMLInputElement && target.closest(".board");
    if (board) oneStop(board.closest(".question") ?? board, target);
  });
  addEventListener("change", ({ target }) => {
    if (target instanceof HTMLInputElement && target.matches(".onward input")) goOn(target);
  });
  addEventListener("reset", ({ target }) => setTimeout(() => target === form() && onReset()));
  document.addEventListener("visibilitychange", play.onVisibility);
  addEventListener("hashchange", () => {
    // On the way to another page, that one will see to its link.
    if (!isHere()) return;
    if (hasDesk()) scrollTo(0, 0);
    else if (!form()) return;
    if (linked() || hasDesk()) void arrive(false);
    else if (!location.hash) again();
  });
  // What another tab sets holds here at once, but for a round that is underway.
  followSettings(() => {
    if (hasDesk()) void openDesks(false);
    else if ((form()?.dataset.neck ?? form()?.dataset.ear) !== undefined && !play.isBegun()) again();
  });
  travel(() => void arrive());
  void arrive();
}

/** The answers were cleared. */
function onReset() {
  play.restart();
  void warm();
}

begin();
