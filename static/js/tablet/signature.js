// Signing on the glass: strokes are kept as points between 0 and 1 of the field's width and height.

import { h } from "./dom.js";

const PEN = 5;

/** {element, strokes(), clear(), set(strokes)}; `changed()` is called after each stroke. */
export function signaturePad(changed) {
  const canvas = h("canvas", { class: "signature", width: "1200", height: "400", role: "img", "aria-label": "Field to sign with a finger" });
  let strokes = [];
  let current = null;

  function draw() {
    const pen = canvas.getContext("2d");
    pen.clearRect(0, 0, canvas.width, canvas.height);
    pen.lineWidth = PEN;
    pen.lineCap = "round";
    pen.lineJoin = "round";
    for (const stroke of strokes) {
      pen.beginPath();
      stroke.forEach(([x, y], index) => {
        if (index) pen.lineTo(x * canvas.width, y * canvas.height);
        else pen.moveTo(x * canvas.width, y * canvas.height);
      });
      pen.stroke();
    }
  }

  function pointOf(event) {
    const frame = canvas.getBoundingClientRect();
    const share = (at, from, size) => Number(Math.min(1, Math.max(0, (at - from) / size)).toFixed(4));
    return [share(event.clientX, frame.left, frame.width), share(event.clientY, frame.top, frame.height)];
  }

  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    current = [pointOf(event)];
    strokes.push(current);
    event.preventDefault();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!current) return;
    current.push(pointOf(event));
    draw();
  });
  for (const name of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(name, () => {
      if (!current) return;
      current = null;
      draw();
      changed();
    });
  }
  return {
    element: canvas,
    strokes: () => strokes,
    clear() {
      strokes = [];
      draw();
      changed();
    },
    set(kept) {
      strokes = kept;
      draw();
    },
  };
}
