// Who takes turns, in the order in which they were ticked.

import { call } from "./api.js";
import { tell } from "./forms.js";

const form = document.getElementById("group-new");
const order = [];

form.addEventListener("change", (event) => {
  if (event.target.name !== "player") return;
  if (event.target.checked) order.push(event.target.value);
  else order.splice(order.indexOf(event.target.value), 1);
});
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  try {
    const sessions = await call("POST", "/api/v1/groups", { player_ids: order, green_id: form.elements.green_id.value || null, kind: form.elements.kind.value });
    location.assign(`/groups/${sessions[0].group_id}`);
  } catch (error) {
    tell(form.querySelector(".status"), error);
  }
});
