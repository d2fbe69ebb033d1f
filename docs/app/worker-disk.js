/**
 * The engine's worker where nothing can be fetched: it starts Pyodide from files that the page hands over.
 *
 * The build puts this file's text beside those files (docs/hooks/disk.py). A page opened from disk may only
 * start a classic worker from a blob, and in that one no other blob can be read everywhere: modules come from
 * `data:` addresses, everything else is answered from memory.
 */

(() => {
  /** Where the files pretend to be; nothing is ever asked for there. */
  const NOWHERE = "file:///carried/";
  const PACKS = "/packs";
  /** As many bytes as a function surely takes for arguments at once. */
  const SLICE = 8192;

  /** The files by their names: gzip, as base64. @type {Record<string, string>} */
  let files = {};
  /** @type {any} */
  let python;
  /** @type {((request: string) => string) | undefined} */
  let call;

  /** @param {object} news */
  const tell = (news) => self.postMessage(news);

  /** @param {string} name @returns {Promise<Uint8Array<ArrayBuffer>>} */
  async function bytes(name) {
    const text = atob(files[name] ?? "");
    if (!text) throw new Error(`${name} is missing`);
    const packed = new Uint8Array(text.length);
    for (let index = 0; index < text.length; index++) packed[index] = text.charCodeAt(index);
    const plain = new Response(packed).body?.pipeThrough(new DecompressionStream("gzip"));
    return new Uint8Array(await new Response(plain).arrayBuffer());
  }

  /** @param {string} name @returns {Promise<any>} the module */
  async function load(name) {
    const file = await bytes(name);
    let text = "";
    for (let start = 0; start < file.length; start += SLICE) {
      text += String.fromCharCode(...file.subarray(start, start + SLICE));
    }
    return import(`data:text/javascript;base64,${btoa(text)}`);
  }

  /** Starts Python and imports the engine; each step shows that it is alive. @param {object} info the head of Pyodide's list of packages */
  async function start(info) {
    // Pyodide would load its parts with this function in a classic worker; without it, it takes those given here.
    Object.assign(self, {
      importScripts: () => {
        throw new TypeError("everything is here already");
      },
    });
    const { default: createPyodideModule } = await load("pyodide.asm.mjs");
    tell({ progress: 0.2 });
    const { loadPyodide } = await load("pyodide.mjs");
    tell({ progress: 0.3 });
    const answers = new Map();
    for (const [name, type] of [["pyodide.asm.wasm", "application/wasm"], ["library.zip", "application/zip"]]) {
      answers.set(NOWHERE + name, new Response(await bytes(name), { headers: { "Content-Type": type } }));
      tell({ progress: 0.3 + 0.1 * answers.size });
    }
    self.fetch = async (input) => {
      const answer = answers.get(input instanceof Request ? input.url : String(input));
      if (!answer) throw new TypeError(`${input} was not brought along`);
      return answer;
    };
    python = await loadPyodide({
      createPyodideModule,
      indexURL: NOWHERE,
      packageBaseUrl: NOWHERE,
      stdLibURL: `${NOWHERE}library.zip`,
      lockFileContents: { info, packages: {} },
    });
    tell({ progress: 0.9 });
    call = python.pyimport("engine.browser").call;
  }

  /** Makes the modules of a pack importable. @param {string} name */
  async function pack(name) {
    const place = `${PACKS}/${name}.zip`;
    python.FS.mkdirTree(PACKS);
    python.FS.writeFile(place, await bytes(`packs/${name}.zip`));
    python.pyimport("engine.browser").open_pack(place);
  }

  self.onmessage = async ({ data: { id, carried, request, name } }) => {
    try {
      if (carried) files = carried.files;
      const answer = carried ? await start(carried.info) : name ? await pack(name) : call?.(request);
      tell({ id, answer });
    } catch (error) {
      tell({ id, failed: String(error) });
    }
  };
})();
