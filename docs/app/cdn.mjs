/**
 * In the edition that takes its large parts from a public host: fetches their files from there, and nothing else.
 *
 * A file is used only when it is, byte for byte, the one that the build has seen; the browser compares the hash.
 * What has come once is kept, so the next visit needs that host no more. The build fills in the placeholder.
 */

/**
 * The host's files: for each name that the file has beside this one, its address, its hash and its media type, and
 * whether the start does without it.
 * @type {Record<string, {address: string, integrity: string, type: string, later?: boolean}>}
 */
const files = JSON.parse('{{cdn}}');

/** All such caches' names begin with this; the rest tells the version of the files. */
const PREFIX = `linekeeper cdn ${new URL("..", import.meta.url).pathname} `;
const cacheName = PREFIX + "{{table}}";

/** @returns {Promise<Cache | undefined>} undefined where there is no place for one, and in some private windows */
async function kept() {
  try {
    return await caches.open(cacheName);
  } catch {
    return undefined;
  }
}

/** Drops what other versions have kept. */
async function tidy() {
  const names = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== cacheName);
  await Promise.all(names.map((name) => caches.delete(name)));
}

/**
 * @param {string} name
 * @returns {Promise<Response>} rejects when the host cannot be reached or sends anything else than that file
 */
async function checked(name) {
  const file = files[name];
  if (!file) throw new Error(`${name} is not on that host`);
  const cache = await kept();
  const old = await cache?.match(file.address);
  if (old) return old;
  // One that was cached under another rule, or sent with cookies, is of no use here.
  const response = await fetchPlainly(file.address, { integrity: file.integrity, mode: "cors", credentials: "omit" });
  if (!response.ok) throw new Error(`${name} could not be loaded: status ${response.status}`);
  const typed = new Response(response.body, { headers: { "Content-Type": file.type } });
  // A full device keeps nothing; then the next visit fetches it again.
  cache?.put(file.address, typed.clone()).then(tidy).catch(() => {});
  return typed;
}

const fetchPlainly = globalThis.fetch;

/** Milliseconds after which what was not wanted so far is fetched to be kept. */
const LATER = 3_000;

/** Keeps what the site will want of that host later, for when there is no connection. */
async function keepRest() {
  const { connection } = /** @type {Navigator & {connection?: {saveData?: boolean}}} */ (navigator);
  if (connection?.saveData || !(await kept())) return;
  const rest = Object.keys(files).filter((name) => files[name]?.later);
  for (const name of rest) await checked(name).then((response) => response.body?.cancel()).catch(() => {});
}

/** Has requests for the files answered that would be beside this one, and keeps them all once the start is over. */
export function answerRequests() {
  setTimeout(keepRest, LATER);
  globalThis.fetch = (input, init) => {
    const address = input instanceof Request ? input.url : String(input);
    const name = Object.keys(files).find((file) => new URL(file, import.meta.url).href === address);
    return name ? checked(name) : fetchPlainly(input, init);
  };
}

/**
 * Runs a module of that host.
 * @param {string} name
 * @returns {Promise<any>} what it exports
 */
export async function load(name) {
  // A module from a blob does not know where it came from. The few parts that it may load itself are ours.
  const text = (await (await checked(name)).text())
    .replaceAll("import.meta", `({url:"${files[name]?.address}"})`)
    .replaceAll('import("./', `import("${new URL("./", new URL(name, import.meta.url)).href}`);
  const address = URL.createObjectURL(new Blob([text], { type: "text/javascript" }));
  try {
    return await import(address);
  } finally {
    URL.revokeObjectURL(address);
  }
}

/**
 * Runs a script of that host in a page.
 * @param {string} name @param {string} made the global that it makes
 * @returns {Promise<any>} that global
 */
export async function run(name, made) {
  const address = URL.createObjectURL(await (await checked(name)).blob());
  try {
    await new Promise((resolve, reject) => {
      document.head.append(Object.assign(document.createElement("script"), { src: address, onload: resolve, onerror: reject }));
    });
  } finally {
    URL.revokeObjectURL(address);
  }
  return /** @type {any} */ (globalThis)[made];
}
