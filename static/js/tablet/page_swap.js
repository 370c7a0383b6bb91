// A part is swapped: what comes out, which model goes in, its serial number by camera or by hand, and why.

import { codesIn, readsCodes, shrink } from "./camera.js";
import { announce, fill, h } from "./dom.js";
import { mark } from "./marks.js";
import { noSuchStop } from "./page_stop.js";
import { newList, numberOr, showPhotos } from "./photos.js";
import { sameComponent } from "./sheet.js";
import { openVisit } from "./visit_desk.js";
import { day, localIso } from "./words.js";

const MAINS = "Mains near water: unplug it at the outlet before you touch it. A wired-in unit is a licensed electrician's work.";
const CAUTIONS = {
  battery: "Battery: eye protection and gloves, no spark or flame, fresh air. Take the negative lead off first and put it on last. Lift with your legs, or with two people.",
  primary_pump: MAINS,
  charger: MAINS,
  high_water_alarm: MAINS,
  pit: "Never enter a deep pit. Work from outside.",
};
const REASONS = ["Old: replaced before it fails", "Weak in the test", "Broken", "Wrong for this house"];

export async function swapPage(store, { visit: id, component }) {
  const place = await openVisit(store, id, () => showPlates());
  const part = place?.sheet().parts.find((one) => one.id === component);
  if (!part) return noSuchStop();
  const { visit } = place.sheet();
  const out = part.swap ? part.replaced : part;
  const swap = part.swap || crypto.randomUUID();
  const fieldName = `swap:${swap}`;
  const kept = place.drafts.get(fieldName) || place.sheet().heads.get(fieldName)?.at(-1)?.value || {};
  const models = place.pack.models?.[part.kind] || [];
  const model = h("select", { class: "form-select", id: "model", onchange: typed }, h("option", { value: "" }, "Choose the model…"), models.map((one) => h("option", { value: String(one.id) }, one.label)));
  const serial = h("input", { class: "form-control serial", id: "serial", maxlength: "60", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", oninput: typed });
  const because = h("input", { class: "form-control", id: "because", maxlength: "500", autocomplete: "off", oninput: typed });
  const failed = h("input", { class: "form-check-input", id: "failed", type: "checkbox", onchange: typed });
  model.value = String(kept.model ?? "");
  serial.value = kept.serial || "";
  because.value = kept.because || "";
  failed.checked = Boolean(kept.failed);
  const errors = h("div", {});
  const said = h("p", { class: "also", role: "status" });
  const plates = newList();

  function given() {
    return { component: numberOr(out.id), model: model.value ? Number(model.value) : null, serial: serial.value.trim(), because: because.value.trim(), failed: failed.checked };
  }

  function typed() {
    place.draft(fieldName, given());
  }

  const plate = h("input", { class: "unseen", type: "file", accept: "image/jpeg,image/*", capture: "environment", "aria-label": "Photograph the plate", onchange: photographed });

  /** The plate's photo is kept as evidence; where the tablet reads codes, the serial number is taken from it. */
  async function photographed() {
    const [file] = plate.files;
    if (!file) return;
    said.textContent = "Saving the photo…";
    try {
      const codes = await codesIn(file);
      const { bytes, ...measured } = await shrink(file, place.pack.photo);
      await place.addPhoto(bytes, { ...measured, item: "", component: `swap:${swap}`, finding: "", caption: "Plate of the new part", taken: localIso(new Date()) });
      await place.refresh();
      if (codes.length) {
        serial.value = codes[0].slice(0, 60);
        typed();
      }
      said.textContent = codes.length ? `Read from the plate: ${codes[0]}. Compare it.` : "The photo is saved. No code could be read: type the serial number.";
    } catch (problem) {
      said.textContent = `The photo was not saved. ${problem.message}`;
    }
    plate.value = "";
    showPlates();
  }

  function showPlates() {
    const taken = [...place.sheet().heads].filter(([name, events]) => name.startsWith("photo:") && sameComponent(events.at(-1).value.component, `swap:${swap}`) && !events.at(-1).value.item);
    const photos = taken.map(([name, events]) => ({ id: name.slice(6), value: events.at(-1).value, event: events.at(-1) }));
    showPhotos(plates, photos, "the plate", place);
  }

  async function keep() {
    const value = given();
    const wrong = [];
    if (!model.value && models.length) wrong.push(["model", "Choose the model that goes in."]);
    if (!value.because) wrong.push(["because", "Say why the old one comes out."]);
    if (wrong.length) {
      showErrors(wrong);
      return;
    }
    if (!(await place.keep("swap", fieldName, value, said))) return;
    place.draft(fieldName, null);
    announce(`The new ${part.word} is in. Check it as well.`);
    const first = place.sheet().lines.find((line) => line.component === `swap:${swap}`);
    location.hash = `#/stop/${id}${first ? `?line=${encodeURIComponent(first.field)}` : ""}`;
  }

  function showErrors(wrong) {
    const go = (target) => (event) => {
      event.preventDefault();
      document.getElementById(target).focus();
    };
    const list = wrong.map(([target, words]) => h("li", {}, h("a", { href: location.hash, onclick: go(target) }, words)));
    const summary = h("div", { class: "error-summary", role: "alert", tabindex: "-1" }, h("h2", {}, "Not saved yet"), h("ul", {}, list));
    fill(errors, summary);
    summary.focus();
  }

  async function undo() {
    if (await place.keep("swap", fieldName, null, said)) location.hash = `#/stop/${id}`;
  }

  showPlates();
  const reasons = REASONS.map((words) => h("button", { type: "button", class: "btn", onclick: () => {
    because.value = words;
    typed();
  } }, words));
  return {
    title: visit.house.address[0],
    actions: [h("a", { class: "btn", href: `#/stop/${id}` }, "Back")],
    element: h(
      "div",
      { class: "swap-page" },
      h("h1", { tabindex: "-1" }, `Swap the ${out.word}`),
      errors,
      h("dl", { class: "facts is-rows" }, h("div", {}, h("dt", {}, "Comes out"), h("dd", {}, [out.label, out.serial].filter(Boolean).join(" · "))), out.in_on ? h("div", {}, h("dt", {}, "In since"), h("dd", {}, day(out.in_on))) : null),
      CAUTIONS[out.kind] ? h("div", { class: "caution", role: "note" }, h("p", {}, h("strong", {}, "Caution."), ` ${CAUTIONS[out.kind]}`)) : null,
      h("label", { class: "field-label", for: "model" }, "New part"),
      model,
      h("label", { class: "field-label", for: "serial" }, "Serial number on its plate"),
      h("div", { class: "actions" }, h("label", { class: "btn photo-button" }, h("span", { "aria-hidden": "true" }, readsCodes() ? "Read it from the plate" : "Photograph the plate"), plate)),
      serial,
      said,
      plates,
      h("label", { class: "field-label", for: "because" }, "Why the old one comes out"),
      h("div", { class: "chips" }, reasons),
      because,
      h("div", { class: "form-check" }, failed, h("label", { class: "form-check-label", for: "failed" }, "The old part had failed (not only old or weak)")),
      part.swap ? h("p", {}, mark("kept", "this swap is saved"), " ", h("button", { type: "button", class: "btn", onclick: undo }, "Take the swap back")) : null,
    ),
    bottom: [h("div", { class: "bottom-bar" }, h("div", { class: "bottom-bar-inner" }, h("button", { type: "button", class: "btn btn-primary", onclick: keep }, "Old one out, new one in")))],
  };
}
