// Builds the library of the shipped interpreter: starts Pyodide in Node and lets library.py do the work there,
// because only the interpreter that will load compiled modules can compile them.
//
// node library.mjs ROOT LIST OUT MORE: the project's folder, the list of modules to keep, the zip to write, and the pack
// of what a start does without.

import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [root, list, ...outs] = process.argv.slice(2);
const { loadPyodide } = await import(pathToFileURL(join(root, "node_modules/pyodide/pyodide.mjs")).href);
// Without the column ranges that only tracebacks use, compiled modules are a third smaller.
const python = await loadPyodide({ env: { HOME: "/home/pyodide", PYTHONNODEBUGRANGES: "1" } });
python.mountNodeFS("/project", root);
python.FS.writeFile("/home/pyodide/library.py", readFileSync(join(root, "docs/hooks/library.py")));
try {
  const made = python.pyimport("library").make(readFileSync(list, "utf8")).toJs();
  outs.forEach((out, number) => writeFileSync(out, made[number]));
} catch (error) {
  // The message is Python's traceback; Node's own would print a megabyte of Pyodide's source with it.
  console.error(error.message);
  process.exitCode = 1;
}
