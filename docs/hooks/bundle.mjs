// Bundles a module into one classic script, or a style sheet into one sheet, written to standard output.
// A module would not load from disk; one sheet is there sooner than seven.
//
// node bundle.mjs ENTRY NAME [FILE OTHER]: the file to start from; what a module exports is the global NAME; OTHER
// takes the place of FILE.

import { resolve } from "node:path";
import { build } from "esbuild";

const [, , entry, name, file, other] = process.argv;
const exchange = {
  name: "exchange",
  setup(bundle) {
    if (file) bundle.onResolve({ filter: /^\./ }, ({ path, resolveDir }) => (resolve(resolveDir, path) === file ? { path: other } : undefined));
  },
};

// VexFlow does not say so, but none of its modules does anything when it is loaded: what is not used can stay out.
const vexflow = {
  name: "vexflow",
  setup(bundle) {
    bundle.onResolve({ filter: /./ }, async ({ path, pluginData, ...rest }) => {
      if (pluginData === vexflow || !/\bvexflow\b/.test(path + rest.importer)) return undefined;
      return { ...(await bundle.resolve(path, { ...rest, pluginData: vexflow })), sideEffects: false };
    });
  },
};

const { outputFiles } = await build({
  entryPoints: [entry],
  bundle: true,
  charset: "utf8",
  external: ["fonts/*"], // made at build time, and beside the sheet
  format: "iife",
  globalName: name,
  legalComments: "none",
  minify: true,
  plugins: [exchange, vexflow],
  target: "es2022",
  write: false,
}).catch(() => process.exit(1)); // it has said what is wrong
process.stdout.write(outputFiles[0].contents);
