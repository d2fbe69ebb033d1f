/** The page of the answers kept on this device: how many there are, to a file and back, away and back. */

import * as page from "./page.js";
import { keepSettings } from "./settings.js";
import { byId, words } from "./page.js";
import { asked } from "./play.js";

const FILE = "linekeeper-answers.json";

/** @type {import("./records.js").Records} */
let records;
/** What was forgotten last, until the site is left. @type {Awaited<ReturnType<import("./records.js").Records["clear"]>> | void} */
let forgotten;

/** @param {string} sentence */
function tell(sentence) {
  const place = byId("answers-said");
  if (place) place.textContent = sentence;
}

/** @param {import("./records.js").Records} store */
export function keepAnswers(store) {
  records = store;
  addEventListener("click", ({ target }) => {
    const button = target instanceof Element ? target.closest("[data-answers]") : null;
    const act = ACTS[/** @type {HTMLElement | null} */ (button)?.dataset.answers ?? ""];
    if (act) act().catch(fail);
  });
  addEventListener("change", ({ target }) => {
    if (target instanceof HTMLInputElement && target.id === "answers-file" && target.files?.[0]) read(target).catch(fail);
  });
}

const fail = () => page.tell(words("notKept"));

/** Says how many there are, where the page shows it. */
export async function countAnswers() {
  const place = byId("answers-count");
  if (!place) return;
  place.textContent = words("answersKept", { count: (await records.all().catch(() => [])).length });
  const undo = byId("answers-undo");
  if (undo) undo.hidden = !forgotten?.answers.length;
}

/** @type {Record<string, () => Promise<void>>} */
const ACTS = {
  async save() {
    const reply = await asked({ do: "export", records: await records.all(), own: await records.lines() });
    if (!reply?.text) return;
    const url = URL.createObjectURL(new Blob([reply.text], { type: "application/json" }));
    const link = Object.assign(document.createElement("a"), { href: url, download: FILE });
    link.click();
    setTimeout(() => URL.revokeObjectURL(url), 60_000);
    tell(words("answersSaved", { file: FILE }));
  },
  async forget() {
    page.tell("");
    forgotten = await records.clear().catch(() => page.tell(words("notForgotten")));
    if (!forgotten) return;
    tell(words("answersForgotten", { count: forgotten.answers.length }));
    await countAnswers();
  },
  async undo() {
    if (forgotten) await records.restore(forgotten);
    forgotten = undefined;
    tell("");
    await countAnswers();
  },
};

/** @param {HTMLInputElement} input */
async function read(input) {
  page.tell("");
  // One that cannot be read is as good as an empty one, of which the engine says that it is none of ours.
  const text = await input.files?.[0]?.text().catch(() => "");
  const reply = await asked({ do: "import", text, own: await records.lines(), at: Date.now() });
  input.value = "";
  if (!reply) return;
  const fresh = await records.addAll(reply.records);
  if (reply.lines.length) await records.keepLines(reply.lines);
  if (reply.settings) keepSettings(reply.settings);
  tell([words("answersRead", { count: fresh }), reply.told, reply.notice].filter(Boolean).join(" "));
  await countAnswers();
}
