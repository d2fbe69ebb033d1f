/** The few places of a page that the client writes into. Every sentence comes from the page itself. */

/** @param {string} id */
export const byId = (id) => document.getElementById(id);

/** A sentence that the page brought along, with its gaps filled. @param {string} name @param {Record<string, string | number>} [gaps] */
export function words(name, gaps = {}) {
  const text = byId("words")?.dataset[name] ?? "";
  return text.replace(/\{(\w+)\}/g, (_, gap) => String(gaps[gap] ?? ""));
}

/** Says a sentence to all, beside what stands there already, until it is dismissed; an empty one takes all away. @param {string} text */
export function tell(text) {
  const place = byId("notice");
  const sentence = place?.querySelector("span");
  // Where nothing was told there is nothing to take away, and no frame to draw for it.
  if (!place || !sentence || (!text && place.hidden)) return;
  const told = sentence.textContent ?? "";
  if (!text || !told.includes(text)) sentence.textContent = text && `${told} ${text}`.trim();
  place.hidden = !text;
}

/** Says something to those who listen. @param {string} text */
export function say(text) {
  const place = byId("said");
  if (place) place.textContent = text;
}

/** Settled once what the page shows is painted; at once in a page that nobody sees. */
export const painted = () =>
  new Promise((resolve) => (document.hidden ? resolve(null) : requestAnimationFrame(() => setTimeout(resolve))));

/**
 * Settled once what the page shows is painted and the browser has nothing better to do, or soon after; at once in a page
 * that nobody sees. Work that follows a paint at once holds up what the player sees and does next.
 */
export const rested = async () => {
  await painted();
  if (document.hidden) return;
  // Safari knows no idle time.
  const { requestIdleCallback: idle } = globalThis;
  await new Promise((resolve) => (idle ? idle(resolve, { timeout: 500 }) : setTimeout(resolve, 50)));
};

/** Shows how far the engine's start is; 1 takes the bar away. @param {number} fraction */
export function showProgress(fraction) {
  const place = byId("loading");
  const bar = place?.querySelector("progress");
  if (!place || !bar) return;
  bar.value = fraction;
  place.hidden = fraction >= 1;
}

/** The options in the page's link, or nothing; the name of a part of the page is none. */
export const linked = () => (location.hash.length > 1 && !byId(location.hash.slice(1)) ? location.hash : "");
