// Bundles a module into one classic script, or a style sheet into one sheet, written to standard output.
// A module would not load from disk; one sheet is there sooner than seven.
//
// node bundle.mjs ENTRY: the file to start from; what a module exports is the global `linekeeper`.

import { build } from "esbuild";

const { outputFiles } = await build({
  entryPoints: [process.argv[2]],
  bundle: true,
  charset: "utf8",
  external: ["fonts/*"], // made at build time, and beside the sheet
  format: "iife",
  globalName: "linekeeper",
  legalComments: "none",
  minify: true,
  target: "es2022",
  write: false,
}).catch(() => process.exit(1)); // it has said what is wrong
process.stdout.write(outputFiles[0].contents);
