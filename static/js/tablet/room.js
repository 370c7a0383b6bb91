// Lines out of sight are not laid out, so that a touch is answered at once on a slow tablet. Each keeps exactly the
// room that it took when it was laid out last: nothing on the page moves when it comes into sight, under a finger least.

const latest = new WeakMap();

/** Lays elements out, and lets them rest afterwards: for new ones, and for those whose content has changed. */
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
