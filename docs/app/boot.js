// Runs before the page is painted: what a script changes about the look must be known by then.
document.documentElement.classList.add("scripted");
if (location.hash.includes("=")) document.documentElement.classList.add("linked");
