/**
 * What the player has set for every page, as the engine wants it kept: it says what each thing means.
 *
 * Here only a few things are known of it: whether pictures are turned round (`left`), whether necks in the pages as
 * they were built are the player's (`built`), whether nothing is asked by ear (`quiet`), and by how many milliseconds
 * sound comes later than the browser knows (`late`).
 */

/** @typedef {{v: number, tuning: string, frets: number, left: boolean, stretch: number, built: boolean, quiet?: boolean, late?: number}} Settings */

const NAME = "linekeeper settings";

/** What was set in this visit, where it could not be kept. @type {Settings | null | undefined} */
let owed;

/** @returns {Settings | null} null where all is as it came */
export function settings() {
  if (owed !== undefined) return owed;
  try {
    const found = JSON.parse(localStorage.getItem(NAME) ?? "null");
    return found !== null && typeof found === "object" ? found : null;
  } catch {
    return null;
  }
}

/** @param {Settings | null} made null for all as it came @returns {boolean} whether it is on the device */
export function keepSettings(made) {
  owed = undefined;
  try {
    if (made) localStorage.setItem(NAME, JSON.stringify(made));
    else localStorage.removeItem(NAME);
  } catch {
    owed = made;
  }
  turn();
  return owed === undefined;
}

/** Turns the pictures as the player's hands want them, and leaves out what is not wanted. */
function turn() {
  const { classList } = document.documentElement;
  classList.toggle("left-handed", Boolean(settings()?.left));
  classList.toggle("quiet", isQuiet());
}

/** Whether the player wants no drills by ear. */
export const isQuiet = () => settings()?.quiet === true;

/**
 * For which neck a form shall be, where that is not the one that it was built for; else nothing.
 * @param {HTMLElement | null} form
 */
export function otherNeck(form) {
  const kept = form?.dataset.neck === undefined || !isRetuned() ? null : settings();
  return kept ? ` ${kept.tuning} ${kept.frets} ${kept.stretch}` : "";
}

/**
 * What tells apart the rounds that are kept for who wants it quiet, where a form's rounds may be by ear; else nothing.
 * @param {HTMLElement | null} form
 */
export const withoutSound = (form) => (form?.dataset.ear !== undefined && isQuiet() ? " quiet" : "");

/** Whether the necks in the pages as they were built are not the player's. */
export const isRetuned = () => settings()?.built === false;

/** @param {() => void} changed is called when another tab has set something */
export function followSettings(changed) {
  addEventListener("storage", ({ key }) => {
    if (key !== NAME && key !== null) return;
    turn();
    changed();
  });
}
