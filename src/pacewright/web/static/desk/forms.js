// Forms and buttons that speak to the API: `data-api` says what to ask, `data-then` what follows.

import { announce, call, Problem, say } from "./api.js";
import { changed, refresh } from "./parts.js";
import { offerUndo } from "./undo.js";
import { parseLength } from "./units.js";

const KINDS = {
  whole: (text) => (text === "" ? null : wanted(/^\d+$/.test(text), say("wrong.number")) && Number(text)),
  length: (text) => (text === "" ? undefined : known(parseLength(text))),
  lengths: (text) => text.split(/[;,](?!\d)|;/).filter((part) => part.trim()).map((part) => known(parseLength(part))),
  grams: (text) => (text === "" ? undefined : Number(text.replace(",", ".")) / 1000),
  id: (text) => text || null,
};

function wanted(holds, text) {
  if (!holds) throw new Error(text);
  return true;
}

function known(length_m) {
  wanted(length_m !== null, say("wrong.length"));
  return length_m;
}

/** What a form holds, by the kinds of its fields. Throws Error with the field that is wrong. */
export function collect(form) {
  const body = {};
  for (const field of form.elements) {
    const { kind, splits } = field.dataset;
    if (!field.name || kind === "none" || (field.type === "radio" && !field.checked)) continue;
    field.removeAttribute("aria-invalid");
    try {
      if (kind === "yes") body[field.name] = field.checked;
      else if (kind === "list") { body[field.name] ??= []; if (field.checked) body[field.name].push(field.value); }
      else if (field.type === "checkbox") body[field.name] = field.checked;
      else if (kind === "length-list") {
        body[field.name] ??= [];
        if (field.value.trim()) body[field.name].push(known(parseLength(field.value)));
      } else if (splits) {
        const [first, second] = field.value.split(":");
        body[field.name] = first;
        body[splits] = second ?? null;
      } else {
        const value = KINDS[kind] ? KINDS[kind](field.value.trim()) : field.value.trim();
        if (value !== undefined) body[field.name] = value;
      }
      wanted(!field.required || field.value.trim(), say("wrong.empty"));
    } catch (error) {
      field.setAttribute("aria-invalid", "true");
      field.focus();
      throw error;
    }
  }
  return body;
}

/** The file of a form that sends one as it is. Throws Error while none is chosen. */
function chosen(field) {
  wanted(field.files.length === 1, say("wrong.file"));
  return field.files[0];
}

/** Tell what went wrong, in words, beside the form. */
export function tell(place, error) {
  const text = error instanceof Problem ? (error.status === 412 ? say("wrong.changed") : error.message)
    : error instanceof TypeError ? say("wrong.away") : error.message;
  if (place) place.textContent = text;
  else announce(text);
  if (place && error instanceof Problem && error.status === 412) place.append(" ", reloadButton());
}

function reloadButton() {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = say("reload");
  button.addEventListener("click", () => location.reload());
  return button;
}

async function go(source, form) {
  const [method, path] = source.dataset.api.split(" ");
  const status = (form ?? source.closest("form") ?? source.closest(".work, li") ?? document).querySelector(".status");
  if (status) status.textContent = source.dataset.busy ?? "";
  try {
    const sure = form?.dataset.sure;
    if (sure && form.elements.name.value.trim() !== sure) throw new Error(say("wrong.sure"));
    const file = form?.querySelector("input[type=file]");
    const body = file ? chosen(file) : form ? collect(form) : undefined;
    const version = form?.dataset.version ?? (method === "PATCH" ? "*" : undefined);
    const buttons = form ? [...form.querySelectorAll("button")] : [source];
    buttons.forEach((button) => { button.disabled = true; });
    try {
      const isEmpty = form && !file && Object.keys(body).length === 0;
      const found = await call(method, path, method === "DELETE" || isEmpty ? undefined : body, { version });
      after(source, found);
    } finally {
      buttons.forEach((button) => { button.disabled = false; });
    }
  } catch (error) {
    tell(status, error);
  }
}

function after(source, found) {
  const then = source.dataset.then ?? "reload";
  if (then.startsWith("undo")) {
    const path = then.split(":")[1];
    offerUndo(found, path);
    if (path) return;
    const part = source.closest("[data-part]");
    if (part) refresh(part);
    else source.closest("li")?.remove();
    changed();
  } else if (then === "part") {
    changed();
  } else if (then === "reload") {
    location.reload();
  } else {
    location.assign(then.replace(/\{(\w+)\}/g, (_, name) => found[name]));
  }
}

export function watchForms() {
  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-api]");
    if (!form) return;
    event.preventDefault();
    go(form, form);
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-api]");
    if (button) go(button, null);
  });
}
