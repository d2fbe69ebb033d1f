/** The form that makes a link to exactly one drill: the engine writes the link, here it is copied, shared or shown. */

import { pack } from "./engine.js";
import { byId, words } from "./page.js";
import { asked, given } from "./play.js";

const LARGEST_SEED = 2 ** 32;

/** Settled once the link is the one that the form asks for. @type {Promise<void>} */
let made = Promise.resolve();

const form = () => /** @type {HTMLFormElement | null} */ (byId("link-form"));
const text = () => /** @type {HTMLInputElement | null} */ (byId("link-text"));

/** @param {string} sentence */
function tell(sentence) {
  const place = byId("link-said");
  if (place) place.textContent = sentence;
}

export function shareLinks() {
  addEventListener("input", ({ target }) => {
    if (target instanceof HTMLInputElement && form()?.contains(target)) made = refresh();
  });
  addEventListener(
    "toggle",
    ({ target }) => {
      if (target instanceof HTMLDetailsElement && target.open && target.contains(form())) made = refresh();
    },
    { capture: true },
  );
  addEventListener("click", ({ target }) => {
    const way = target instanceof Element && form()?.contains(target) ? target.closest("[data-link]") : null;
    const hand = WAYS[/** @type {HTMLElement | null} */ (way)?.dataset.link ?? ""];
    if (hand) void whole().then((is) => (is ? hand() : undefined));
  });
}

/** Whether there is a link; where it could not be made before, it is tried once more. */
async function whole() {
  await made;
  if (!text()?.value) await refresh();
  return Boolean(text()?.value);
}

/** Has the link made anew from what is ticked and typed, and for the line that the round is about. */
async function refresh() {
  const place = form();
  const field = text();
  if (!place || !field) return;
  const data = new FormData(place);
  const fields = Object.fromEntries([...new Set(data.keys())].map((name) => [name, data.getAll(name)]));
  const chance = Math.floor(Math.random() * LARGEST_SEED);
  const reply = await asked({ do: "link", drill: place.dataset.drill, fields, chance, plan: given().plan });
  if (!reply) return;
  field.value = `${location.href.split("#")[0]}#${reply.link}`;
  byId("link-open")?.setAttribute("href", `#${reply.link}`);
  const share = /** @type {HTMLElement | null} */ (place.querySelector('[data-link="share"]'));
  if (share) share.hidden = typeof navigator.share !== "function";
  const about = byId("link-line");
  if (about) about.textContent = reply.line;
  const picture = byId("link-qr");
  if (picture) picture.textContent = "";
  tell(reply.notice ?? "");
}

/** @type {Record<string, () => Promise<void>>} */
const WAYS = {
  async copy() {
    const field = text();
    if (!field) return;
    try {
      await navigator.clipboard.writeText(field.value);
      tell(words("copied"));
    } catch {
      // Over plain http and in some messengers there is no clipboard for pages: the hand takes over.
      field.focus();
      field.select();
      tell(words("copyByHand"));
    }
  },
  async share() {
    try {
      await navigator.share({ title: document.title, url: text()?.value ?? location.href });
    } catch {
      // Put away without sharing: nothing to say.
    }
  },
  async qr() {
    const place = byId("link-qr");
    if (!place) return;
    try {
      await pack("segno");
    } catch {
      tell(words("cannotLoad"));
      return;
    }
    const reply = await asked({ do: "qr", text: text()?.value ?? "" });
    if (reply?.html) place.innerHTML = reply.html;
  },
};
