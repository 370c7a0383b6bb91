// Talk and sign: what was found in the owner's words, the signature, what is missing, and the end of the visit.

import { afterTouch, announce, arrange, fill, h, sayWrong } from "./dom.js";
import { finishPart } from "./finish.js";
import { mark } from "./marks.js";
import { noSuchStop } from "./page_stop.js";
import { isSignatureStale, signedHeads } from "./sheet.js";
import { sha256 } from "./hash.js";
import { signaturePad } from "./signature.js";
import { stateNotes } from "./stop_head.js";
import { summaryOf } from "./summary.js";
import { openVisit } from "./visit_desk.js";
import { moment } from "./words.js";

const KINDS = { drawn: "Signed on the glass", typed: "Signed by the typed name", nobody_home: "Nobody was at home" };

export async function signPage(store, { visit: id }) {
  const place = await openVisit(store, id, show);
  if (!place) return noSuchStop();
  const { visit } = place.sheet();
  const note = h("div", {});
  const found = h("div", {});
  const words = wordsPart(place);
  const signed = h("div", {});
  const said = h("p", { class: "also", role: "alert" });
  const kept = place.drafts.get("signature") || {};
  const name = h("input", { class: "form-control", id: "sign-name", maxlength: "160", autocomplete: "off", oninput: keepDraft });
  name.value = kept.name ?? place.sheet().signature?.value.name ?? visit.house.owner?.name ?? "";
  const known = visit.house.people || [];
  const pad = signaturePad(keepDraft);
  if (kept.strokes) pad.set(kept.strokes);
  const form = h(
    "div",
    { class: "item sign-form" },
    h("p", {}, "“The technician was here and went through this check-up with me.” A signature says no more than that."),
    h("label", { class: "field-label", for: "sign-name" }, "Name of the person who signs"),
    known.length > 1 ? h("div", { class: "chips", role: "group", "aria-label": "People known here" }, known.map(nameChip)) : null,
    name,
    h("p", { class: "field-label" }, "Sign here with a finger"),
    pad.element,
    said,
    h(
      "div",
      { class: "actions" },
      h("button", { type: "button", class: "btn btn-primary", onclick: () => sign("drawn") }, "Keep the drawn signature"),
      h("button", { type: "button", class: "btn", onclick: () => pad.clear() }, "Clear"),
      h("button", { type: "button", class: "btn", onclick: () => sign("typed") }, "The typed name is the signature"),
      h("button", { type: "button", class: "btn", onclick: () => sign("nobody_home") }, "Nobody at home"),
    ),
  );
  const finish = finishPart(place);

  function nameChip({ name: words, what }) {
    const choose = () => {
      name.value = words;
      keepDraft();
    };
    return h("button", { type: "button", class: "btn", onclick: choose }, words, what ? h("small", {}, what) : null);
  }

  function keepDraft() {
    place.draft("signature", { name: name.value, strokes: pad.strokes() });
  }

  async function sign(kind) {
    said.textContent = "";
    if (kind === "typed" && !name.value.trim()) {
      sayWrong(said, "Type the name of the person who signs.");
      name.focus();
      return;
    }
    if (kind === "drawn" && !pad.strokes().some((stroke) => stroke.length > 1)) {
      sayWrong(said, "Nothing is drawn yet. Sign on the field with a finger, or type the name.");
      return;
    }
    await words.settle();
    const heads = signedHeads(place.sheet());
    const value = {
      kind,
      name: kind === "nobody_home" ? "" : name.value.trim(),
      strokes: kind === "drawn" ? pad.strokes() : [],
      signed: heads,
      signed_sha256: await sha256(heads.join("\n")),
    };
    if (!(await place.keep("signature", "signature", value, said))) return;
    place.draft("signature", null);
    announce("The signature is saved on this tablet.");
  }

  function show(sheet) {
    arrange(note, stateNotes(place, sheet));
    fill(found, summaryOf(sheet));
    fill(signed, signedWords(sheet));
    form.hidden = place.isClosed();
    words.element.hidden = place.isClosed();
    finish.update(sheet);
  }

  show(place.sheet());
  return {
    title: visit.house.address[0],
    actions: [h("a", { class: "btn", href: `#/stop/${id}` }, "Lines")],
    element: h(
      "div",
      {},
      h("h1", { tabindex: "-1" }, "Talk and sign"),
      note,
      h("section", { class: "step", "aria-labelledby": "head-found" }, h("h2", { id: "head-found" }, "What was found"), found, words.element),
      h("section", { class: "step", id: "sign", "aria-labelledby": "head-sign" }, h("h2", { id: "head-sign" }, "The owner's signature"), signed, form),
      finish.element,
    ),
    bottom: [finish.bar],
    update: (changed) => (changed === null || String(changed) === id ? place.refresh() : null),
    leave: () => words.settle(),
  };
}

/** The technician's own words to the owner, kept when the field is left. */
function wordsPart(place) {
  const field = h("textarea", { class: "form-control", id: "summary", rows: "3", maxlength: "2000", oninput: () => place.draft("summary", { text: field.value }), onchange: () => afterTouch(settle) });
  field.value = place.drafts.get("summary")?.text ?? place.sheet().summary;
  const state = h("p", { class: "kept" });

  async function settle() {
    const text = field.value.trim();
    if (text === place.sheet().summary) return;
    if (await place.keep("note", "summary", text ? { text } : null, state)) {
      place.draft("summary", null);
      fill(state, mark("kept"));
    }
  }
  return { element: h("div", {}, h("label", { class: "field-label", for: "summary" }, "In your own words, for the owner (optional)"), field, state), settle };
}

function signedWords(sheet) {
  const { signature } = sheet;
  if (!signature) return [];
  const { kind, name } = signature.value;
  const line = `${KINDS[kind]}${name ? `: ${name}` : ""}, ${moment(signature.at)}`;
  const stale = isSignatureStale(sheet)
    ? h("div", { class: "message is-watch", role: "status" }, h("p", {}, h("strong", {}, "Changed after the signature. "), "Go through it with the owner and sign once more."))
    : null;
  const where = signature.receipt === "received" ? mark("sent") : mark("kept");
  return [h("div", { class: "message is-good" }, h("p", {}, line), h("p", { class: "kept" }, where)), stale];
}
