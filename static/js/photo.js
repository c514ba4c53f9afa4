// A photograph is made smaller before it is sent (a tablet's picture is 5 to 12 MB) and shown. Drawing
// it anew also drops what the camera wrote into the file (place, time, device). When anything fails,
// the file goes as it is: the server re-encodes every picture anyway.
import { say } from "./words.js";

const QUALITY = 0.85;

async function shrink(file, longest) {
  if (!file.type.startsWith("image/")) return file;
  try {
    const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, longest / Math.max(bitmap.width, bitmap.height));
    const canvas = draw(bitmap, scale);
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
    if (!blob || (scale === 1 && blob.size >= file.size)) return file;
    return new File([blob], file.name.replace(/\.\w+$/, "") + ".jpg", { type: "image/jpeg" });
  } catch {
    return file;
  }
}

/** `bitmap` on a canvas at `scale`; used for sending, for previews and for covering. */
export function draw(bitmap, scale) {
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(bitmap.width * scale));
  canvas.height = Math.max(1, Math.round(bitmap.height * scale));
  canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  return canvas;
}

async function preview(input, files) {
  const place = input.closest("[data-photo-field]")?.querySelector("[data-photo-preview]");
  if (!place) return;
  const pictures = [];
  for (const [index, file] of files.entries()) {
    try {
      const bitmap = await createImageBitmap(file);
      const canvas = draw(bitmap, Math.min(1, 320 / Math.max(bitmap.width, bitmap.height)));
      canvas.setAttribute("role", "img");
      canvas.setAttribute("aria-label", say("photo-preview", { n: index + 1 }));
      pictures.push(canvas);
    } catch {
      continue; // A file that is no picture has no preview; the server says what it thinks of it.
    }
  }
  place.replaceChildren(...pictures);
}

document.addEventListener("change", async (event) => {
  const input = event.target;
  if (!input.matches?.("input[type=file][data-photo]")) return;
  const chosen = [...input.files];
  const small = await Promise.all(chosen.map((file) => shrink(file, Number(input.dataset.photoMax ?? 2000))));
  if (small.some((file, index) => file !== chosen[index])) {
    const box = new DataTransfer();
    for (const file of small) box.items.add(file);
    input.files = box.files;
  }
  await preview(input, small);
  input.dispatchEvent(new CustomEvent("photo:ready", { bubbles: true, detail: { files: small } }));
});
