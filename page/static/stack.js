// The drawn stack: layers to choose, change, drag and remove.

import { paintTrack } from "./colour.js";
import { el, fill, nanometres, svg } from "./dom.js";

const UNITS = { nm: 1, um: 1e3, "µm": 1e3, "μm": 1e3, "Å": 0.1, A: 0.1, mm: 1e6, cm: 1e7, m: 1e9 };
const ITEM = /^(.*\S)\s+([\d.]+(?:e[+-]?\d+)?)\s*(nm|um|µm|μm|Å|A|mm|cm|m)$/;
const SPECIAL = /\.\.|quarter|[x×]\s*\(|\)\s*\/|\d\s*,\s*\d|\|/;

/** Layers and substrate of a text in our notation, or null where it holds more than can be drawn. */
export function readStack(text) {
  if (SPECIAL.test(text)) return null;
  const items = text.split("/").map((item) => {
    const match = ITEM.exec(item.trim());
    return match
      ? { material: match[1], nm: Number((Number(match[2]) * UNITS[match[3]]).toPrecision(12)) }
      : { material: item.trim(), nm: null };
  });
  const ground = items.pop();
  return items.every((item) => item.nm !== null) && ground.material ? { layers: items, ground } : null;
}

/** The written form; `swept` stands in for the thickness of one layer. */
export function writeStack({ layers, ground }, chosen = -1, swept = "") {
  const written = layers.map((one, i) => `${one.material} ${i === chosen ? swept : `${one.nm}nm`}`);
  const slab = ground.nm === null ? "" : ` ${ground.nm >= 1e6 ? `${ground.nm / 1e6}mm` : `${ground.nm}nm`}`;
  return [...written, ground.material + slab].join(" / ");
}

function grip() {
  const dots = [8, 16].flatMap((x) => [5, 12, 19].map((y) => svg("circle", { cx: x, cy: y, r: 2 })));
  return svg("svg", { viewBox: "0 0 24 24", "aria-hidden": "true" }, ...dots);
}

/** End of the thickness slider: room above the present value. */
export function sliderEnd(nm) {
  return [250, 500, 1000, 2000, 5000, 20000, 100000, 1000000].find((end) => nm <= end);
}

/**
 * Draws a stack into a list. `kindOf(material)` says metal, oxide, glass and so on;
 * `changed(why)` is called after each change a person makes: "thickness" while a slider moves,
 * "chosen" when another layer was chosen, "layers" for all else.
 */
export class DrawnStack {
  constructor(list, kindOf, changed) {
    this.list = list;
    this.kindOf = kindOf;
    this.changed = changed;
    this.chosen = 0;
    this.state = { layers: [], ground: { material: "Ti", nm: null } };
  }

  set(state) {
    this.state = state;
    this.chosen = Math.min(this.chosen, Math.max(0, state.layers.length - 1));
    this.draw();
  }

  draw() {
    const { layers, ground } = this.state;
    fill(this.list, layers.map((layer, i) => this.#layer(layer, i)), this.#ground(ground));
  }

  /** Show what cannot be edited as drawn layers: repeats, sweeps, films on the back. */
  drawFixed(layers) {
    fill(this.list, layers.map((layer) => {
      const kind = ["metal", "alloy"].includes(layer.kind) ? "metal" : "clear";
      const nm = Array.isArray(layer.thickness_nm) ? "swept"
        : layer.thickness_nm === null ? "" : nanometres(layer.thickness_nm);
      return el("li", { class: `layer ${kind} ${layer.face === "substrate" ? "ground" : ""}` },
        el("div", { class: "layer-fixed" }, el("span", {}, layer.label), el("span", { class: "figure" }, nm)));
    }));
  }

  /** Paint the slider of the chosen layer with the colours it runs through. */
  paint(ramp) {
    const slider = this.list.querySelector("input[type=range]");
    if (slider && ramp) paintTrack(slider, ramp.srgb_hex);
  }

  #layer(layer, i) {
    const chosen = i === this.chosen;
    const number = el("input", {
      type: "number", min: 0, max: 1000000, step: "any", value: layer.nm, class: "thickness",
      "aria-label": `Thickness of layer ${i + 1} in nanometres`,
      oninput: () => this.#thickness(i, number, null),
      onfocus: () => this.#choose(i, ".thickness"),
    });
    const material = el("input", {
      type: "text", value: layer.material, list: "materials",
      autocomplete: "off", autocapitalize: "none", "aria-label": `Material of layer ${i + 1}`,
      class: "material", onfocus: () => this.#choose(i, ".material"),
      onchange: () => { layer.material = material.value.trim() || layer.material; this.draw(); this.changed("layers"); },
    });
    const handle = el("button", {
      type: "button", class: "grip", onpointerdown: (event) => this.#drag(event, i),
      "aria-label": `Move layer ${i + 1}, ${layer.material}: arrow keys`,
      onkeydown: (event) => {
        const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
        if (by) { event.preventDefault(); this.move(i, i + by); }
      },
    }, grip());
    const line = el("div", { class: "layer-line" }, handle, material,
      el("span", { class: "unit", "data-unit": "nm" }, number),
      el("button", {
        type: "button", class: "remove", "aria-label": `Remove layer ${i + 1}, ${layer.material}`,
        onclick: () => {
          this.state.layers.splice(i, 1);
          this.chosen = 0;
          this.draw();
          (this.list.querySelectorAll(".remove")[Math.max(0, i - 1)] ?? this.list.querySelector("input")).focus();
          this.changed("layers");
        },
      }, "×"));
    return el("li", { class: `layer ${this.#kind(layer.material)} ${chosen ? "chosen" : ""}` }, line,
      chosen ? this.#ramp(layer, i, number) : null);
  }

  #ramp(layer, i, number) {
    const slider = el("input", {
      type: "range", min: 0, max: sliderEnd(layer.nm), step: layer.nm > 1000 ? 10 : 1, value: layer.nm,
      "aria-label": `Thickness of ${layer.material} in nanometres`,
      oninput: () => this.#thickness(i, slider, number),
    });
    return el("div", { class: "layer-ramp" }, slider);
  }

  #thickness(i, from, other) {
    const nm = Number(from.value);
    if (from.value === "" || !(nm >= 0)) return;
    this.state.layers[i].nm = nm;
    if (other) other.value = nm;
    else {
      const slider = from.closest("li").querySelector("input[type=range]");
      if (slider) { slider.max = sliderEnd(nm) ?? 1e6; slider.value = nm; }
    }
    this.changed("thickness");
  }

  #choose(i, field) {
    if (this.chosen === i) return;
    this.chosen = i;
    this.draw();
    this.list.children[i].querySelector(field).focus();
    this.changed("chosen");
  }

  #kind(material) {
    return ["metal", "alloy"].includes(this.kindOf(material)) ? "metal" : "clear";
  }

  #ground(ground) {
    const material = el("input", {
      type: "text", value: ground.material, list: "substrates", autocomplete: "off",
      autocapitalize: "none", "aria-label": "Substrate: what the layers lie on",
      onchange: () => {
        ground.material = material.value.trim() || ground.material;
        const opaque = ["metal", "alloy", "semiconductor"].includes(this.kindOf(ground.material));
        ground.nm = opaque ? null : ground.nm ?? 1e6;
        this.draw();
        this.changed("layers");
      },
    });
    const thick = ground.nm === null ? el("span", { class: "hint" }, "solid") : el("span", { class: "unit", "data-unit": "mm" },
      el("input", {
        type: "number", min: 0.01, max: 1000, step: "any", value: ground.nm / 1e6,
        "aria-label": "Thickness of the substrate in millimetres",
        oninput: (event) => {
          if (!(Number(event.target.value) > 0)) return;
          ground.nm = Number(event.target.value) * 1e6;
          this.changed("thickness");
        },
      }));
    return el("li", { class: `layer ground ${this.#kind(ground.material)}` },
      el("div", { class: "layer-line" }, material, thick));
  }

  /** Put layer `from` at place `to`. */
  move(from, to) {
    const { layers } = this.state;
    if (to < 0 || to >= layers.length || to === from) return;
    layers.splice(to, 0, ...layers.splice(from, 1));
    this.chosen = to;
    this.draw();
    this.list.children[to].querySelector(".grip").focus();
    this.changed("layers");
  }

  #drag(event, from) {
    event.preventDefault();
    const rows = [...this.list.children].slice(0, this.state.layers.length);
    const middles = rows.map((row) => row.getBoundingClientRect()).map((box) => box.top + box.height / 2);
    const row = rows[from];
    const start = event.clientY;
    row.classList.add("moving");
    const place = (y) => {
      const centre = middles[from] + y - start;
      return middles.filter((middle, i) => i !== from && middle < centre).length;
    };
    const moved = (move) => { row.style.transform = `translateY(${move.clientY - start}px)`; };
    const dropped = (drop) => {
      window.removeEventListener("pointermove", moved);
      window.removeEventListener("pointerup", dropped);
      window.removeEventListener("pointercancel", dropped);
      row.classList.remove("moving");
      row.style.transform = "";
      if (drop.type === "pointerup") this.move(from, place(drop.clientY));
      row.querySelector(".grip")?.focus();
    };
    window.addEventListener("pointermove", moved);
    window.addEventListener("pointerup", dropped);
    window.addEventListener("pointercancel", dropped);
  }
}
