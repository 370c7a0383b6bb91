// Lines out of sight are not laid out, so that a touch is answered at once on a slow tablet. Each keeps exactly the
// room that it took when it was laid out last: nothing on the page moves when it comes into sight, under a finger least.

const latest = new WeakMap();
/** Those that the browser lays out at the moment although they may rest: it sees to their room by itself. */
const inSight = new WeakSet();

document.addEventListener("contentvisibilityautostatechange", ({ target, skipped }) => {
  if (skipped) inSight.delete(target);
  else inSight.add(target);
}, { capture: true });

/** Lays those out whose content has changed, but for those in sight. */
export function layOutChanged(elements) {
  const unseen = elements.filter((element) => !(element.classList.contains("at-rest") && inSight.has(element)));
  if (unseen.length) layOut(unseen);
}

/** Lays elements out, and lets them rest afterwards. */
export function layOut(elements) {
  const turn = {};
  for (const element of elements) {
    latest.set(element, turn);
    element.classList.remove("at-rest");
  }
  const rest = () => {
    for (const element of elements) if (latest.get(element) === turn) element.classList.add("at-rest");
  };
  // The frame after the next call lays them out and keeps their size; before the one after it they may rest.
  requestAnimationFrame(() => requestAnimationFrame(rest));
}

/** Lays all of `elements()` out again when `container` changes its width or letters their face; returns how to stop. */
export function watchWidth(container, elements) {
  let width = null;
  const again = () => layOut([...elements()]);
  const observer = new ResizeObserver(([{ contentRect }]) => {
    if (width !== null && contentRect.width !== width) again();
    width = contentRect.width;
  });
  observer.observe(container);
  document.fonts.addEventListener("loadingdone", again);
  return () => {
    observer.disconnect();
    document.fonts.removeEventListener("loadingdone", again);
  };
}
