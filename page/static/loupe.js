// What lies under a mark on a photo: magnified next to the finger, and averaged as a colour.

import { el } from "./dom.js";

const ACROSS = 132; // CSS pixels of the loupe
const ZOOM = 3;
const AWAY = 96; // from the finger to the middle of the loupe

/** The pixels of a photo's preview, to look at more closely. */
export class Loupe {
  constructor(image) {
    this.image = image;
    this.canvas = el("canvas", { class: "loupe", width: 2 * ACROSS, height: 2 * ACROSS, "aria-hidden": "true", hidden: true });
    document.body.append(this.canvas);
  }

  /** Show the photo around a place (shares of its sides) away from a finger at x, y. */
  show(place, side, x, y) {
    const { image, canvas } = this;
    const across = image.clientWidth / image.naturalWidth; // screen per photo pixel
    const cut = ACROSS / (across * ZOOM);
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#808080";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(image, place.x * image.naturalWidth - cut / 2, place.y * image.naturalHeight - cut / 2, cut, cut,
      0, 0, canvas.width, canvas.height);
    const marked = (2 * ACROSS * side * Math.min(image.naturalWidth, image.naturalHeight)) / cut;
    for (const [colour, width] of [["#000", 5], ["#fff", 2]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.strokeRect(ACROSS - marked / 2, ACROSS - marked / 2, marked, marked);
    }
    const above = y - AWAY - ACROSS / 2 > 0;
    const left = above ? x : x < window.innerWidth / 2 ? x + AWAY : x - AWAY;
    const room = window.innerWidth - ACROSS;
    canvas.style.left = `${Math.min(room, Math.max(0, left - ACROSS / 2))}px`;
    canvas.style.top = `${Math.max(0, (above ? y - AWAY : y) - ACROSS / 2)}px`;
    canvas.hidden = false;
  }

  hide() {
    this.canvas.hidden = true;
  }

  remove() {
    this.canvas.remove();
  }

  /** The mean colour within a mark, as the screen shows it; null while the photo still loads. */
  colour({ x, y, side }) {
    const { naturalWidth: width, naturalHeight: height } = this.image;
    if (!width) return null;
    const across = Math.max(1, Math.round(side * Math.min(width, height)));
    const at = (share, size) => Math.max(0, Math.min(size - across, Math.round(share * size - across / 2)));
    const small = new OffscreenCanvas(across, across);
    const pen = small.getContext("2d", { willReadFrequently: true });
    pen.drawImage(this.image, at(x, width), at(y, height), across, across, 0, 0, across, across);
    const { data } = pen.getImageData(0, 0, across, across);
    const sums = [0, 0, 0];
    for (let i = 0; i < data.length; i += 4) for (let k = 0; k < 3; k += 1) sums[k] += data[i + k];
    return `#${sums.map((sum) => Math.round((4 * sum) / data.length).toString(16).padStart(2, "0")).join("")}`;
  }
}
