/** Going to another page of the site without leaving: the engine stays, and only what the page holds changes. */

const PARTS = ["header.site", "main", "footer.foot"];

/** @type {() => void} */
let arrived = () => {};

/** @param {() => void} onArrival is called when another page is in place */
export function travel(onArrival) {
  // From disk a page cannot be read by another one; there the links work as links do.
  if (!location.protocol.startsWith("http")) return;
  arrived = onArrival;
  addEventListener("click", onClick);
  history.scrollRestoration = "manual";
  addEventListener("popstate", ({ state }) => {
    if (isHere()) journeys += 1;
    else void go(location.href, false, state?.y ?? 0);
  });
}

/** @param {string} url */
const address = (url) => url.split("#")[0] ?? "";
let shown = address(location.href);
/** How many journeys were begun; only the last one arrives. */
let journeys = 0;

/** Whether the page that is in place is the one that the address names. */
export const isHere = () => address(location.href) === shown;

/** Puts the page in place as it came, without what a link asked for. */
export function again() {
  if (location.protocol.startsWith("http")) void go(location.href, false);
  else location.reload();
}

/** Goes to a page of the site, whatever its address has behind #. @param {string} url */
export function goTo(url) {
  if (!location.protocol.startsWith("http") || address(url) === shown) location.href = url;
  else void go(url, true);
}

/** @param {MouseEvent} event */
function onClick(event) {
  const link = event.target instanceof Element ? event.target.closest("a") : null;
  if (!link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
  const away = link.origin !== location.origin || link.target || link.hasAttribute("download");
  if (away || !/(?:\.html|\/)$/.test(link.pathname) || address(link.href) === shown) return;
  event.preventDefault();
  void go(link.href, true);
}

/** @param {string} url @param {boolean} forward whether it is a new step of the history @param {number} [y] where the page was left */
async function go(url, forward, y = 0) {
  const journey = ++journeys;
  const page = await read(url);
  if (journey !== journeys) return;
  // Another build's page belongs to another engine and another client; it is opened afresh.
  if (!page || page.documentElement.dataset.build !== document.documentElement.dataset.build) {
    location.href = url;
    return;
  }
  // Icons and the like stay where they are, though their addresses were told from the page that brought them.
  for (const link of /** @type {NodeListOf<HTMLLinkElement>} */ (document.querySelectorAll("link:not([rel=stylesheet])"))) link.href = link.href;
  if (forward) {
    history.replaceState({ y: scrollY }, "");
    history.pushState(null, "", url);
  }
  shown = address(url);
  document.title = page.title;
  document.documentElement.dataset.base = page.documentElement.dataset.base ?? "./";
  document.body.className = page.body.className;
  for (const part of PARTS) {
    const [old, made] = [document.querySelector(part), page.querySelector(part)];
    if (old && made) old.replaceWith(document.adoptNode(made));
  }
  scrollTo(0, y);
  document.querySelector("main")?.focus({ preventScroll: true });
  arrived();
}

/** @param {string} url @returns {Promise<Document | undefined>} */
async function read(url) {
  try {
    const response = await fetch(url);
    return response.ok ? new DOMParser().parseFromString(await response.text(), "text/html") : undefined;
  } catch {
    return undefined;
  }
}
