// Several players who take turns: the outcome goes to whoever is up; then the next.

import { announce, say } from "./api.js";
import { onPutt, useSession } from "./tally.js";

const byId = (id) => document.getElementById(id);
const turns = [...document.querySelectorAll("[data-turn]")];
let now = 0;
let hit = 0;

function turnTo(k) {
  now = (k + turns.length) % turns.length;
  hit = 0;
  turns.forEach((turn, number) => turn.setAttribute("aria-pressed", String(number === now)));
  useSession(turns[now].dataset.turn);
  byId("turn-now").textContent = turns[now].dataset.name;
  byId("next-player").textContent = say("group.next", { name: turns[(now + 1) % turns.length].dataset.name });
}

onPutt((session, change) => {
  const turn = turns.find((one) => one.dataset.turn === session);
  turn.dataset.putts = Number(turn.dataset.putts) + change;
  turn.querySelector("small").textContent = say(turn.dataset.putts === "1" ? "count.putts.one" : "count.putts.many", { n: turn.dataset.putts });
  if (turn !== turns[now]) return;
  hit += change;
  if (hit >= Number(byId("each").value)) {
    turnTo(now + 1);
    announce(turns[now].dataset.name);
  }
});
byId("next-player").addEventListener("click", () => turnTo(now + 1));
turns.forEach((turn, number) => turn.addEventListener("click", () => turnTo(number)));
turnTo(0);
