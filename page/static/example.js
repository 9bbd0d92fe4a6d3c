// A worked example where a room has no answer yet: what an answer will look like.

import { Refused } from "./ask.js";
import { byId, el, fill } from "./dom.js";

/**
 * Put an example under a panel of answers; the style sheet shows it only while that panel is empty.
 * `draw()` gives the parts of it, `words` what it is an example of; a promise for when it is there.
 */
export async function showExample(panel, words, draw) {
  const answer = byId(panel);
  const box = el("div", { class: "panel example", id: `${panel.replace(/-answer$/, "")}-example` });
  answer.after(box);
  if (!answer.querySelector(":scope > .empty")) return;
  try {
    fill(box, el("p", { class: "example-words" }, el("strong", {}, "For example: "), words), await draw());
  } catch (error) {
    box.remove(); // an example that cannot be had now is no fault to report
    if (!(error instanceof Refused)) throw error;
  }
}
