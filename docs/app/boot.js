// Runs before the page is painted: what a script changes about the look must be known by then.
(() => {
  const { classList } = document.documentElement;
  classList.add("scripted");
  if (location.hash.includes("=")) classList.add("linked");
  try {
    // Something else than the round in the page will be shown: the one broken off last time, or a fresh one.
    if (localStorage.getItem(`linekeeper kept ${location.pathname}`)) classList.add("kept");
  } catch {
    // Storage is refused: nothing is kept then.
  }
  // Where the client does not come, the round in the page is the one to play.
  const uncover = () => "linekeeper" in globalThis || classList.remove("linked", "kept");
  addEventListener("DOMContentLoaded", uncover);
  setTimeout(uncover, 10_000);
})();
