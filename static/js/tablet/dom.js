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

const arranged = new WeakMap();

/**
 * The children of an element by key and in order: [key, make(), tell(element)]. One whose key was there before stays the
 * same element, and with it the finger on it, its focus and what is typed in it; `tell` gives it what has changed.
 */
export function arrange(parent, wanted) {
  const before = arranged.get(parent) || new Map();
  const now = new Map();
  for (const entry of wanted) {
    if (!entry) continue;
    const [key, make, tell] = entry;
    const element = before.get(key) || make();
    tell?.(element);
    now.set(key, element);
  }
  for (const [key, element] of before) if (!now.has(key)) element.remove();
  let at = parent.firstChild;
  for (const element of now.values()) {
    if (element === at) at = at.nextSibling;
    else parent.insertBefore(element, at);
  }
  arranged.set(parent, now);
}

/** Says something to a screen reader without moving the focus. */
export function announce(sentence) {
  const region = document.getElementById("announcement");
  region.textContent = "";
  setTimeout(() => {
    region.textContent = sentence;
  }, 50);
}

// Where no frame comes, because the page is out of sight, nothing is held up for longer.
const NO_FRAME_MS = 250;

/** Does something when what stands now is on the screen: the answer to a touch first, all else in moments after it. */
export function afterFrame(act) {
  let isDone = false;
  const once = () => {
    if (isDone) return;
    isDone = true;
    act();
  };
  requestAnimationFrame(() => setTimeout(once));
  setTimeout(once, NO_FRAME_MS);
}

// After the finger is up a click may still come; a finger that was never seen leaving has left after this long.
const CLICK_MS = 350;
const LONGEST_TOUCH_MS = 2000;
let touch = null;
const afterwards = [];

function letGo(which) {
  if (touch !== which) return;
  touch = null;
  for (const act of afterwards.splice(0)) act();
}

document.addEventListener("pointerdown", () => {
  const which = {};
  touch = which;
  setTimeout(() => letGo(which), LONGEST_TOUCH_MS);
}, { capture: true });
document.addEventListener("pointerup", () => {
  const which = touch;
  setTimeout(() => letGo(which), CLICK_MS);
}, { capture: true });
document.addEventListener("click", () => {
  const which = touch;
  afterFrame(() => letGo(which));
}, { capture: true });
document.addEventListener("pointercancel", () => {
  const which = touch;
  setTimeout(() => letGo(which));
}, { capture: true });

/** Does something at once, or, while a finger is on the page, when its touch has been answered on the screen: nothing
 *  moves or is made anew between a finger's coming and its answer. */
export function afterTouch(act) {
  if (touch) afterwards.push(act);
  else act();
}

/** Resolves a moment later, when no finger is on the page. */
export function untouched() {
  return new Promise((resolve) => {
    setTimeout(() => afterTouch(resolve));
  });
}

/** Puts words in the place of others; the same words leave the page as it is laid out. */
export function say(element, words) {
  if (element.textContent !== words) element.textContent = words;
}

/** The same for what somebody has to put right first. */
export function sayWrong(element, words) {
  say(element, words);
  element.classList.add("is-wrong");
}

/** Brings an element into sight and gives it the focus. */
export function goTo(element) {
  if (!element) return;
  if (!element.matches("a, button, input, select, textarea")) element.tabIndex = -1;
  element.focus({ preventScroll: true });
  element.scrollIntoView({ block: "start" });
}
