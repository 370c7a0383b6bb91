// Making elements without markup in strings: text always becomes text, a drawing is taken in without its scripts.

const SVG = "http://www.w3.org/2000/svg";

/** An element: `h("p", {class: "soft", onclick: f}, "text", child, null)`; null and false children are left out. */
export function h(tag, given = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "value") made.value = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return made;
}

/** An SVG element with its attributes and children. */
export function svg(tag, attributes = {}, ...children) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

/** A drawing that came as text, as an element; null when it cannot be read. Nothing in it can run. */
export function drawingFrom(text) {
  const read = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (read.localName !== "svg" || read.querySelector("parsererror")) return null;
  for (const one of [read, ...read.querySelectorAll("*")]) {
    if (["script", "foreignObject", "a", "use", "image", "style"].includes(one.localName)) {
      one.remove();
      continue;
    }
    for (const { name } of [...one.attributes]) {
      if (name.startsWith("on") || name === "style" || name.endsWith("href")) one.removeAttribute(name);
    }
  }
  return document.importNode(read, true);
}

/** Puts new children in the place of the old ones. */
export function fill(element, ...children) {
  element.replaceChildren(...children.flat(Infinity).filter((child) => child || child === 0));
}

/** Says something to a screen reader without moving the focus. */
export function announce(sentence) {
  const region = document.getElementById("announcement");
  region.textContent = "";
  setTimeout(() => {
    region.textContent = sentence;
  }, 50);
}

const TOUCH_MS = 350;
let touchedAt = -Infinity;
document.addEventListener("pointerdown", () => (touchedAt = performance.now()), { capture: true });

/** Does something when a field was left: after the touch that left it, lest the page moves away under the finger and
 *  the touch is lost; at once when it was left by the keyboard. */
export function afterTouch(act) {
  if (performance.now() - touchedAt < TOUCH_MS) setTimeout(act, TOUCH_MS);
  else act();
}

/** Brings an element into sight and gives it the focus. */
export function goTo(element) {
  if (!element) return;
  if (!element.matches("a, button, input, select, textarea")) element.tabIndex = -1;
  element.focus({ preventScroll: true });
  element.scrollIntoView({ block: "start" });
}
