// Starts the tablet: opens the store, shows the page that the address names, and keeps the line about storage true.

import { fill, goTo, h, untouched } from "./dom.js";
import { couldNotPage } from "./page_could_not.js";
import { roundPage } from "./page_round.js";
import { signPage } from "./page_sign.js";
import { signInPage } from "./page_sign_in.js";
import { stopPage } from "./page_stop.js";
import { swapPage } from "./page_swap.js";
import { tabletPage } from "./page_tablet.js";
import { open } from "./state.js";
import { showNotice, showStatus } from "./status_line.js";

const ROUTES = [
  [/^#?\/?$/, roundPage],
  [/^#\/stop\/(?<visit>[^/]+)$/, stopPage],
  [/^#\/stop\/(?<visit>[^/]+)\/sign$/, signPage],
  [/^#\/stop\/(?<visit>[^/]+)\/swap\/(?<component>[^/]+)$/, swapPage],
  [/^#\/stop\/(?<visit>[^/]+)\/could-not$/, couldNotPage],
  [/^#\/tablet$/, tabletPage],
  [/^#\/sign-in$/, signInPage],
];

const place = (id) => document.getElementById(id);
const scrolled = new Map();
let shown = null;
let update = null;

function routeOf(address) {
  for (const [pattern, page] of ROUTES) {
    const found = pattern.exec(address);
    if (found) return [page, Object.fromEntries(Object.entries(found.groups || {}).map(([k, v]) => [k, decodeURIComponent(v)]))];
  }
  return [roundPage, {}];
}

/** The hash without what stands behind a question mark: the line to go to. */
function addressOf() {
  const [address, query = ""] = location.hash.split("?");
  return [address, new URLSearchParams(query).get("line")];
}

async function show(store) {
  const [address, line] = addressOf();
  if (shown) {
    scrolled.set(shown.address, window.scrollY);
    await shown.page.leave?.();
  }
  const [make, names] = routeOf(address);
  let page;
  try {
    page = await make(store, names);
  } catch (problem) {
    page = brokenPage(problem);
  }
  shown = { address, page };
  document.title = `${page.title} · Tablet`;
  place("bar-title").textContent = page.title;
  fill(place("bar-actions"), page.actions || []);
  fill(place("page"), page.element);
  fill(place("bottom"), page.bottom || []);
  if (line || scrolled.get(address)) page.whole?.();
  if (line) goTo(place(line));
  else {
    window.scrollTo(0, scrolled.get(address) || 0);
    place("page").querySelector("h1")?.focus({ preventScroll: true });
  }
  document.documentElement.dataset.ready = address || "#/";
}

function brokenPage(problem) {
  console.error(problem);
  return {
    title: "This page could not be shown",
    element: h(
      "div",
      { class: "message is-bad", role: "alert" },
      h("p", {}, "What was saved is still saved. Go back to the round; if this comes again, save a backup file and call the office. "),
      h("p", {}, h("a", { class: "btn", href: "#/" }, "Round"), " ", h("a", { class: "btn", href: "#/tablet" }, "Backup file")),
    ),
  };
}

async function start() {
  const store = await open();
  let coming = null;
  // A save is told of several times over; it is shown once, when the touch that it came from has been answered.
  const status = () => {
    coming ??= untouched().then(() => {
      coming = null;
      const now = store.status();
      showStatus(place("save-line"), now);
      showNotice(place("notice"), now, update);
      shown?.page.status?.(now);
    });
  };
  store.on("status", status);
  store.on("visit", (id) => shown?.page.update?.(id));
  store.on("update", (offer) => {
    update = offer || true;
    status();
  });
  addEventListener("hashchange", () => show(store));
  document.addEventListener("visibilitychange", () => shown?.page.update?.(null));
  place("save-line").replaceChildren(); // what the shell says there while it opens
  status();
  await show(store);
}

start().catch((problem) => {
  fill(place("page"), brokenPage(problem).element);
  document.documentElement.dataset.ready = "broken";
});
