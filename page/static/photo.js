// A photo to mark: where the white card lies, where the film is, where the metal is bare.

import { Refused, ask, sendPhoto } from "./ask.js";
import { patch } from "./colour.js";
import { zoomable } from "./zoom.js";
import { GUEST, TOUCH, el, fill, sentence, whereItGoes } from "./dom.js";
import { Loupe } from "./loupe.js";
import { Outline } from "./outline.js";

const LARGEST_BYTES = 40_000_000; // what the server takes
const KINDS = [
  ["white", "White card"],
  ["patch", "Spot"],
  ["bare", "Bare metal"],
  ["from", "Row starts"],
  ["to", "Row ends"],
];
const OF_THE_LOG = /^[0-9a-f]{64}\./; // a photo that the run log holds
const OF_ROW = ["from", "to"]; // they bound a line, and are no fields of a question

let held = null; // the photo that was sent last, by its name on the server

/** The name of the photo that was sent last; null where there is none. */
export function photoHeld() {
  return held;
}

/**
 * A photo with places marked on it, drawn into `box`. `changed()` is called when a place was set,
 * `moved()` all the while one is dragged; `told` shows what is refused.
 */
export class MarkedPhoto {
  constructor(box, told, { changed, moved }) {
    Object.assign(this, { box, told, changed, moved });
    this.dragged = false;
    this.taken = 0; // files, so that one that comes late is told from the newest
    this.outline = new Outline(() => this.changed());
    this.photo = null;
    this.places = {};
    this.kind = "white";
    this.side = 0.06;
    this.#ask();
  }

  /** The fields of a question about it: the photo and its places in pixels. */
  fields() {
    const { name, width, height } = this.photo;
    const fields = { photo: name };
    for (const [kind, place] of Object.entries(this.places)) {
      if (OF_ROW.includes(kind)) continue;
      const side = Math.max(3, Math.round(place.side * Math.min(width, height)));
      const at = (share, size) => Math.max(0, Math.min(size - side, Math.round(share * size - side / 2)));
      fields[kind] = [at(place.x, width), at(place.y, height), side, side].join(",");
    }
    return fields;
  }

  /** Where the piece is, for a map; nothing where its outline is not drawn. */
  piece() {
    const piece = this.outline.written(this.photo);
    return piece ? { piece } : {};
  }

  /** The line of a row and the size of its marks in pixels; null where an end is not set. */
  row() {
    const { from, to } = this.places;
    if (!from || !to) return null;
    const { width, height } = this.photo;
    const at = (place) => [Math.round(place.x * (width - 1)), Math.round(place.y * (height - 1))];
    return { line: [...at(from), ...at(to)].join(","), side: Math.max(3, Math.round(this.side * Math.min(width, height))) };
  }

  /** The photo and its marks as a text, for an address. */
  written() {
    return this.photo ? JSON.stringify({ photo: this.photo, places: this.places, piece: this.outline.place ?? undefined }) : "";
  }

  /** Take up a photo the server still has, with its marks. */
  async resume(text) {
    let { photo, places, piece } = JSON.parse(text);
    this.taken += 1;
    const mine = this.taken;
    if (OF_THE_LOG.test(photo.name)) {
      const taken = await ask("take", { photo: photo.name });
      photo = { name: taken.photo, ...taken.answer };
    } else if (!(await ask("kept", { photo: photo.name })).answer.kept) return;
    if (mine !== this.taken) return; // another was chosen meanwhile
    Object.assign(this, { photo, places, kind: places.white ? "patch" : "white" });
    this.outline.place = piece ?? null;
    held = photo.name;
    if (!Object.keys(places).length) this.#proposeCard(photo);
    this.#show();
    this.changed();
  }

  #ask() {
    const input = el("input", {
      type: "file", accept: "image/*,.heic,.tif,.tiff", id: "photo-file",
      onchange: () => input.files[0] && this.take(input.files[0]),
    });
    const drop = el("label", {
      class: "drop",
      ondragover: (event) => { event.preventDefault(); drop.classList.add("over"); },
      ondragleave: () => drop.classList.remove("over"),
      ondrop: (event) => {
        event.preventDefault();
        drop.classList.remove("over");
        if (event.dataTransfer.files[0]) this.take(event.dataTransfer.files[0]);
      },
    }, el("strong", {}, TOUCH ? "Take or choose a photo" : "Drop a photo here, or choose one"),
    `Lay a white card next to the piece, photograph it straight on, in daylight without direct sun. The photo ${whereItGoes()}.`, input);
    fill(this.box, drop);
  }

  /** Send a file to the server and show it. */
  async take(file) {
    this.taken += 1;
    const mine = this.taken;
    try {
      if (file.size > LARGEST_BYTES) {
        throw new Refused(`This file has ${Math.round(file.size / 1e6)} MB; at most 40 MB are taken. Save it smaller.`);
      }
      this.told.busy("Reading the photo …");
      const { answer, photo } = await sendPhoto(file);
      if (mine !== this.taken) return; // another was chosen meanwhile
      this.told.clear();
      this.photo = { name: photo, ...answer };
      held = photo;
      this.places = {};
      this.outline.place = null;
      this.kind = "white";
      this.#proposeCard(answer);
      this.#show();
      this.changed();
      if (TOUCH) this.kinds.scrollIntoView({ block: "start" });
    } catch (error) {
      if (mine === this.taken) this.told.refused(error);
    }
  }

  /** Mark the white card where one seems to lie; the person moves it if it does not. */
  #proposeCard({ card, width, height }) {
    this.proposed = Boolean(card);
    if (!card) return;
    const [x, y, across] = card;
    this.places.white = { x: (x + across / 2) / width, y: (y + across / 2) / height, side: Math.min(this.side, across / Math.min(width, height)) };
    this.kind = "patch";
  }

  /** Say at once what speaks against the card as it is marked. */
  async #judgeCard() {
    const at = this.fields().white;
    if (!at) return;
    const { answer } = await ask("card", { photo: this.photo.name, white: at }).catch(() => ({ answer: { doubt: "" } }));
    if (this.photo && this.fields().white === at) this.doubt.textContent = sentence(answer.doubt || " ").replace(/^\.$/, "");
  }

  #show() {
    const image = el("img", { // its size is known: what lies below must not move when it is there
      width: this.photo.width, height: this.photo.height, src: `/api/photo/${this.photo.name}/preview`, draggable: "false",
      alt: "Your photo, with the places marked on it",
    });
    this.loupe?.remove();
    this.loupe = new Loupe(image);
    image.addEventListener("load", () => { if (this.photo) this.#draw(); }); // or it was put away meanwhile
    this.line = el("span", { class: "row-line", hidden: true, "aria-hidden": "true" });
    this.frame = el("div", { class: "photo", onclick: (event) => this.#click(event) }, image, this.line);
    this.doubt = el("p", { class: "status refused", role: "status" });
    this.chips = el("p", { class: "mark-chips" });
    this.kinds = el("div", { class: "choice" }, KINDS.filter(([kind]) => !(GUEST && OF_ROW.includes(kind))).map(([kind, words]) => el("label", {},
      el("input", {
        type: "radio", name: "mark", value: kind, checked: kind === this.kind,
        onchange: () => this.#choose(kind),
      }), words)));
    const size = el("input", {
      type: "range", min: 2, max: 30, step: 1, value: 100 * this.side,
      oninput: () => {
        this.side = Number(size.value) / 100;
        if (this.places[this.kind]) {
          this.places[this.kind].side = this.side;
          this.#draw();
          this.changed();
        }
      },
    });
    this.hint = el("p", { class: "hint mark-hint", role: "status" });
    fill(this.box, el("fieldset", {}, el("legend", {}, `${TOUCH ? "Tap" : "Click"} on the photo to mark`), this.kinds, this.hint, ...zoomable(this.frame), this.doubt, this.chips,
      el("label", { class: "slider" }, "Size of the mark", size),
      el("div", { class: "row" },
        el("button", { type: "button", class: "plain", onclick: () => this.#middle() }, "Put the mark in the middle"),
        el("button", { type: "button", class: "plain", onclick: () => { this.photo = null; this.#ask(); this.box.querySelector("input").focus(); this.changed(); } }, "Another photo")),
      GUEST ? null : this.outline.into(this.frame)),
    this.photo.notes.length ? el("ul", { class: "notes" }, this.photo.notes.map((one) => el("li", {}, sentence(one)))) : null);
    this.#say();
    if (this.places.white) this.#judgeCard();
  }

  #say() {
    if (this.kind === "patch" && this.proposed && !this.places.patch) {
      this.hint.textContent = `The white card seems to lie at its mark; move it if it does not. Now ${TOUCH ? "tap" : "click"} the spot whose thickness you want.`;
      return;
    }
    const set = this.places[this.kind] ? (TOUCH ? "It is set; drag it, or tap elsewhere to move it."
      : "It is set; click elsewhere to move it, or use the arrow keys on it.") : null;
    const press = TOUCH ? "Tap" : "Click";
    this.hint.textContent = set ?? {
      white: `${press} the white card or sheet of paper. Without one, mark the spot at once.`,
      patch: `${press} the spot whose thickness you want.`,
      bare: `${press} where the metal has no film, if there is such a place.`,
      from: `${press} where a row of spots starts, at the thin end if there is one.`,
      to: `${press} where the row ends.`,
    }[this.kind];
  }

  #middle() {
    this.#set(this.kind, 0.5, 0.5);
    this.#settled();
  }

  /** Put the present mark where the photo was clicked; marks themselves are dragged. */
  #click(event) {
    if (event.target.closest(".place") || this.outline.drawing) return;
    this.#setAt(this.kind, event);
    this.#settled();
  }

  #setAt(kind, event) {
    const box = this.frame.getBoundingClientRect();
    this.#set(kind, (event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height);
  }

  #drag(event, kind) {
    if (event.button) return;
    event.preventDefault();
    event.currentTarget.focus();
    const follow = (move) => {
      this.dragged = true;
      this.#setAt(kind, move);
      const place = this.places[kind];
      this.loupe.show(place, place.side, move.clientX, move.clientY);
      this.moved();
    };
    const drop = () => {
      this.dragged = false;
      this.loupe.hide();
      window.removeEventListener("pointermove", follow);
      window.removeEventListener("pointerup", drop);
      window.removeEventListener("pointercancel", drop);
      this.#settled();
    };
    window.addEventListener("pointermove", follow);
    window.addEventListener("pointerup", drop);
    window.addEventListener("pointercancel", drop);
  }

  #set(kind, x, y) {
    const clamp = (share) => Math.min(1, Math.max(0, share));
    const side = this.places[kind]?.side ?? this.side;
    this.places[kind] = { x: clamp(x), y: clamp(y), side };
    this.#draw();
  }

  #settled() {
    if (this.kind === "white") this.#judgeCard();
    if (this.kind === "white" && this.places.white && !this.places.patch) this.kind = "patch";
    else if (this.kind === "from" && !this.places.to) this.kind = "to";
    this.#choose(this.kind);
    this.changed();
  }

  #choose(kind) {
    this.kind = kind;
    for (const radio of this.kinds.querySelectorAll("input")) radio.checked = radio.value === kind;
    this.#say();
  }

  #draw() {
    const { width, height } = this.photo;
    const marks = KINDS.filter(([kind]) => this.places[kind]).map(([kind, words]) => {
      const { x, y, side } = this.places[kind];
      const [w, h] = [side * Math.min(1, height / width), side * Math.min(1, width / height)];
      const [left, top] = [Math.min(1 - w, Math.max(0, x - w / 2)), Math.min(1 - h, Math.max(0, y - h / 2))];
      const area = this.frame.querySelector(`[data-area=${kind}]`) ?? el("span", { class: "area", "data-area": kind, "aria-hidden": "true" });
      Object.assign(area.style, { left: `${100 * left}%`, top: `${100 * top}%`, width: `${100 * w}%`, height: `${100 * h}%` });
      if (!area.isConnected) this.frame.append(area);
      const mark = this.frame.querySelector(`[data-kind=${kind}]`) ?? el("button", {
        type: "button", class: "place", "data-kind": kind,
        onpointerdown: (event) => this.#drag(event, kind),
        onkeydown: (event) => this.#key(event, kind),
        onfocus: () => this.#choose(kind),
        "aria-label": `${words}: arrow keys move it`,
      }, el("span", {}, words));
      mark.classList.toggle("low", y < 0.25);
      mark.classList.toggle("right", x > 0.7);
      Object.assign(mark.style, { left: `${100 * (left + w / 2)}%`, top: `${100 * (top + h / 2)}%` });
      mark.style.width = `max(${100 * w}%, 44px)`;
      mark.style.height = `max(${100 * h}%, 44px)`;
      return mark;
    });
    for (const mark of marks) if (!mark.isConnected) this.frame.append(mark);
    this.#drawRow();
    fill(this.chips, KINDS.filter(([kind]) => this.places[kind]).map(([kind, words]) => {
      const hex = this.loupe.colour(this.places[kind]);
      return hex && el("span", { class: "named" }, patch(hex, "small"), el("span", {}, `${words} `, el("span", { class: "hex" }, hex)));
    }));
  }

  #drawRow() {
    const { from, to } = this.places;
    this.line.hidden = !(from && to);
    if (this.line.hidden) return;
    const { clientWidth: w, clientHeight: h } = this.frame;
    const [dx, dy] = [(to.x - from.x) * w, (to.y - from.y) * h];
    Object.assign(this.line.style, { left: `${100 * from.x}%`, top: `${100 * from.y}%`,
      width: `${(100 * Math.hypot(dx, dy)) / w}%`, transform: `rotate(${Math.atan2(dy, dx)}rad)` });
  }

  #key(event, kind) {
    const step = event.shiftKey ? 0.05 : 0.01;
    const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
    if (!by) return;
    event.preventDefault();
    const { x, y } = this.places[kind];
    this.#set(kind, x + by[0], y + by[1]);
    this.#settled();
  }
}
