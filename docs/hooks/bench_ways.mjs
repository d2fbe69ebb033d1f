// Has the shipped interpreter, started in Node, finger a line in twelve keys, and prints how long that took: the same
// WebAssembly and the same compiler for it as in Chromium, without a page beside it.
//
// node bench_ways.mjs ROOT COUNT: the project's folder, the notes of the line. Prints a list of milliseconds as JSON.

import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [root, count] = process.argv.slice(2);
const { loadPyodide } = await import(pathToFileURL(join(root, "node_modules/pyodide/pyodide.mjs")).href);
const python = await loadPyodide({ env: { HOME: "/home/pyodide", PYTHONDONTWRITEBYTECODE: "1" } });
python.mountNodeFS("/project", root);
console.log(
  python.runPython(`
import json, sys
sys.path[:0] = ["/project", "/project/docs/hooks"]
import bench_neck
json.dumps(bench_neck.measure((${Number(count)},))["twelve keys"][${Number(count)}])
`),
);
