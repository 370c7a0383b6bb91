// The light and dark switch of the tablet: any button with data-theme-switch. The choice stays on this device.

const root = document.documentElement;

function isDark() {
  return root.dataset.theme === "dark";
}

function show(button) {
  button.textContent = isDark() ? "Light screen" : "Dark screen";
  button.hidden = false;
}

function choose(theme) {
  root.dataset.theme = theme;
  try {
    localStorage.setItem("theme", theme);
  } catch {
    // storage refused: the choice holds until the page is left
  }
}

document.querySelectorAll("[data-theme-switch]").forEach((button) => {
  show(button);
  button.addEventListener("click", () => {
    choose(isDark() ? "light" : "dark");
    show(button);
  });
});
