/**
 * Has the browser keep the site for use without a connection, and offers a new version when there is one.
 *
 * What is said stands in the page, in #keeping: one line for each thing that can be said, shown when it is true.
 */

/** How often an open page looks for a new version when it is looked at again, in milliseconds. */
const LOOK_AGAIN = 3_600_000;

/** Whether this page has seen to it. */
let keeping = false;

/** @param {string} when @returns {Element | null} the line that is shown now */
function show(when) {
  const place = document.getElementById("keeping");
  for (const line of /** @type {Iterable<HTMLElement>} */ (place?.children ?? [])) line.hidden = line.dataset.when !== when;
  return place?.querySelector(`[data-when="${when}"]`) ?? null;
}

/** Does something when the button of a line is pressed. @param {string} when @param {() => void} action */
function onPress(when, action) {
  const button = document.querySelector(`#keeping [data-when="${when}"] button`);
  if (button instanceof HTMLButtonElement) button.onclick = action;
}

/**
 * Keeps the site on the device: at once, or where the player saves data only when asked to. Called with `begin`
 * when the engine has started, so that the first page has the line to itself; without it, earlier.
 * @param {object} options
 * @param {boolean} options.begin whether to start with it now; else only what has begun earlier goes on
 */
export async function keepOffline({ begin }) {
  // From disk and in a file that stands alone there is no need for it; browsers have it on safe connections only.
  const { base = "./", runtime } = document.documentElement.dataset;
  if (!location.protocol.startsWith("http") || !runtime || !navigator.serviceWorker) return;
  const root = new URL(base, document.baseURI);
  try {
    const known = await navigator.serviceWorker.getRegistration(root);
    if (known?.scope === root.href) await keep(root);
    else if (begin && savesData()) {
      for (const line of ["offer", "failed"]) onPress(line, () => void keep(root, true).catch(() => show("failed")));
      show("offer");
    } else if (begin) await keep(root);
  } catch {
    // The browser will have none of it (a private window, perhaps): the site works, with a connection.
  }
}

const savesData = () => /** @type {any} */ (navigator).connection?.saveData === true;

/** @param {URL} root @param {boolean} [asked] whether the player has asked for it, and wants to hear how it goes */
async function keep(root, asked = false) {
  if (keeping) return;
  keeping = true;
  const { serviceWorker } = navigator;
  const hadOne = Boolean(serviceWorker.controller);
  const bar = asked ? show("keeping")?.querySelector("progress") : undefined;
  serviceWorker.onmessage = ({ data }) => {
    if (!data?.offline) return;
    const { progress, failed } = data.offline;
    if (bar && progress) bar.value = progress;
    if (failed) keeping = false; // it may be tried again
    if (failed === "QuotaExceededError") show("full");
    else if (failed && asked) show("failed");
  };
  const registration = await serviceWorker.register(new URL("sw.js", root), { updateViaCache: "none" });
  registration.active?.postMessage({ mend: true });
  offerUpdates(registration);
  if (!hadOne && registration.installing) {
    const { installing } = registration;
    installing.addEventListener("statechange", () => installing.state === "activated" && show("kept"));
  }
}

/** A new version waits until the player wants it, or no page of the old one is open. @param {ServiceWorkerRegistration} registration */
function offerUpdates(registration) {
  const { serviceWorker } = navigator;
  let hadOne = Boolean(serviceWorker.controller);
  let wanted = false;
  const offer = () => {
    if (registration.waiting && registration.active) show("update");
  };
  onPress("update", () => {
    wanted = true;
    if (registration.waiting) registration.waiting.postMessage({ use: true });
    else location.reload();
  });
  serviceWorker.oncontrollerchange = () => {
    if (wanted) location.reload();
    // Another tab has taken up the new version; this one, perhaps amid a round, only offers it.
    else if (hadOne) show("update");
    hadOne = true;
  };
  registration.addEventListener("updatefound", () => {
    registration.installing?.addEventListener("statechange", offer);
  });
  registration.installing?.addEventListener("statechange", offer);
  offer();
  let looked = Date.now();
  document.addEventListener("visibilitychange", () => {
    if (document.hidden || Date.now() - looked < LOOK_AGAIN) return;
    looked = Date.now();
    registration.update().catch(() => {}); // without a connection there is none
  });
}
