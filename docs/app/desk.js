/**
 * Forms that the engine answers: whatever is chosen, pressed or typed in one goes there, and what comes back is shown.
 *
 * What a form is about stands in its `data-desk`, and an answer may put something else there: nothing is kept here.
 */

import { Idiomorph } from "idiomorph";
import { pack } from "./engine.js";
import { engrave } from "./engraving.js";
import { byId, linked, say, tell, words } from "./page.js";
import { asked, warn } from "./play.js";
import { goTo } from "./travel.js";

/** @typedef {[string, string]} Pressed a button's name and value */

/** Milliseconds without a key after which what is typed in a field with `data-live` is sent. */
const PAUSE = 250;
const MOST_CHANCE = 2 ** 53;
/** Milliseconds that a file may take to be saved from where it was put for that. */
const SAVING = 60_000;

/** @type {import("./records.js").Records} */
let records;
/** What was asked, one after the other: no tap is lost, and each sees what the one before it did. @type {Promise<void>} */
let underway = Promise.resolve();
/** @type {ReturnType<typeof setTimeout> | undefined} */
let typing;

/** @returns {NodeListOf<HTMLFormElement>} */
const desks = () => document.querySelectorAll("form.desk");

/** @param {EventTarget | null} target */
const deskOf = (target) => /** @type {HTMLFormElement | null} */ (target instanceof Element ? target.closest("form.desk") : null);

/** Whether the page has one. */
export const hasDesk = () => desks().length > 0;

/** @param {import("./records.js").Records} store */
export function keepDesks(store) {
  records = store;
  addEventListener("change", ({ target }) => send(target));
  addEventListener("input", ({ target }) => {
    if (!(target instanceof HTMLElement) || target.dataset.live === undefined) return;
    clearTimeout(typing);
    typing = setTimeout(send, PAUSE, target);
  });
  addEventListener("click", ({ target }) => {
    const button = target instanceof Element ? /** @type {HTMLButtonElement | null} */ (target.closest("form.desk button[name]")) : null;
    if (button && button.type !== "submit") send(button, [button.name, button.value]);
  });
  addEventListener("submit", (event) => {
    if (!deskOf(event.target)) return;
    event.preventDefault();
    const button = /** @type {HTMLButtonElement | null} */ (event.submitter);
    send(event.target, [button?.name ?? "", button?.value ?? ""]);
  });
}

/**
 * Asks for each form of the page what its link and what is kept make of it.
 * @param {boolean} fresh whether the page has just come: then what stands in it is what it is without a link
 * @returns {Promise<void>}
 */
export function openDesks(fresh) {
  engrave();
  for (const { id, dataset } of desks()) if (!fresh || linked() || dataset.needs?.includes("own")) send(byId(id), ["open", ""]);
  return underway;
}

/** @param {EventTarget | null} target something in a form @param {Pressed | null} [pressed] */
function send(target, pressed = null) {
  const id = deskOf(target)?.id;
  if (!id) return;
  clearTimeout(typing);
  underway = underway.then(() => ask(id, pressed)).catch(() => {});
}

/** @param {string} id @param {Pressed | null} pressed */
async function ask(id, pressed) {
  const place = /** @type {HTMLFormElement | null} */ (byId(id));
  if (!place) return;
  const { desk = "{}", needs = "" } = place.dataset;
  /** @type {Record<string, unknown>} */
  const request = {
    ...JSON.parse(desk),
    pressed,
    fields: await filledIn(place),
    link: linked().slice(1),
    at: Date.now(),
    chance: Math.floor(Math.random() * MOST_CHANCE),
  };
  if (needs.includes("book")) request.book = byId("book-data")?.textContent ?? "[]";
  if (needs.includes("own")) request.own = await records.lines().catch(() => []);
  let reply = await asked(request);
  if (reply?.pack) {
    const got = await pack(reply.pack).then(() => true, () => tell(words("cannotLoad")));
    reply = got ? await asked(request) : undefined;
  }
  if (reply) await show(place, reply);
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

/** @param {HTMLFormElement} place @param {import("./engine.js").Reply} reply */
async function show(place, reply) {
  if (reply.keep?.length) await records.keepLines(reply.keep).catch(warn);
  if (!place.isConnected) return;
  if (reply.desk) place.dataset.desk = JSON.stringify(reply.desk);
  if (reply.link !== undefined) history.replaceState(history.state, "", reply.link ? `#${reply.link}` : location.pathname + location.search);
  for (const [id, html] of Object.entries(reply.patches ?? {})) {
    const old = byId(id);
    if (old) Idiomorph.morph(old, html, { morphStyle: "outerHTML", ignoreActiveValue: true });
  }
  engrave();
  tell("");
  if (reply.notice) tell(reply.notice);
  if (reply.said) say(reply.said);
  if (reply.file) save(reply.file);
  if (reply.share) await share(reply.share);
  if (reply.go) goTo(there(reply.go));
}

/** @param {string} address as seen from the site's root */
const there = (address) => new URL(address, new URL(document.documentElement.dataset.base ?? "./", document.baseURI)).href;

/** @param {{name: string, type: string, text?: string, base64?: string}} file */
function save({ name, type, text, base64 }) {
  const content = text ?? Uint8Array.from(atob(base64 ?? ""), (sign) => sign.charCodeAt(0));
  const href = URL.createObjectURL(new Blob([content], { type }));
  Object.assign(document.createElement("a"), { href, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(href), SAVING);
}

/** @param {{title: string, address: string}} shared */
async function share({ title, address }) {
  const url = there(address);
  try {
    if (typeof navigator.share === "function") return await navigator.share({ title, url });
    await navigator.clipboard.writeText(url);
    tell(words("copied"));
  } catch (error) {
    // Put away by the player: nothing to say. Else there is neither a share sheet nor a clipboard.
    if (!(error instanceof DOMException && error.name === "AbortError")) tell(`${words("copyThis")} ${url}`);
  }
}
