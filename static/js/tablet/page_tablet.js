// This tablet: what is only here, the backup file, the ready check in full, a new version, and signing out.

import { fill, h } from "./dom.js";
import { mark } from "./marks.js";
import { readyRows } from "./ready_panel.js";
import { day, many, moment } from "./words.js";

export async function tabletPage(store) {
  const facts = h("dl", { class: "facts" });
  const checks = h("div", {});
  const said = h("p", { class: "soft", role: "status" });
  const update = h("div", {});
  const out = h("div", {});

  function status(now) {
    const person = store.person();
    fill(
      facts,
      fact("Only on this tablet", `${many(now.unsent, "entry", "entries")}, ${many(now.unsentPhotos, "photo")}`),
      fact("Last sent", now.lastSentAt ? moment(now.lastSentAt) : "Never"),
      fact("Signed in", person ? person.name : "Nobody"),
      fact("May send until", now.key ? day(now.key.expires) : "Sign in first"),
    );
  }

  async function send() {
    said.textContent = "Sending…";
    await store.sendNow();
    const now = store.status();
    const left = now.unsent + now.unsentPhotos;
    said.textContent = left ? `${many(left, "item")} still to be sent. ${now.message}` : "Everything is at the office.";
  }

  async function backup() {
    said.textContent = "Making the file…";
    const file = new File([await store.exportFile()], `tablet-${new Date().toISOString().slice(0, 10)}.ndjson`, { type: "application/x-ndjson" });
    if (navigator.canShare?.({ files: [file] })) {
      try {
        await navigator.share({ files: [file] });
        said.textContent = "The backup file was handed on.";
        return;
      } catch {
        // shared with nobody: it is saved as a file instead
      }
    }
    const address = URL.createObjectURL(file);
    const link = h("a", { href: address, download: file.name });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(address), 60_000);
    said.textContent = "The backup file is saved. The office takes it in on its own page.";
  }

  async function check() {
    fill(checks, h("p", { class: "soft" }, "Checking…"));
    fill(checks, readyRows(await store.ready()));
  }

  async function takeUpdate(insist) {
    if (await store.applyUpdate({ insist })) return;
    fill(
      update,
      h("p", {}, "Something is still on this tablet only. It is safe through an update; send it first if you can."),
      h("button", { type: "button", class: "btn", onclick: () => takeUpdate(true) }, "Take the new version now"),
    );
  }

  async function signOut(force) {
    const warn = (words) => h("div", { class: "message is-watch", role: "alert" }, h("p", {}, words));
    try {
      const { done, unsent } = await store.signOut({ force });
      if (done) {
        location.hash = "#/sign-in";
        return;
      }
      fill(
        out,
        warn(`${many(unsent, "item")} on this tablet ${unsent === 1 ? "is" : "are"} not at the office yet. They stay here and are still sent after you sign out. The rounds leave this tablet: save a backup file first.`),
        h("div", { class: "actions" }, h("button", { type: "button", class: "btn", onclick: backup }, "Save a backup file first"), h("button", { type: "button", class: "btn", onclick: () => signOut(true) }, "Sign out, keep them here")),
      );
    } catch {
      fill(out, warn("The office can't be reached, and only it can end your sign-in. You are still signed in, and your rounds are still here. Sign out where there is signal."));
    }
  }

  status(store.status());
  check();
  return {
    title: "This tablet",
    actions: [h("a", { class: "btn", href: "#/" }, "Round")],
    element: h(
      "div",
      {},
      h("h1", { tabindex: "-1" }, "This tablet"),
      facts,
      h("div", { class: "actions" }, h("button", { type: "button", class: "btn btn-primary", onclick: send }, "Send now"), h("button", { type: "button", class: "btn", onclick: backup }, "Save a backup file")),
      said,
      h("section", { class: "step" }, h("h2", {}, "Ready check"), checks, h("button", { type: "button", class: "btn", onclick: check }, "Check again")),
      h("section", { class: "step" }, h("h2", {}, "New version"), h("p", {}, mark("open", "A new version is taken when nothing is half typed.")), h("button", { type: "button", class: "btn", onclick: () => takeUpdate(false) }, "Take the newest version"), update),
      h("section", { class: "step" }, h("h2", {}, "Sign out"), h("button", { type: "button", class: "btn", onclick: () => signOut(false) }, "Sign out"), out),
    ),
    status,
  };
}

function fact(label, words) {
  return h("div", {}, h("dt", {}, label), h("dd", {}, words));
}
