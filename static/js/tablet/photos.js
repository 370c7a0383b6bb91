// Photos of a line or a finding: what was taken, whether it is kept, and the button that takes another.

import { NotAPicture, shrink } from "./camera.js";
import { announce, arrange, fill, h } from "./dom.js";
import { mark } from "./marks.js";
import { isSeen } from "./sheet.js";
import { nameOf } from "./verdicts.js";
import { localIso } from "./words.js";

function wantsPhoto({ item, verdict }) {
  if (item.kind === "photo" || item.photo === "always") return true;
  return item.photo === "when_bad" && ["watch", "bad"].includes(verdict?.word);
}

/** The photos of a line that belong to no finding, and the button for another where the line asks for one; keyed. */
export function photosOf(line, place) {
  const own = line.photos.filter((photo) => !photo.value.finding);
  const name = nameOf(line.item);
  const about = { item: line.item.code, component: numberOr(line.component), finding: "", caption: "" };
  const label = own.some(isSeen) ? "Another photo" : "Take a photo";
  const isWanted = wantsPhoto(line) && !place.isClosed();
  return [
    own.length ? ["photos", newList, (list) => showPhotos(list, own, name, place)] : null,
    isWanted ? ["camera", () => photoButton(about, place), (button) => nameButton(button, label, `${label}: ${name}`)] : null,
  ];
}

/** A component as events name it: its number, 0 for the house, or the word of a swap. */
export function numberOr(component) {
  return /^\d+$/.test(component) ? Number(component) : component;
}

export function newList() {
  return h("ul", { class: "photos" });
}

/** Shows photos in a list made by `newList`; one that is shown already stays as it is. */
export function showPhotos(list, photos, subject, place) {
  arrange(list, photos.map((photo) => [photo.id, () => photoItem(photo, subject, place), (item) => showKept(item.lastChild, photo, subject, place)]));
  list.hidden = !photos.length;
}

const UNSEEN = "This tablet cannot show this picture: it is damaged or of a kind that it does not know. It is kept as it came and goes to the office. Take the photo once more, so that it can be seen.";

function photoItem(photo, subject, place) {
  const { id, value } = photo;
  if (!isSeen(photo)) return h("li", {}, h("p", { class: "message is-watch", role: "status" }, UNSEEN), h("span", { class: "kept" }));
  const picture = h("img", { alt: `Photo of ${subject}`, loading: "lazy", width: value.width || 4, height: value.height || 3 });
  Promise.resolve(place.store.photoUrl(id)).then((address) => {
    if (!address) return;
    picture.addEventListener("load", () => URL.revokeObjectURL(address), { once: true });
    picture.src = address;
  });
  return h("li", {}, picture, h("span", { class: "kept" }));
}

function showKept(kept, { id, event }, subject, place) {
  const remove = () => h("button", { type: "button", class: "btn btn-quiet", "aria-label": `Take the photo of ${subject} away`, onclick: () => place.record("photo", `photo:${id}`, null).then(place.refresh) }, "Take away");
  const where = event.receipt === "received" ? "sent" : "kept";
  arrange(kept, [[where, () => mark(where)], place.isClosed() ? null : ["remove", remove]]);
}

/** A button with the camera behind it, named by `nameButton`; `about` is {item, component, finding, caption}. */
export function photoButton(about, place) {
  const said = h("span", { class: "kept" });
  const input = h("input", { class: "unseen", type: "file", accept: "image/jpeg,image/*", capture: "environment", onchange: taken });
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
      announce(measured.width ? "Photo saved on this tablet." : UNSEEN);
      await place.refresh();
    } catch (problem) {
      const again = h("button", { type: "button", class: "btn", onclick: () => keep(file) }, "Save the photo once more");
      fill(said, mark("bad", "photo not saved"), h("span", {}, problem.message), problem instanceof NotAPicture ? null : again);
      announce("Photo not saved.");
    }
  }
  return h("div", { class: "photo-place" }, h("label", { class: "btn photo-button" }, h("span", { "aria-hidden": "true" }), input), said);
}

/** What stands on a photo button, and how it is spoken. */
export function nameButton(button, label, spoken = label) {
  const words = button.querySelector("[aria-hidden]");
  if (words.textContent !== label) words.textContent = label;
  button.querySelector("input").setAttribute("aria-label", spoken);
}
