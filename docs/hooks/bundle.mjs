// Bundles a module into one classic script, or a style sheet into one sheet, written to standard output.
// A module would not load from disk; one sheet is there sooner than seven.
//
// node bundle.mjs ENTRY NAME: the file to start from; what a module exports is the global NAME.

import { build } from "esbuild";

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
  entryPoints: [process.argv[2]],
  bundle: true,
  charset: "utf8",
  external: ["fonts/*"], // made at build time, and beside the sheet
  format: "iife",
  globalName: process.argv[3],
  legalComments: "none",
  minify: true,
  plugins: [vexflow],
  target: "es2022",
  write: false,
}).catch(() => process.exit(1)); // it has said what is wrong
process.stdout.write(outputFiles[0].contents);
