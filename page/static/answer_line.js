// The answer in one line above a phone's tab bar: read without scrolling, tapped to see the whole.

import { byId, el, fill } from "./dom.js";
import { leadWith } from "./order.js";

const said = {}; // by room: { words, hex, panel }

/** Set the line up; it shows the answer of the room that is open. */
export function openAnswerLine() {
  byId("answer-line").addEventListener("click", jump);
}

/** What a room has found, in a few words; null where it has no answer (yet). */
export function sayAnswer(room, panel, words, hexes = []) {
  said[room] = words === null ? null : { words, hexes, panel };
  showLine();
  if (byId(panel).classList.contains("panel")) leadWith(panel, words !== null);
}

/** That a room is at work; an answer to an earlier question stays where it is. */
export function sayBusy(room, panel, words) {
  said[room] = { words, hexes: [], panel };
  showLine();
}

/** Show the line of the room that is open. */
export function showLine() {
  const room = document.querySelector(".room:not([hidden])")?.id;
  const line = byId("answer-line");
  const answer = said[room];
  line.hidden = !answer;
  document.body.classList.toggle("with-line", Boolean(answer));
  if (!answer) return;
  fill(line, answer.hexes.map((hex) => el("span", { class: "line-patch", colour: hex, "aria-hidden": "true" })),
    el("span", { class: "line-words" }, answer.words),
    el("span", { class: "visually-hidden" }, "Go to the whole answer, or back"), el("span", { class: "line-more", "aria-hidden": "true" }, "↕"));
}

/** To the whole answer; from there back to where one was. */
function jump() {
  const room = document.querySelector(".room:not([hidden])").id;
  const answer = byId(said[room].panel);
  const top = answer.getBoundingClientRect().top;
  const away = top > window.innerHeight / 2 || top < -answer.offsetHeight / 2;
  if (away) {
    said[room].from = window.scrollY;
    answer.scrollIntoView({ block: "start" });
  } else {
    window.scrollTo({ top: said[room].from ?? 0 });
  }
}
