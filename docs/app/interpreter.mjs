/**
 * The interpreter module that PyScript loads inside its worker in place of Pyodide's own.
 *
 * It starts every download at once, counts the bytes as they arrive, so that the page can show a true
 * progress bar, and tells the page plainly when one of them fails: Pyodide would only log that and wait
 * for ever. The build replaces the two placeholders and writes this file beside the files that it loads.
 *
 * A start from a snapshot of the started interpreter's memory is quicker. The page keeps one after its first visit
 * (snapshot.js); whatever is wrong with it, it is dropped and the start goes its usual way.
 */

/** Pyodide's version; PyScript keeps its storage under this name. */
export const version = "{{version}}";

/**
 * What the build knows of the files: their names beside this one, their sizes in bytes (as they are
 * after any compression in transit is undone), and the head of Pyodide's list of packages.
 * @type {{loader: string, glue: string, wasm: {name: string, size: number}, library: {name: string, size: number}, snapshot: {name: string, size: number}, info: object}}
 */
const files = JSON.parse('{{files}}');

/** @param {string} name */
const beside = (name) => new URL(name, import.meta.url).href;

/** The share of the progress bar that the downloads fill; the rest is Python starting. */
const DOWNLOADS = 0.9;

const plainFetch = globalThis.fetch;
/** Each is settled when a file has come, or what became of it is told. @type {Promise<unknown>[]} */
const counting = [];
const expected = files.wasm.size + files.library.size;
let arrived = 0;
let told = 0;

/** @param {{progress: number} | {failed: string} | {snapshot: {file: string, cache: string, kept: boolean}}} news */
const tell = (news) => self.postMessage({ engine: news });

/** @param {number} bytes */
function count(bytes) {
  arrived += bytes;
  const progress = DOWNLOADS * Math.min(arrived / expected, 1);
  if (progress - told >= 0.01 || progress === DOWNLOADS) {
    told = progress;
    tell({ progress });
  }
}

/**
 * Fetches a file and counts its bytes on their way.
 * @param {{name: string, size: number}} file
 * @param {Promise<Response | undefined>} [there] the file where it need not be fetched
 * @returns {Promise<Response>} rejects when the file cannot be had; that, and a file that stops half way, is told to the page
 */
async function download({ name, size }, there) {
  /** @param {string} reason */
  const fail = (reason) => {
    const message = `${name} could not be loaded: ${reason}`;
    tell({ failed: message });
    return new Error(message);
  };
  const response =
    (await there) ??
    (await plainFetch(beside(name)).catch(() => {
      throw fail("no connection");
    }));
  if (!response.ok) throw fail(`status ${response.status}`);
  // A copy is counted: browsers keep the compiled code only of a response that comes straight from the network.
  const counted = watch(response.clone()).then(
    (bytes) => bytes === size || fail("its size is not that of this version"),
    () => fail("the connection broke"),
  );
  counting.push(counted);
  return response;
}

/** @param {Response} response @returns {Promise<number>} its bytes */
async function watch(response) {
  let bytes = 0;
  const reader = response.body?.getReader();
  for (let part = await reader?.read(); part?.value; part = await reader?.read()) {
    bytes += part.value.byteLength;
    count(part.value.byteLength);
  }
  return bytes;
}

/** The snapshot: where it is fetched, and the cache that holds it alone, compressed, under the same address. */
const snapshot = {
  file: beside(files.snapshot.name),
  // Two copies of the site on one host must not drop each other's.
  cache: `linekeeper snapshot ${new URL("..", import.meta.url).pathname} ${files.snapshot.name}`,
};

/** @type {Promise<Response | undefined>} */
const packedSnapshot = (async () => caches.match(snapshot.file, { cacheName: snapshot.cache }))().catch(() => undefined); // no Cache API here

/**
 * The interpreter from the browser's own cache, where an earlier visit has left it. Asked for like that it does not come
 * by way of the service worker, and only then does the browser still have the code that it compiled.
 */
const leftBehind = packedSnapshot.then(async (there) => {
  if (!there) return undefined;
  const response = await plainFetch(beside(files.wasm.name), { cache: "only-if-cached", mode: "same-origin" }).catch(() => undefined);
  return response?.ok ? response : undefined;
});

/** Pyodide's own scripts; PyScript takes its time before it wants them. */
const scripts = Promise.all([import(beside(files.loader)), import(beside(files.glue))]);
scripts.catch(() => {}); // whoever waits for them says so

/** @param {Response} response @returns {Promise<WebAssembly.Module>} */
async function compile(response) {
  // What a host sends under another type cannot be compiled on its way.
  const isNamed = response.headers.get("Content-Type")?.startsWith("application/wasm");
  return isNamed ? WebAssembly.compileStreaming(response) : WebAssembly.compile(await response.arrayBuffer());
}

/** The interpreter is compiled as it arrives, not when Pyodide's own scripts are read and it asks for it. */
const compiled = download(files.wasm, leftBehind).then(compile);
// Pyodide would only log it and wait for ever. What became of the file itself says more.
compiled.catch((error) => Promise.all(counting).then(() => tell({ failed: String(error) })));
let library = download(files.library);
library.catch(() => {}); // told to the page already, perhaps before Pyodide asks for the file

/** @type {typeof fetch} */
const fetchOnce = (input, init) => {
  const url = input instanceof Request ? input.url : String(input);
  if (url === beside(files.wasm.name)) return Promise.resolve(new Response());
  return url === beside(files.library.name) ? library : plainFetch(input, init);
};

const { instantiateStreaming } = WebAssembly;

/** @type {typeof instantiateStreaming} */
const instantiateCompiled = async (_, imports) => {
  const module = await compiled;
  return { module, instance: await WebAssembly.instantiate(module, imports) };
};

/**
 * Reads the snapshot that an earlier visit has kept.
 * @returns {Promise<Uint8Array | undefined>} the memory; undefined where there is none or it is not whole
 */
async function readSnapshot() {
  try {
    const response = await packedSnapshot;
    if (!response) return undefined;
    await leftBehind; // the compiler has something to do meanwhile
    const memory = new Uint8Array(files.snapshot.size);
    const reader = (response.body ?? new Blob().stream()).pipeThrough(new DecompressionStream("gzip")).getReader();
    let filled = 0;
    for (let part = await reader.read(); part.value; part = await reader.read()) {
      memory.set(part.value, filled); // throws when there is more than there should be
      filled += part.value.byteLength;
    }
    if (filled === memory.length) return memory;
  } catch {
    // Not what was put in.
  }
  await dropSnapshot();
  return undefined;
}

async function dropSnapshot() {
  await globalThis.caches?.delete(snapshot.cache).catch(() => {});
}

const reading = readSnapshot();

/**
 * Starts Pyodide from the site's own files and imports the engine.
 * @param {object} options
 * @returns {Promise<any>} the interpreter; rejects when anything is missing, or the engine fails to import
 */
async function start(options) {
  const [{ loadPyodide: boot }, { default: createPyodideModule }] = await scripts;
  globalThis.fetch = fetchOnce;
  WebAssembly.instantiateStreaming = instantiateCompiled;
  const python = await boot({
    ...options,
    createPyodideModule,
    indexURL: beside("."),
    packageBaseUrl: beside("."),
    stdLibURL: beside(files.library.name),
    lockFileContents: { info: files.info, packages: {} },
  });
  // PyScript writes its own modules into the current folder as source; the library has them compiled.
  const path = python.pyimport("sys.path");
  if (path.includes("")) path.remove("");
  path.destroy();
  // PyScript only prints what goes wrong in the worker's own file; here it fails the start.
  python.pyimport("engine.browser").destroy();
  return python;
}

/**
 * Boots Pyodide from the site's own files and imports the engine.
 * @param {object} options what PyScript wants Pyodide to be started with
 * @returns {Promise<object>} the interpreter; rejects when anything is missing, or the engine fails to import
 */
export async function loadPyodide(options) {
  try {
    const memory = await reading;
    const restored = memory && (await start({ ...options, _loadSnapshot: memory }).catch(dropSnapshot));
    if (memory && !restored) library = plainFetch(beside(files.library.name)); // a response can be read once
    const python = restored ?? (await start(options));
    tell({ snapshot: { ...snapshot, kept: Boolean(restored) } });
    tell({ progress: 0.97 });
    return python;
  } catch (error) {
    tell({ failed: String(error) });
    throw error;
  } finally {
    globalThis.fetch = plainFetch;
    WebAssembly.instantiateStreaming = instantiateStreaming;
  }
}
