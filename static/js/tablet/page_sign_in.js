// Signing in: at the office's own page while there is signal; back here the tablet gets its key and its rounds.

import { h } from "./dom.js";

export async function signInPage(store) {
  const said = h("p", { class: "also is-wrong", role: "alert" });
  const name = h("input", { class: "form-control", id: "tablet-name", maxlength: "60", autocomplete: "off" });
  name.value = localStorage.getItem("tablet name") || "";
  const ready = h("button", { type: "button", class: "btn btn-primary", onclick: prepare }, "Get this tablet ready");

  async function prepare() {
    said.textContent = "";
    if (!name.value.trim()) {
      said.textContent = "Give the tablet a name that the office knows it by, such as “Van 2”.";
      name.focus();
      return;
    }
    ready.disabled = true;
    try {
      localStorage.setItem("tablet name", name.value.trim());
      const isDone = (await store.registerDevice(name.value.trim())) && (await store.refreshPack()) === "new";
      if (isDone) location.hash = "#/";
      else said.textContent = "Nobody is signed in yet. Sign in first, then come back here.";
    } catch (problem) {
      said.textContent = `${problem.message} Try again with signal; what is on this tablet stays here.`;
    }
    ready.disabled = false;
  }

  const next = encodeURIComponent("/tablet/#/sign-in");
  return {
    title: "Sign in",
    actions: [h("a", { class: "btn", href: "#/" }, "Round")],
    element: h(
      "div",
      {},
      h("h1", { tabindex: "-1" }, "Sign in on this tablet"),
      h("p", {}, "This needs signal once. Underground nothing asks for it: what you enter is saved here and sent later."),
      h(
        "ol",
        { class: "numbered" },
        h("li", {}, h("p", {}, "Sign in with your own name."), h("a", { class: "btn", href: `/sign-in/?next=${next}` }, "Sign in")),
        h("li", {}, h("label", { class: "field-label", for: "tablet-name" }, "Name of this tablet"), name, said, ready),
      ),
    ),
  };
}
