// Bundles the client into one classic script, written to standard output. A module would not load from disk.
//
// node bundle.mjs ENTRY: the module to start from; what it exports is the global `linekeeper`.

import { build } from "esbuild";

const { outputFiles } = await build({
  entryPoints: [process.argv[2]],
  bundle: true,
  charset: "utf8",
  format: "iife",
  globalName: "linekeeper",
  legalComments: "none",
  minify: true,
  target: "es2022",
  write: false,
}).catch(() => process.exit(1)); // it has said what is wrong
process.stdout.write(outputFiles[0].contents);
