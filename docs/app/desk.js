/**
 * Forms that the engine answers: whatever is chosen, pressed or typed in one goes there, and what comes back is shown.
 *
 * What a form is about stands in its `data-desk`, and an answer may put something else there: nothing is kept here.
 */

import { Idiomorph } from "idiomorph";
import { engrave } from "./engraving.js";
import { byId, linked, say, tell, words } from "./page.js";
import { asked, warn } from "./play.js";
import { keepSettings, settings } from "./settings.js";
import { goTo } from "./travel.js";

/** @typedef {[string, string]} Pressed a button's name and value */

/** Milliseconds without a key after which what is typed in a field with `data-live` is sent. */
const PAUSE = 250;
/** Fields that hold what was typed. */
const TYPED = new Set(["text", "search"]);
const MOST_CHANCE = 2 ** 53;
/** Milliseconds that a file may take to be saved from where it was put for that. */
const SAVING = 60_000;

/** What a form tells when what it plays is no longer what it should. */
export const REPLAY = "replay";

/** @type {import("./records.js").Records} */
let records;
/** What was asked, one after the other: no tap is lost, and each sees what the one before it did. @type {Promise<void>} */
let underway = Promise.resolve();
/** @type {ReturnType<typeof setTimeout> | undefined} */
let typing;
/** Milliseconds between what is worked out ahead, so that taps go before, where the answer does not say how many. */
const IDLE = 100;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let idle;
/** What was filled in and is not asked about yet: an answer to something earlier leaves it alone. @type {Map<EventTarget, object>} */
const waiting = new Map();
/** Whether what the page says at its top came with the last answer. */
let spoke = false;

/** @returns {NodeListOf<HTMLFormElement>} */
const desks = () => document.querySelectorAll("form.desk");

/** @param {EventTarget | null} target */
const deskOf = (target) => /** @type {HTMLFormElement | null} */ (target instanceof Element ? target.closest("form.desk") : null);

/** Whether the page has one. */
export const hasDesk = () => desks().length > 0;

/** @param {import("./records.js").Records} store */
export function keepDesks(store) {
  records = store;
  addEventListener("change", ({ target }) => {
    // What only the page itself goes by is nothing to ask about.
    if (!(target instanceof HTMLElement && target.dataset.local !== undefined)) send(target);
  });
  addEventListener("input", ({ target }) => {
    if (!(target instanceof HTMLElement) || target.dataset.live === undefined) return;
    clearTimeout(typing);
    typing = setTimeout(send, PAUSE, target);
  });
  addEventListener("click", ({ target }) => {
    if (target instanceof Element && target.closest("[data-print]")) print();
    const button = target instanceof Element ? /** @type {HTMLButtonElement | null} */ (target.closest("form.desk button[name]")) : null;
    if (button && button.type !== "submit") send(button, [button.name, button.value]);
    press(target);
  });
  addEventListener("keydown", onKey);
  addEventListener("submit", (event) => {
    if (!deskOf(event.target)) return;
    event.preventDefault();
    const button = /** @type {HTMLButtonElement | null} */ (event.submitter);
    send(event.target, [button?.name ?? "", button?.value ?? ""]);
  });
}

/** What else than a button can be pressed, and what that sends: a name and a value. */
const PRESS = "form.desk [data-press]";

/** @param {EventTarget | null} target @returns {boolean} whether that is something to press */
function press(target) {
  const pressed = /** @type {HTMLElement | SVGElement | null} */ (target instanceof Element ? target.closest(PRESS) : null);
  const [name = "", value = ""] = pressed?.dataset.press?.split(" ") ?? [];
  if (pressed) send(pressed, [name, value]);
  return Boolean(pressed);
}

/** Enter and Space press what has the focus; arrows go to its neighbours, of which the Tab key reaches one. @param {KeyboardEvent} event */
function onKey(event) {
  const { target, key } = event;
  if (!(target instanceof SVGElement && target.matches(PRESS)) || event.ctrlKey || event.altKey || event.metaKey) return;
  if (key.startsWith("Arrow")) {
    const all = /** @type {SVGElement[]} */ ([...(target.closest("figure")?.querySelectorAll("[data-press]") ?? [])]);
    all[all.indexOf(target) + (key === "ArrowRight" || key === "ArrowDown" ? 1 : -1)]?.focus();
  } else if (key !== "Enter" && key !== " ") {
    return;
  } else if (!event.repeat) {
    press(target);
  }
  event.preventDefault();
}

/**
 * Asks for each form of the page what its link and what is kept make of it.
 * @param {boolean} fresh whether the page has just come: then what stands in it is what it is without a link
 * @returns {Promise<void>}
 */
export function openDesks(fresh) {
  for (const { id, dataset } of desks()) {
    recall(dataset);
    const keeps = dataset.needs?.includes("own");
    const others = dataset.neck !== undefined && settings();
    if (!fresh || linked() || keeps || others) {
      const opened = send(byId(id), ["open", ""]);
      if (keeps || linked()) void showWaiting(id, opened);
      // What was chosen before this script ran is asked after it.
      if (fresh && chosenEarly(id)) send(byId(id));
    }
    // What is made to keep things says at once where nothing is kept; anything else, when there is something.
    if (keeps && dataset.quiet === undefined) void records.database().then((there) => there || warn());
  }
  return underway;
}

/** Milliseconds after which a form says that it waits for what is kept. */
const SILENT = 1000;

/**
 * Says that what is shown is not yet what it will be, where anything is kept that could change it.
 * @param {string} id @param {Promise<void>} opened
 */
async function showWaiting(id, opened) {
  const kept = linked() || (await records.lines().catch(() => [])).length;
  const busy = setTimeout(() => kept && byId(id)?.setAttribute("aria-busy", "true"), SILENT);
  await opened;
  clearTimeout(busy);
  byId(id)?.removeAttribute("aria-busy");
}

/** Whether another box of a form is checked than it came with. @param {string} id */
const chosenEarly = (id) =>
  [.../** @type {NodeListOf<HTMLInputElement>} */ (byId(id)?.querySelectorAll("input[type=radio]") ?? [])].some((box) => box.checked !== box.defaultChecked);

/**
 * @param {EventTarget | null} target something in a form @param {Pressed | null} [pressed]
 * @param {boolean} [ofItself] whether the page asks, and not the player @returns {Promise<void>} settled once it is answered
 */
export function send(target, pressed = null, ofItself = false) {
  const desk = deskOf(target);
  if (!desk) return underway;
  clearTimeout(typing);
  // What was filled in now counts, though what is shown may change until it is asked.
  const fields = filledIn(desk);
  if (target) waiting.set(target, fields);
  underway = underway
    .then(async () => {
      if (target && waiting.get(target) === fields) waiting.delete(target);
      await ask(desk.id, pressed, await fields, ofItself);
    })
    .catch(() => {});
  return underway;
}

/** Has the engine answer for each form what it shows already: so what its first tap will need is loaded by then. */
export async function rehearse() {
  for (const place of desks()) await asked(await request(place, null, await filledIn(place)));
}

/** What a button of a form is to sound like: the engine's `sound`. @param {Element} button @param {string} what @returns {Promise<any>} */
export async function hear(button, what) {
  const desk = deskOf(button);
  if (!desk) return undefined;
  const fields = filledIn(desk);
  const answered = underway.then(async () => ask(desk.id, ["hear", what], await fields));
  underway = answered.then(() => {}, () => {});
  return (await answered)?.sound;
}

/** @param {string} id @param {Pressed | null} pressed @param {Record<string, string[]>} fields @param {boolean} [ofItself] */
async function ask(id, pressed, fields, ofItself = false) {
  const place = /** @type {HTMLFormElement | null} */ (byId(id));
  const reply = place && (await asked(await request(place, pressed, fields)));
  if (reply) await show(place, reply, ofItself);
  else spoke = true;
  return reply;
}

/** @param {HTMLFormElement} place @param {Pressed | null} pressed @param {Record<string, string[]>} fields */
async function request(place, pressed, fields) {
  const { desk = "{}", needs = "" } = place.dataset;
  /** @type {Record<string, unknown>} */
  const made = {
    ...JSON.parse(desk),
    pressed,
    fields,
    link: linked().slice(1),
    at: Date.now(),
    chance: Math.floor(Math.random() * MOST_CHANCE),
  };
  if (needs.includes("book")) made.book = byId("book-data")?.textContent ?? "[]";
  if (needs.includes("own")) made.own = await records.lines().catch(() => []);
  return made;
}

/** @param {HTMLFormElement} place @returns {Promise<Record<string, string[]>>} what its fields hold; of a file, its text */
async function filledIn(place) {
  /** @type {Record<string, string[]>} */
  const fields = {};
  for (const [name, value] of new FormData(place)) {
    if (value instanceof File && !value.name) continue;
    const text = value instanceof File ? await value.text().catch(() => "") : value;
    (fields[name] ??= []).push(text);
  }
  for (const input of place.querySelectorAll("input")) if (input.type === "file") input.value = "";
  return fields;
}

/** @param {HTMLFormElement} place @param {import("./engine.js").Reply} reply @param {boolean} ofItself */
async function show(place, reply, ofItself) {
  if (reply.settings !== undefined && !keepSettings(reply.settings)) warn();
  if (reply.keep?.length) await records.keepLines(reply.keep).catch(warn);
  if (!place.isConnected) return;
  // What is drawn anew loses the focus.
  const focused = focusedPress();
  const around = document.activeElement?.closest("form.desk [tabindex='-1'][id]")?.id;
  if (reply.desk) place.dataset.desk = JSON.stringify(reply.desk);
  if (reply.link !== undefined) relink(reply.link);
  if (reply.kept !== undefined) remember(place.dataset, reply.kept);
  for (const [id, html] of Object.entries(reply.patches ?? {})) {
    const old = byId(id);
    if (old) Idiomorph.morph(old, html, { morphStyle: "outerHTML", ignoreActiveValue: isTyping(), callbacks: { beforeNodeMorphed: keepTyped, beforeAttributeUpdated: keepPressed } });
  }
  // Where the button that was pressed is gone, reading goes on where it stood.
  if (around && document.activeElement === document.body) byId(around)?.focus({ preventScroll: true });
  void engrave().then(() => focused && !focusedPress() && refocus(focused));
  // What others have said (that nothing is kept, say) stays until the player has read it, and what is told here until
  // the player does something.
  if (spoke && !ofItself) tell("");
  spoke = Boolean(reply.notice) || (spoke && ofItself);
  if (reply.notice) tell(reply.notice);
  if (reply.said) say(reply.said);
  if (reply.replay) place.dispatchEvent(new Event(REPLAY, { bubbles: true }));
  if (reply.file) save(reply.file);
  if (reply.share) await share(reply.share);
  if (reply.then) send(byId(place.id), reply.then, true);
  if (reply.ahead) {
    clearTimeout(idle);
    idle = setTimeout(() => send(byId(place.id), reply.ahead, true), reply.idle ?? IDLE);
  }
  if (reply.go) goTo(there(reply.go));
}

const focusedPress = () => document.activeElement?.getAttribute("data-press");

/** @param {string} press */
function refocus(press) {
  const found = /** @type {SVGElement | null} */ (document.querySelector(`form.desk [data-press="${press}"]`));
  if (document.activeElement === document.body) found?.focus({ preventScroll: true });
}

/** Puts what the page shows behind # of its address. @param {string} link */
function relink(link) {
  try {
    history.replaceState(history.state, "", link ? `#${link}` : location.pathname + location.search);
  } catch {
    // Some browsers allow a page only so many changes in a while; the next one tells all of it again.
  }
}

/** Has a form that keeps what was set last open on that, where the address says nothing. @param {DOMStringMap} form */
function recall({ kept }) {
  if (!kept || linked()) return;
  try {
    const link = localStorage.getItem(kept);
    if (link) relink(link);
  } catch {
    // Refused: the page opens as it came.
  }
}

/** @param {DOMStringMap} form @param {string} link what stands behind # for what is set, empty where all is as it came */
function remember({ kept }, link) {
  if (!kept) return;
  try {
    if (link) localStorage.setItem(kept, link);
    else localStorage.removeItem(kept);
  } catch {
    // Refused: the address has it until the page is left.
  }
}

/** What was typed, or ticked for the page alone, stays, unless something else is said to stand there. @param {Node} old @param {Node} made */
function keepTyped(old, made) {
  if (old instanceof HTMLInputElement && old.dataset.local !== undefined) return false;
  if (old instanceof HTMLInputElement && made instanceof HTMLInputElement && TYPED.has(old.type) && (waiting.has(old) || !made.hasAttribute("value"))) {
    made.setAttribute("value", old.value);
  } else if (old instanceof HTMLTextAreaElement && made instanceof HTMLTextAreaElement && !made.value) {
    made.value = old.value;
  }
  return true;
}

/** What is heard is known here alone. @param {string} name @param {Element} element */
const keepPressed = (name, element) => !(/^aria-(pressed|busy)$/.test(name) && element.hasAttribute("data-hear"));

/** Whether the player is in a field: what stands there stays then. Anything else that has the focus changes with the rest. */
const isTyping = () => document.activeElement?.matches("textarea, input:not([type=radio], [type=checkbox])") ?? false;

/** @param {string} address as seen from the site's root */
const there = (address) => new URL(address, new URL(document.documentElement.dataset.base ?? "./", document.baseURI)).href;

/** @param {{name: string, type: string, text?: string, base64?: string}} file */
function save({ name, type, text, base64 }) {
  const content = text ?? Uint8Array.from(atob(base64 ?? ""), (sign) => sign.charCodeAt(0));
  const href = URL.createObjectURL(new Blob([content], { type }));
  Object.assign(document.createElement("a"), { href, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(href), SAVING);
}

/** @param {{title: string, link: string}} shared what goes behind # of this page's address */
async function share({ title, link }) {
  const url = `${location.href.split("#")[0]}${link && `#${link}`}`;
  try {
    if (typeof navigator.share === "function") return await navigator.share({ title, url });
    await navigator.clipboard.writeText(url);
    tell(words("copied"));
  } catch (error) {
    // Put away by the player: nothing to say. Else there is neither a share sheet nor a clipboard.
    if (!(error instanceof DOMException && error.name === "AbortError")) tell(`${words("copyThis")} ${url}`);
  }
}
