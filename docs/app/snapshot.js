/**
 * Keeps a snapshot of the started interpreter's memory on the device, so that the next start is quicker.
 *
 * It is fetched when everything else is done, kept compressed, and read by interpreter.mjs. It is a head start and no
 * more: without it, or with a bad one, the engine starts as it does on a first visit.
 */

/** @typedef {{file: string, cache: string, kept: boolean}} Snapshot where it is, the cache for it, whether it is there already */

/** Milliseconds to leave alone a page that cannot tell when it is idle. */
const MOMENT = 3_000;

/** @param {URL} root the site's root @returns {string} what the names of all its snapshots' caches begin with */
const prefix = (root) => `linekeeper snapshot ${root.pathname} `;

/**
 * Fetches the snapshot of this build once the page is idle, and drops those of other builds.
 * @param {Snapshot} snapshot
 * @param {URL} root
 * @returns {Promise<void>} settled when that is done; it never rejects
 */
export async function keepSnapshot({ file, cache, kept }, root) {
  try {
    // Without a secure connection, and in some private windows, there is no place for it.
    if (!("caches" in globalThis && "DecompressionStream" in globalThis)) return;
    await idle();
    await forgetSnapshots(root, cache);
    if (kept || savesData()) return;
    const response = await fetch(file, /** @type {RequestInit} */ ({ priority: "low" }));
    // What breaks off on the way is not kept.
    if (response.ok) await (await caches.open(cache)).put(file, response);
  } catch {
    // The device is full, or offline: the next visit may try again.
  }
}

/** @param {URL} root @param {string} [but] the cache that stays @returns {Promise<void>} */
export async function forgetSnapshots(root, but) {
  const names = (await globalThis.caches?.keys().catch(() => [])) ?? [];
  const old = names.filter((name) => name.startsWith(prefix(root)) && name !== but);
  await Promise.all(old.map((name) => caches.delete(name).catch(() => false)));
}

const savesData = () => /** @type {{connection?: {saveData?: boolean}}} */ (navigator).connection?.saveData ?? false;

/** @returns {Promise<void>} */
function idle() {
  return new Promise((resolve) => {
    if ("requestIdleCallback" in globalThis) requestIdleCallback(() => resolve());
    else setTimeout(resolve, MOMENT);
  });
}
