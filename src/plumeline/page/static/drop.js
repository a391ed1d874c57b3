// A drawing or a photo dropped on the page, or chosen as a file, becomes the table that starts a plan.

import { byId } from "./dom.js";

const PHOTO_PX = 3000;

export function takeDrops(begin, wanted) {
  const sheet = byId("drop");
  window.addEventListener("dragover", (event) => {
    if (!wanted()) return;
    event.preventDefault();
    sheet.hidden = false;
  });
  window.addEventListener("dragleave", (event) => { if (!event.relatedTarget) sheet.hidden = true; });
  window.addEventListener("drop", (event) => {
    if (!wanted()) return;
    event.preventDefault();
    sheet.hidden = true;
    const [file] = event.dataTransfer.files;
    if (file) window.dispatchEvent(new CustomEvent("plumeline-file", { detail: file }));
  });
}

export function isPhoto(file) {
  return /^image\/(png|jpeg|webp)$/.test(file.type);
}

export function titleOf(file) {
  return file.name.replace(/\.[^.]+$/, "").replaceAll(/[-_]+/g, " ");
}

export function suffixOf(file) {
  return (/\.[^.]+$/.exec(file.name) || [""])[0].toLowerCase();
}

export async function inBase64(file) {
  const reader = new FileReader();
  reader.readAsDataURL(file);
  await new Promise((done) => { reader.onload = done; });
  return reader.result.split(",")[1] || "";
}

// The photo as it is sent: no larger than needed, in a canvas that she touches the corners on.
export async function shrunk(file) {
  const image = await createImageBitmap(file);
  const share = Math.min(1, PHOTO_PX / Math.max(image.width, image.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(image.width * share);
  canvas.height = Math.round(image.height * share);
  canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
  return canvas;
}
