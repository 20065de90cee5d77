// What every page does.

import { call } from "./api.js";
import { tell, watchForms } from "./forms.js";
import { follow, loadWithin } from "./parts.js";
import { watchUndo } from "./undo.js";

watchForms();
watchUndo();
follow();
// Charts come after the first paint.
requestAnimationFrame(() => setTimeout(() => loadWithin(document), 0));

for (const choice of document.querySelectorAll("[data-look-choice]")) {
  choice.addEventListener("change", () => {
    document.documentElement.dataset.look = choice.value;
    document.cookie = `look=${choice.value}; path=/; max-age=31536000; samesite=strict`;
  });
}

for (const form of document.querySelectorAll("form[data-share]")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      const made = await call("POST", `/api/v1/players/${form.dataset.share}/shares`, { label: form.elements.label.value.trim() });
      const shown = form.parentElement.querySelector(".share-shown");
      const link = shown.querySelector(".share-link");
      link.href = made.url;
      link.textContent = made.url;
      shown.querySelector(".qr").innerHTML = made.qr_svg;
      shown.hidden = false;
    } catch (error) {
      tell(form.querySelector(".status"), error);
    }
  });
}
