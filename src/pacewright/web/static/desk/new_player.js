// A player in two steps, kept in one go: who, and who agreed to what.

import { call } from "./api.js";
import { tell } from "./forms.js";

const form = document.getElementById("new-player");
const field = (name) => form.elements[name];
const guardian = document.getElementById("guardian");
let player = null; // kept already, when a later step was refused

const isMinor = () => {
  const year = Number(field("birth_year").value);
  return year > 1900 && new Date().getFullYear() - year <= 18;
};
field("birth_year").addEventListener("input", () => { guardian.hidden = !isMinor(); });

async function agree(given_by, guardian_id) {
  const how = field("how").value.trim();
  await call("POST", `/api/v1/players/${player.id}/consents`, { kind: "recording", given_by, guardian_id, how });
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const status = form.querySelector(".status");
  status.textContent = "";
  try {
    const year = field("birth_year").value.trim();
    player ??= await call("POST", "/api/v1/players", {
      name: field("name").value, birth_year: year ? Number(year) : null,
      left_handed: field("left_handed").value === "yes", units: document.documentElement.dataset.units,
    });
    if (field("agrees").checked) await agree("player", null);
    if (isMinor() && field("guardian_name").value.trim()) {
      const kept = await call("POST", `/api/v1/players/${player.id}/guardians`, { name: field("guardian_name").value });
      if (field("guardian_agrees").checked) await agree("guardian", kept.id);
    }
    location.assign(`/players/${player.id}`);
  } catch (error) {
    tell(status, error);
  }
});
