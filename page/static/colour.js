// Colours on the page: large true swatches, always with name and hex beside them.

import { el } from "./dom.js";

/** Red, green and blue of #rrggbb, 0 to 255. */
export function channels(hex) {
  const whole = Number.parseInt(hex.slice(1), 16);
  return [whole >> 16, (whole >> 8) & 255, whole & 255];
}

/** Whether black or white reads better on a colour: WCAG 2.2 relative luminance. */
export function inkOn(hex) {
  const [r, g, b] = channels(hex).map((code) => {
    const share = code / 255;
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
  });
  const luminance = 0.2126 * r + 0.7152 * g + 0.0722 * b;
  return luminance > 0.179 ? "#000000" : "#ffffff";
}

/** A patch of a colour; what it is must stand beside it. */
export function patch(hex, size = "") {
  return el("span", { class: `patch ${size}`, colour: hex, "aria-hidden": "true" });
}

/** A patch with the colour's name and hex. */
export function named(hex, name, size = "") {
  return el("span", { class: "named" }, patch(hex, size),
    el("span", { class: "named-words" }, el("span", { class: "name" }, name),
      el("span", { class: "hex" }, hex)));
}

/** A large swatch with a heading, the colour's name, its hex and a remark. */
export function swatch(heading, hex, name, remark = null) {
  return el("figure", { class: "swatch" },
    el("div", { class: "field", colour: hex, role: "img", "aria-label": `${name}, ${hex}` }),
    el("figcaption", {}, el("span", { class: "heading" }, heading),
      el("span", { class: "name" }, name), el("span", { class: "hex" }, hex),
      remark && el("span", { class: "remark" }, remark)));
}

/** The place of a swatch where there is nothing to see, and why. */
export function noSwatch(heading, why) {
  return el("figure", { class: "swatch none" }, el("div", { class: "field" }),
    el("figcaption", {}, el("span", { class: "heading" }, heading),
      el("span", { class: "remark" }, why)));
}

/** Paint the track of a slider with colours at places 0 to 1. */
export function paintTrack(slider, hexes, places = null) {
  const stops = hexes.map((hex, i) => {
    const at = places ? places[i] : i / Math.max(1, hexes.length - 1);
    return `${hex} ${(100 * at).toFixed(2)}%`;
  });
  slider.style.setProperty("--track", `linear-gradient(to right, ${stops.join(", ")})`);
  slider.classList.add("painted");
}

/** Runs of one name in a list: [first, last, name]. */
export function runs(names) {
  const found = [];
  names.forEach((name, i) => {
    const last = found.at(-1);
    if (last && last[2] === name) last[1] = i;
    else found.push([i, i, name]);
  });
  return found;
}

/** Show in the well of a colour field what its text was taken for. */
export function showInWell(input, hex) {
  const well = input.parentElement.querySelector(".well");
  well.value = hex;
  well.classList.remove("unset");
}

/**
 * A field for a colour: a word, a hex value or L, a, b, with a well to pick from beside it.
 * `changed` is called with the text.
 */
export function colourField(input, changed) {
  const well = el("input", {
    type: "color", class: "well unset", value: "#808080",
    "aria-label": `Pick a colour for: ${input.labels?.[0]?.textContent ?? "colour"}`,
  });
  input.setAttribute("list", "words");
  const pair = el("span", { class: "colour-pair" });
  input.before(pair);
  pair.append(input, well);
  well.addEventListener("input", () => {
    input.value = well.value;
    well.classList.remove("unset");
    changed(input.value);
  });
  input.addEventListener("change", () => {
    const hex = /^#[0-9a-f]{6}$/i.test(input.value.trim());
    if (hex) well.value = input.value.trim();
    well.classList.toggle("unset", !hex);
    changed(input.value.trim());
  });
  return well;
}
