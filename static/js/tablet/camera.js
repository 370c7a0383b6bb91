// A photo made smaller on the tablet: turned upright, at most so many pixels, and without what the camera wrote into
// it (place, maker): a fresh picture is drawn and only that is kept. What cannot be decoded is kept as it came.

/** {bytes: ArrayBuffer, type, width, height} of a camera's file; `limits` is {longest_px, quality} of the pack. */
export async function shrink(file, limits) {
  let picture;
  try {
    picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    return { bytes: await file.arrayBuffer(), type: file.type || "application/octet-stream", width: 0, height: 0 };
  }
  const scale = Math.min(1, limits.longest_px / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((resolve) => {
    canvas.toBlob(resolve, "image/jpeg", limits.quality);
  });
  const made = { type: "image/jpeg", width: canvas.width, height: canvas.height };
  // Gives the memory back at once: a dozen photos of twelve million pixels is more than a tablet has.
  canvas.width = 0;
  canvas.height = 0;
  if (!blob) return { bytes: await file.arrayBuffer(), type: file.type, width: made.width, height: made.height };
  return { bytes: await blob.arrayBuffer(), ...made };
}

/** Ids of the codes that stand in a picture; empty where this tablet cannot read codes. */
export async function codesIn(file) {
  if (!("BarcodeDetector" in window)) return [];
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const found = await new window.BarcodeDetector().detect(picture);
    picture.close();
    return found.map((one) => one.rawValue.trim()).filter(Boolean);
  } catch {
    return [];
  }
}

/** Whether this tablet can read a code from a picture. */
export function readsCodes() {
  return "BarcodeDetector" in window;
}
