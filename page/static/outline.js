// A rectangle drawn round the piece on its photo: what a map counts as the piece.

import { el } from "./dom.js";

const SMALLEST = 0.02; // of the photo's sides
const BEGINNING = { x: 0.1, y: 0.1, width: 0.8, height: 0.8 };

/** The rectangle of a photo's frame; `changed()` is called when it was drawn, moved or taken away. */
export class Outline {
  constructor(changed) {
    this.changed = changed;
    this.place = null; // shares of the photo's sides
    this.hint = el("span", { class: "hint", role: "status" });
    this.button = el("button", { type: "button", class: "plain small", onclick: (event) => this.#press(event) });
    this.box = el("button", { type: "button", class: "piece-box", hidden: true, onkeydown: (event) => this.#key(event),
      "aria-label": "The piece: arrow keys move the rectangle, with Shift they change its size" });
  }

  /** Draw it into a frame; what goes below the photo. */
  into(frame) {
    this.frame = frame;
    frame.append(this.box);
    frame.addEventListener("pointerdown", (event) => this.#begin(event));
    this.#draw();
    return el("div", { class: "row" }, this.button, this.hint);
  }

  /** Whether a drag on the photo draws the rectangle now; never where it was not offered. */
  get drawing() {
    return Boolean(this.frame?.classList.contains("drawing"));
  }

  /** The place as a question takes it, in pixels; null where there is none. */
  written({ width, height }) {
    if (!this.place) return null;
    const at = [this.place.x * width, this.place.y * height, this.place.width * width, this.place.height * height];
    return at.map(Math.floor).join(",");
  }

  #press(event) {
    if (this.place) this.#set(null);
    else if (event.detail === 0) this.#set(BEGINNING); // by keys: the arrow keys do the rest
    else {
      this.frame.classList.add("drawing");
      this.hint.textContent = "Drag across the photo, from one corner of the piece to the other.";
    }
    if (this.place) this.box.focus();
  }

  #set(place) {
    this.place = place;
    this.#draw();
    this.changed();
  }

  #draw() {
    this.button.textContent = this.place ? "Map all of the photo" : "Draw round the piece";
    this.box.hidden = !this.place;
    if (!this.place) return;
    for (const [edge, share] of Object.entries({ left: this.place.x, top: this.place.y, width: this.place.width, height: this.place.height })) {
      this.box.style[edge] = `${100 * share}%`;
    }
  }

  #begin(event) {
    if (!this.drawing) return;
    event.preventDefault();
    const share = (move) => {
      const box = this.frame.getBoundingClientRect();
      return [(move.clientX - box.left) / box.width, (move.clientY - box.top) / box.height].map((one) => Math.min(1, Math.max(0, one)));
    };
    const start = share(event);
    const follow = (move) => {
      const end = share(move);
      const [x, y] = [0, 1].map((k) => Math.min(start[k], end[k]));
      const [width, height] = [0, 1].map((k) => Math.max(SMALLEST, Math.abs(start[k] - end[k])));
      this.place = { x: Math.min(x, 1 - width), y: Math.min(y, 1 - height), width, height };
      this.#draw();
    };
    const drop = () => {
      window.removeEventListener("pointermove", follow);
      this.hint.textContent = "";
      // The click that follows must not set a mark.
      setTimeout(() => this.frame.classList.remove("drawing"));
      this.changed();
    };
    window.addEventListener("pointermove", follow);
    window.addEventListener("pointerup", drop, { once: true });
    window.addEventListener("pointercancel", drop, { once: true });
  }

  #key(event) {
    const by = { ArrowLeft: [-0.02, 0], ArrowRight: [0.02, 0], ArrowUp: [0, -0.02], ArrowDown: [0, 0.02] }[event.key];
    if (!by) return;
    event.preventDefault();
    const { x, y, width, height } = this.place;
    if (event.shiftKey) {
      this.#set({ x, y, width: Math.min(1 - x, Math.max(SMALLEST, width + by[0])), height: Math.min(1 - y, Math.max(SMALLEST, height + by[1])) });
    } else {
      this.#set({ x: Math.min(1 - width, Math.max(0, x + by[0])), y: Math.min(1 - height, Math.max(0, y + by[1])), width, height });
    }
  }
}
