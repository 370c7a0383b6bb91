// Signing on the glass: strokes are kept as points between 0 and 1 of the field's width and height.

const PEN = 5;

function pointOf(canvas, event) {
  const frame = canvas.getBoundingClientRect();
  const x = (event.clientX - frame.left) / frame.width;
  const y = (event.clientY - frame.top) / frame.height;
  return [Number(x.toFixed(4)), Number(y.toFixed(4))];
}

function draw(canvas, strokes) {
  const pen = canvas.getContext("2d");
  pen.clearRect(0, 0, canvas.width, canvas.height);
  pen.lineWidth = PEN;
  pen.lineCap = "round";
  pen.lineJoin = "round";
  for (const stroke of strokes) {
    pen.beginPath();
    stroke.forEach(([x, y], index) => {
      const at = [x * canvas.width, y * canvas.height];
      if (index === 0) pen.moveTo(...at);
      else pen.lineTo(...at);
    });
    pen.stroke();
  }
}

export function startSignature(form) {
  if (!form) return;
  const canvas = form.querySelector("canvas");
  const field = form.querySelector("input[name=strokes]");
  const strokes = [];
  let current = null;
  for (const hidden of form.querySelectorAll("[data-signature-pad], [data-signature-drawn], [data-signature-clear]")) {
    hidden.hidden = false;
  }
  const keep = () => {
    field.value = JSON.stringify(strokes);
    draw(canvas, strokes);
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    current = [pointOf(canvas, event)];
    strokes.push(current);
    event.preventDefault();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!current) return;
    current.push(pointOf(canvas, event));
    keep();
  });
  for (const name of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(name, () => {
      current = null;
      keep();
    });
  }
  form.querySelector("[data-signature-clear]").addEventListener("click", () => {
    strokes.length = 0;
    keep();
  });
}
