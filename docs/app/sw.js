/**
 * Keeps the whole site on the device, so that it opens without a connection, and takes a new version up whole
 * or not at all.
 *
 * The build fills in what stands between the signs @: the version, and each file with its SHA-256 and its size.
 * A version has a cache of its own. It is filled while the version before goes on working; files that have not
 * changed are copied from there, the others are fetched and checked. When one cannot be had, nothing is kept
 * of the new version. A version that is whole waits until no page of the one before is open, or until the
 * player wants it.
 */

/** @typedef {{hash: string, size: number}} Entry */

/** TypeScript's types for pages know nothing of a service worker's surroundings. */
const worker = /** @type {any} */ (self);

/** The caches of this copy of the site; another copy on the same host has others. */
const OWN = `linekeeper ${worker.registration.scope} `;
const CACHE = `${OWN}@version@`;
/** The files by their paths below the site's root. @type {Map<string, Entry>} */
const FILES = new Map(Object.entries(JSON.parse('@files@')));
/** A kept file carries its hash in a header of this name, so that the next version can tell what has changed. */
const HASH = "x-linekeeper-sha256";
/** A page is kept packed, a fifth of its size: there are many of them. It carries this header then. */
const PACKED = "x-linekeeper-packed";
/** How many files are fetched at a time. */
const AT_ONCE = 4;

worker.addEventListener("install", (/** @type {any} */ event) => event.waitUntil(install()));
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(activate()));
worker.addEventListener("message", (/** @type {any} */ event) => {
  if (event.data?.use) worker.skipWaiting();
  if (event.data?.mend) event.waitUntil(mend());
});
worker.addEventListener("fetch", (/** @type {any} */ event) => {
  // Who asks for what the browser itself has kept (interpreter.mjs) is not in want of this.
  if (event.request.cache === "only-if-cached") return;
  const path = event.request.method === "GET" ? pathOf(event.request.url) : undefined;
  // What is not part of this version is left to the network, as if there were no worker.
  if (path !== undefined) event.respondWith(answer(path, event.request.mode === "navigate"));
});

async function install() {
  try {
    const cache = await caches.open(CACHE);
    const older = await keptByHash();
    const all = [...FILES.values()].reduce((sum, { size }) => sum + size, 0);
    let done = 0;
    const left = [...FILES];
    const fill = async () => {
      for (let next = left.pop(); next; next = left.pop()) {
        const [path, { hash, size }] = next;
        await cache.put(address(path), (await older.get(hash)?.()) ?? (await packed(path, await fetched(path))));
        done += size;
        await tell({ progress: done / all });
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, fill));
  } catch (error) {
    await caches.delete(CACHE);
    await tell({ failed: /** @type {Error} */ (error).name });
    throw error;
  }
}

async function activate() {
  for (const name of await caches.keys()) {
    if (name.startsWith(OWN) && name !== CACHE) await caches.delete(name);
  }
  // The page that brought the worker along is served by it from now on, too.
  await worker.clients.claim();
}

/**
 * The file that an address stands for; its search and its hash are the page's business.
 * @param {string} url
 * @returns {string | undefined} its path below the root, undefined when it is no file of this version
 */
function pathOf(url) {
  const { scope } = worker.registration;
  const plain = url.split(/[?#]/)[0] ?? "";
  if (!plain.startsWith(scope)) return undefined;
  const path = plain.slice(scope.length);
  // Some hosts take the ending off the addresses of pages.
  return [path, `${path}index.html`, `${path}.html`].find((name) => FILES.has(name));
}

/** @param {string} path */
const address = (path) => new URL(path, worker.registration.scope).href;

/**
 * A file of this version: the kept one, or where the browser has dropped it a new one, which is kept again.
 * @param {string} path
 * @param {boolean} isPage whether a page is opened with it
 * @returns {Promise<Response>}
 */
async function answer(path, isPage) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(address(path));
  if (kept) return unpacked(kept);
  try {
    const fresh = await fetched(path);
    const keeping = packed(path, fresh.clone()).then((response) => cache.put(address(path), response));
    await keeping.catch(() => {}); // a full disk does not spoil the answer
    return fresh;
  } catch {
    // A page of a newer build is whole in itself, for it names its own files; any other file would not fit.
    return isPage ? fetch(address(path)).catch(() => Response.error()) : Response.error();
  }
}

/** Fetches again what the browser has dropped to make room, while there is a connection to fetch it with. */
async function mend() {
  const cache = await caches.open(CACHE);
  const kept = new Set((await cache.keys()).map(({ url }) => url));
  for (const path of FILES.keys()) {
    if (!kept.has(address(path))) await answer(path, false);
  }
}

/**
 * Fetches a file and makes sure that it is the one of this version.
 * @param {string} path
 * @returns {Promise<Response>} rejects when it cannot be had, or is another
 */
async function fetched(path) {
  const { hash } = /** @type {Entry} */ (FILES.get(path));
  // "no-cache" lets the browser use what it has already, once the host has said that it is still the same.
  const response = await fetch(address(path), { cache: "no-cache" });
  if (!response.ok) throw new Error(`${path}: status ${response.status}`);
  const bytes = await response.arrayBuffer();
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  const found = Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
  if (found !== hash) throw new Error(`${path}: not the file of this version`);
  // Made anew it is no redirected response, which a page must not be opened with. Its policy stays with it.
  const headers = new Headers(response.headers);
  for (const name of ["content-encoding", "content-length", "transfer-encoding"]) headers.delete(name);
  headers.set(HASH, hash);
  return new Response(bytes, { headers });
}

/**
 * A file as it is kept. Only pages are packed: what is run is kept as the browser wants to compile it.
 * @param {string} path @param {Response} response
 * @returns {Promise<Response>}
 */
async function packed(path, { body, headers }) {
  if (!body || !path.endsWith(".html") || typeof CompressionStream === "undefined") return new Response(body, { headers });
  const bytes = await new Response(body.pipeThrough(new CompressionStream("gzip"))).arrayBuffer();
  const marked = new Headers(headers);
  marked.set(PACKED, "gzip");
  return new Response(bytes, { headers: marked });
}

/** A kept file as the page wants it. @param {Response} kept @returns {Response} */
function unpacked(kept) {
  const format = kept.headers.get(PACKED);
  if (!format || !kept.body) return kept;
  const headers = new Headers(kept.headers);
  headers.delete(PACKED);
  return new Response(kept.body.pipeThrough(new DecompressionStream(/** @type {CompressionFormat} */ (format))), { headers });
}

/** What is on the device already, by content. @returns {Promise<Map<string, () => Promise<Response | undefined>>>} */
async function keptByHash() {
  const found = new Map();
  for (const name of await caches.keys()) {
    if (!name.startsWith(OWN)) continue;
    const cache = await caches.open(name);
    for (const request of await cache.keys()) {
      const hash = (await cache.match(request))?.headers.get(HASH);
      if (hash) found.set(hash, () => cache.match(request));
    }
  }
  return found;
}

/** Tells the open pages. @param {{progress: number} | {failed: string}} news */
async function tell(news) {
  const pages = await worker.clients.matchAll({ type: "window", includeUncontrolled: true });
  for (const page of pages) page.postMessage({ offline: news });
}
