// Which further look would tell more, what it would gain, and a way to where it is entered.

import { GUEST, el, sentence } from "./dom.js";

const SHOWN = 4;
const INSTRUMENTS = ["measure its reflectance spectrum", "read the spot with a colour meter"];

/** The looks worth taking, those that need no instrument first; `opens` has a way for each. */
export function nextLooks(answer, opens) {
  const [low, high] = answer.interval90_nm;
  const worth = high === null || !answer.fits ? []
    : answer.next_checks.filter((one) => one.expected_width_nm <= 0.9 * (high - low));
  if (!worth.length) return el("p", { class: "next" }, el("strong", {}, "Look next"), sentence(answer.next_check));
  const dear = (one) => INSTRUMENTS.includes(one.look);
  const ranked = [...worth.filter((one) => !dear(one)), ...worth.filter(dear)].slice(0, SHOWN);
  return el("div", { class: "next" }, el("strong", {}, "Look next"),
    el("p", { class: "hint" }, `The 90 % interval is ${Math.round(high - low)} nm wide. On average it would shrink`),
    el("ul", { class: "next-looks" }, ranked.map((one) => el("li", {},
      el("span", { class: "next-gain" }, `to ${Math.round(one.expected_width_nm)} nm`), el("span", {}, `if you ${one.look}`),
      opens[one.look] && !(GUEST && dear(one)) ? el("button", { type: "button", class: "plain small", "aria-label": `Enter it: ${one.look}`, onclick: opens[one.look] }, "Enter it") : null))));
}
