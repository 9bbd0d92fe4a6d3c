// What to change at the next run, ranked, as an assay and a run sheet tell it.

import { el, sentence } from "./dom.js";

const SHOWN = 5;

/** The remedies that come first, or null where there is none. */
export function nextRun(remedies, words = "At the next run") {
  if (!remedies.length) return null;
  return el("details", { open: true, class: "remedies" }, el("summary", {}, words),
    el("ul", { class: "notes" }, remedies.slice(0, SHOWN).map(remedy)));
}

function remedy(one) {
  const does = one.computed ? `${one.do}: ${one.change}` : `${one.do} (${one.change})`;
  return el("li", {}, sentence(does), one.caution ? el("strong", {}, ` Caution: ${sentence(one.caution)}`) : null);
}
