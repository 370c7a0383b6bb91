// Runs before the first paint, so that a dark basement never sees a white flash. A classic script on purpose.
(function () {
  let chosen = null;
  try {
    chosen = localStorage.getItem("theme");
  } catch {
    // storage refused: the system's own choice stands
  }
  const dark = chosen ? chosen === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  document.documentElement.dataset.theme = dark ? "dark" : "light";
})();
