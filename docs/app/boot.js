// Runs before the page is painted: what a script changes about the look must be known by then.
(() => {
  const { classList } = document.documentElement;
  classList.add("scripted");
  // Until the client comes a link to a question is followed by the style sheet. As long as there was none it need not look
  // for one, which it would do at each answer.
  const goTo = () => classList.contains("steered") || classList.toggle("no-target", !location.hash || location.hash.includes("="));
  goTo();
  addEventListener("hashchange", goTo);
  if (location.hash.includes("=")) classList.add("linked");
  try {
    // Something else than the round in the page will be shown: the one broken off last time, or a fresh one.
    if (localStorage.getItem(`linekeeper kept ${location.pathname}`)) classList.add("kept");
  } catch {
    // Storage is refused: nothing is kept then.
  }
  try {
    const { left, built, quiet } = JSON.parse(localStorage.getItem("linekeeper settings") ?? "{}");
    if (left) classList.add("left-handed");
    // No drills by ear in the lists.
    if (quiet === true) classList.add("quiet");
    // Rounds about a neck were built for another one.
    if (built === false) classList.add("retuned");
  } catch {
    // Refused, or nothing that was kept here: all is as it came.
  }
  // Where the client does not come, the round in the page is the one to play, as it is without scripts.
  const uncover = () => "linekeeper" in globalThis || classList.remove("scripted", "no-target", "linked", "kept", "retuned");
  addEventListener("DOMContentLoaded", uncover);
  setTimeout(uncover, 10_000);
})();
