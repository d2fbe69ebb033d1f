/**
 * Lets the page be heard: a tap on what has `data-hear` plays it, a second tap stops.
 *
 * What is played comes from the engine as data; what plays it (band.js) is loaded with the first tap and never before.
 */

import { beside } from "./beside.js";
import { REPLAY, hear, send } from "./desk.js";
import { byId, tell, words } from "./page.js";
import { asked, given } from "./play.js";
import { settings } from "./settings.js";
import { tapsAlong } from "./taps.js";

/** Milliseconds in which the clock of a context that was there before must move; one that is new may take longer. */
const [PATIENCE, FIRST_PATIENCE] = [300, 3_000];
/** Milliseconds between two looks at it. */
const LOOK = 10;
/** Milliseconds of silence after which the device's sound is let go. */
const REST = 2_000;
/** Milliseconds between two parts that are asked for, so that taps go before, and how often one may fail to come. */
const [BETWEEN, TRIES] = [100, 3];
/** Where it is noted that the player was told of the silent switch. */
const HINTED = "linekeeper told of the silent switch";

/** @returns {typeof import("./band.js") | undefined} */
const band = () => /** @type {any} */ (globalThis).band;

/** What browsers of iPhones know beside the standard. @typedef {Navigator & {audioSession?: {type: string}}} Phone */

/** `taps` ends to note taps along with it, and gives them. @typedef {{button: HTMLElement, stop?: () => void, taps?: () => number[]}} Current */

/** @type {AudioContext | undefined} */
let context;
/** What was tapped and is heard, or will be as soon as it can. @type {Current | undefined} */
let current;
/** What keeps the screen on, where the browser has that. @type {Promise<WakeLockSentinel | undefined> | undefined} */
let awake;
/** @type {Promise<void> | undefined} */
let loading;
/** Whether the page says that it fell silent when it was hidden. */
let wasHidden = false;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let resting;

/** Plays what is tapped from now on. */
export function keepSound() {
  addEventListener("click", ({ target }) => {
    const button = target instanceof Element ? /** @type {HTMLElement | null} */ (target.closest("[data-hear]")) : null;
    if (!button) return;
    const wasOn = current?.button === button;
    hush();
    if (!wasOn) void begin(button);
  });
  addEventListener(REPLAY, ({ target }) => {
    const button = current?.button;
    if (!button || !(target instanceof Element) || !target.contains(button)) return;
    hush();
    void begin(button);
  });
  document.addEventListener("visibilitychange", () => {
    const awaited = current?.button.dataset.awake !== undefined;
    if (document.hidden) hush();
    // Who comes back to a long set finds it silent, and is told why until it plays again.
    if (document.hidden && awaited) tell(words("hidden"));
    wasHidden ||= document.hidden && awaited;
  });
  addEventListener("pagehide", hush);
}

/** Stops what is heard or about to be. */
export function hush() {
  if (!current) return;
  const { button, stop, taps } = current;
  current = undefined;
  stop?.();
  taps?.();
  button.setAttribute("aria-pressed", "false");
  button.removeAttribute("aria-busy");
  void awake?.then((lock) => lock?.release());
  awake = undefined;
  for (const element of document.querySelectorAll(".sounding")) element.classList.remove("sounding");
  // Else the device would be kept awake, and other players' sound away.
  clearTimeout(resting);
  resting = setTimeout(() => {
    void context?.suspend().catch(() => {});
    session("auto");
  }, REST);
}

/** @param {HTMLElement} button */
async function begin(button) {
  /** @type {Current} */
  const mine = { button };
  current = mine;
  const isOver = () => current !== mine;
  clearTimeout(resting);
  if (wasHidden) tell("");
  wasHidden = false;
  // This much within the tap: later a browser would not allow it.
  session("playback");
  const isNew = !context;
  const opened = (context ??= made());
  wake(opened);
  button.setAttribute("aria-pressed", "true");
  button.setAttribute("aria-busy", "true");
  const [running, there, data] = await Promise.all([clocked(opened, isNew), loaded(), wanted(button).catch(() => undefined)]);
  if (isOver()) return;
  button.removeAttribute("aria-busy");
  if (!running) tell(words("noSound"));
  else if (!there) tell(words("cannotLoad"));
  if (!running || !there || !data || document.hidden) return hush();
  hint();
  count(button);
  const player = there.play(running, data, {
    onNote: (index, isOn) => (button.isConnected ? light(button, index, isOn) : isOver() || hush()),
    onChapter: (chapter) => (button.isConnected ? show(chapter) : isOver() || hush()),
    onEnd: () => isOver() || finish(mine),
    late: (Number(settings()?.late) || 0) / 1000,
  });
  mine.stop = player.stop;
  const place = /** @type {HTMLElement | null} */ (button.closest("form")?.querySelector(`[data-taps="${button.dataset.hear}"]`));
  if (place) {
    mine.taps = tapsAlong(place, player.second);
    // So that the space bar taps, and does not press what plays once more.
    place.focus();
  }
  // On plain http there is no such thing, and a device that saves power refuses.
  if (button.dataset.awake !== undefined) awake = navigator.wakeLock?.request("screen").catch(() => undefined);
  await askOn(button, data.more, player.add, isOver);
}

/**
 * Asks for what follows the first part, while that is heard.
 * @param {HTMLElement} button @param {string | null | undefined} more what to ask for
 * @param {(part: any) => void} add @param {() => boolean} isOver
 */
async function askOn(button, more, add, isOver) {
  for (let tries = TRIES; more; ) {
    await new Promise((resolve) => setTimeout(resolve, BETWEEN));
    if (isOver() || !button.isConnected) return;
    const part = await hear(button, more).catch(() => undefined);
    if (isOver()) return;
    if (!part && --tries) continue;
    add(part);
    more = part?.more;
  }
}

/** It was heard to its end: what was tapped along goes to the engine. @param {Current} over */
function finish({ button, taps }) {
  const tapped = taps?.();
  hush();
  if (!tapped) return;
  button.focus({ preventScroll: true });
  send(button, ["tapped", JSON.stringify(tapped)]);
}

/** @returns {AudioContext | undefined} nothing where the browser has no sound */
function made() {
  try {
    const built = new AudioContext({ latencyHint: "balanced" });
    // A call or a lock of the screen: what goes on after that is not what was heard before.
    built.addEventListener("statechange", () => built === context && built.state !== "running" && current?.stop && hush());
    return built;
  } catch {
    return undefined;
  }
}

/** Whatever state it says it is in. @param {AudioContext | undefined} opened */
function wake(opened) {
  void opened?.resume().catch(() => {});
}

/**
 * The context once its clock moves. After a lock, a call or unplugged headphones it may stand still for good, whatever
 * state it tells; then a new one takes its place.
 * @param {AudioContext | undefined} opened @param {boolean} isNew
 * @returns {Promise<AudioContext | undefined>}
 */
async function clocked(opened, isNew) {
  if (!opened) return undefined;
  if (await moves(opened, isNew ? FIRST_PATIENCE : PATIENCE)) return opened;
  void opened.close().catch(() => {});
  if (context !== opened) return undefined;
  // Whatever becomes of this one, the next tap has one of its own.
  context = undefined;
  if (isNew) return undefined;
  const built = (context = made());
  wake(built);
  return clocked(built, true);
}

/** @param {AudioContext} opened @param {number} patience */
async function moves(opened, patience) {
  const [begun, before] = [performance.now(), opened.currentTime];
  for (;;) {
    await new Promise((resolve) => setTimeout(resolve, LOOK));
    if (opened.currentTime > before) return true;
    if (performance.now() - begun > patience) return false;
  }
}

/** What plays, loaded once; nothing where it cannot be had. */
async function loaded() {
  try {
    if (!band()) await (loading ??= beside("band.js"));
    await band()?.ready();
    return band();
  } catch {
    loading = undefined;
    return undefined;
  }
}

/** What the engine arranges for a button. @param {HTMLElement} button @returns {Promise<any>} nothing where there is none, which is said */
async function wanted(button) {
  const what = button.dataset.hear ?? "";
  if (button.closest("form.desk")) return hear(button, what);
  const place = Number(button.closest(".question")?.id.slice(1)) - 1;
  return (await asked({ do: "hear", ...given(), place, what }))?.sound;
}

/** Notes how often a question that is answered by ear was played: its answer tells. @param {HTMLElement} button */
function count(button) {
  const section = /** @type {HTMLElement | null} */ (button.closest(".question.heard"));
  if (section) section.dataset.heard = String(Number(section.dataset.heard ?? 0) + 1);
}

/** Marks a note wherever the button's form shows it. @param {HTMLElement} button @param {number} index @param {boolean} isOn */
function light(button, index, isOn) {
  for (const element of (button.closest("form") ?? document).querySelectorAll(`[data-index~="${index}"]`)) {
    element.classList.toggle("sounding", isOn);
  }
}

/** Puts what a chapter says into the places and hidden fields of the page that are named as its parts are. @param {Record<string, unknown>} chapter */
function show(chapter) {
  for (const [name, text] of Object.entries(chapter)) {
    const place = byId(`sounding-${name}`);
    if (place instanceof HTMLInputElement) place.value = String(text);
    else if (place) place.textContent = String(text);
  }
}

/** Where a phone can be told so, the silent switch does not count for what was tapped to be heard. @param {string} type */
function session(type) {
  const { audioSession } = /** @type {Phone} */ (navigator);
  if (audioSession) audioSession.type = type;
}

/** Tells of the silent switch, once, where it may be why nothing is heard. */
function hint() {
  const isPhone = /^(iP|Mac)/.test(navigator.platform) && navigator.maxTouchPoints > 1;
  if (!isPhone || "audioSession" in navigator) return;
  try {
    if (localStorage.getItem(HINTED)) return;
    localStorage.setItem(HINTED, "1");
  } catch {
    // Nothing is kept here: it is told on every visit.
  }
  tell(words("silentSwitch"));
}
