// Photos of a line or a finding: what was taken, whether it is kept, and the button that takes another.

import { shrink } from "./camera.js";
import { announce, fill, h } from "./dom.js";
import { mark } from "./marks.js";
import { nameOf } from "./verdicts.js";
import { localIso } from "./words.js";

function wantsPhoto({ item, verdict }) {
  if (item.kind === "photo" || item.photo === "always") return true;
  return item.photo === "when_bad" && ["watch", "bad"].includes(verdict?.word);
}

/** The photos of a line that belong to no finding, and the button for another where the line asks for one. */
export function photosOf(line, place) {
  const own = line.photos.filter((photo) => !photo.value.finding);
  const about = { item: line.item.code, component: numberOr(line.component), finding: "", caption: "" };
  const label = own.length ? "Another photo" : "Take a photo";
  const isDue = wantsPhoto(line);
  if (!own.length && !isDue) return null;
  return [
    photoList(own, nameOf(line.item), place),
    isDue && !place.isClosed() ? photoButton(label, about, place, `${label}: ${nameOf(line.item)}`) : null,
  ];
}

/** A component as events name it: its number, 0 for the house, or the word of a swap. */
export function numberOr(component) {
  return /^\d+$/.test(component) ? Number(component) : component;
}

export function photoList(photos, subject, place) {
  if (!photos.length) return null;
  return h("ul", { class: "photos" }, photos.map((photo) => photoItem(photo, subject, place)));
}

function photoItem({ id, value, event }, subject, place) {
  const picture = h("img", { alt: `Photo of ${subject}`, loading: "lazy", width: value.width || 4, height: value.height || 3 });
  Promise.resolve(place.store.photoUrl(id)).then((address) => {
    if (address) picture.src = address;
  });
  const remove = h("button", { type: "button", class: "btn btn-quiet", "aria-label": `Take the photo of ${subject} away`, onclick: () => place.record("photo", `photo:${id}`, null).then(place.refresh) }, "Take away");
  return h("li", {}, picture, h("span", { class: "kept" }, event.receipt === "received" ? mark("sent") : mark("kept"), place.isClosed() ? null : remove));
}

/** A button with the camera behind it; `about` is {item, component, finding, caption} of the photo. */
export function photoButton(label, about, place, spoken = label) {
  const said = h("span", { class: "kept" });
  const input = h("input", { class: "unseen", type: "file", accept: "image/jpeg,image/*", capture: "environment", "aria-label": spoken, onchange: taken });
  let waiting = null;

  async function taken() {
    const [file] = input.files;
    if (!file) return;
    await keep(file);
    // The same picture chosen once more is a change again.
    input.value = "";
  }

  async function keep(file) {
    fill(said, h("span", { class: "soft" }, "Saving the photo…"));
    try {
      waiting ??= await shrink(file, place.pack.photo);
      const { bytes, ...measured } = waiting;
      await place.addPhoto(bytes, { ...measured, ...about, taken: localIso(new Date()) });
      waiting = null;
      fill(said);
      announce("Photo saved on this tablet.");
      await place.refresh();
    } catch (problem) {
      const again = h("button", { type: "button", class: "btn", onclick: () => keep(file) }, "Save the photo once more");
      fill(said, mark("bad", "photo not saved"), h("span", {}, problem.message), again);
      announce("Photo not saved.");
    }
  }
  return h("div", { class: "photo-place" }, h("label", { class: "btn photo-button" }, h("span", { "aria-hidden": "true" }, label), input), said);
}
