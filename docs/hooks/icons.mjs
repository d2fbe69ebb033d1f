// Turns every drawing in a folder into a picture: NAME.svg into NAME.png, as large as the drawing says it is.
//
// node icons.mjs ROOT FOLDER: the project's folder, and the folder with the drawings.

import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [root, folder] = process.argv.slice(2);
const resvg = join(root, "node_modules/@resvg/resvg-wasm");
const { initWasm, Resvg } = await import(pathToFileURL(join(resvg, "index.mjs")).href);
await initWasm(readFileSync(join(resvg, "index_bg.wasm")));
for (const name of readdirSync(folder).filter((name) => name.endsWith(".svg"))) {
  const drawing = readFileSync(join(folder, name), "utf8");
  writeFileSync(join(folder, name.replace(/svg$/, "png")), new Resvg(drawing).render().asPng());
}
