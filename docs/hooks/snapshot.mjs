// Starts the shipped interpreter with the shipped library in Node, imports the engine and writes down the whole of its
// memory, compressed: restoring it later is quicker than starting.
//
// node snapshot.mjs ROOT LIBRARY SIZE OUT: the project's folder, the library zip, the bytes that the memory must have,
// the file to write.

import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { gzipSync } from "node:zlib";

const [root, library, size, out] = process.argv.slice(2);
// The interpreter keeps the path of the program that started it, and so would every copy of the snapshot.
process.argv[1] = "linekeeper";
const pyodide = join(root, "node_modules/pyodide");
const { loadPyodide } = await import(pathToFileURL(join(pyodide, "pyodide.mjs")).href);
const { info } = JSON.parse(readFileSync(join(pyodide, "pyodide-lock.json"), "utf8"));
try {
  const python = await loadPyodide({
    stdLibURL: library,
    lockFileContents: { info, packages: {} },
    env: { HOME: "/home/pyodide" },
    _makeSnapshot: true,
  });
  python.pyimport("engine.browser").destroy();
  // The drills are loaded when they are wanted; here all those come along that the library has.
  python.runPython("from engine.drills.catalogue import CATALOGUE\nfor entry in CATALOGUE: entry.mixed and entry.drill\ndel CATALOGUE, entry");
  const memory = python.makeMemorySnapshot();
  // One whose heap has grown cannot be restored into the memory that a start begins with.
  if (memory.length !== Number(size)) throw new Error(`the snapshot has ${memory.length} bytes, not ${size}`);
  writeFileSync(out, gzipSync(memory, { level: 9 }));
} catch (error) {
  console.error(error.message);
  process.exitCode = 1;
}
