// A photo made smaller on the tablet: turned upright, at most so many pixels, and without what the camera wrote into
// it (place, maker): a fresh picture is drawn and only that is kept. A picture that this tablet cannot decode is kept
// as it came; what is no picture at all is not taken.

export class NotAPicture extends Error {
  constructor(name) {
    super(`“${name}” is no picture. It stays where it is on this tablet; take a photo, or choose another file.`);
  }
}

// What files of pictures begin with: JPEG, PNG, GIF, TIFF, BMP, WebP (in RIFF), HEIC and AVIF (a box named ftyp).
const BEGINNINGS = [/^\xff\xd8\xff/, /^\x89PNG/, /^GIF8/, /^II\*\0/, /^MM\0\*/, /^BM/, /^RIFF.{4}WEBP/s, /^.{4}ftyp(heic|heix|heim|heis|hevc|hevx|mif1|msf1|avif)/s];

async function asItCame(file) {
  const bytes = await file.arrayBuffer();
  const beginning = String.fromCharCode(...new Uint8Array(bytes.slice(0, 16)));
  if (!BEGINNINGS.some((one) => one.test(beginning))) throw new NotAPicture(file.name);
  return { bytes, type: file.type || "application/octet-stream", width: 0, height: 0 };
}

/**
 * {bytes: ArrayBuffer, type, width, height} of a camera's file; `limits` is {longest_px, quality} of the pack. Width and
 * height are 0 for a picture that cannot be decoded here. Throws NotAPicture.
 */
export async function shrink(file, limits) {
  let picture;
  try {
    picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    return asItCame(file);
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
