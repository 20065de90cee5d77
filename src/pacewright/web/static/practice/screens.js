// What was done, and how the page is to be: results and settings.
import { button, el } from "./elements.js";
import { resultsBody, resultsCode } from "./outbox.js";

export async function resultsScreen(practice) {
  const items = await practice.journal.items();
  const putts = await practice.journal.putts();
  const file = () => new File([JSON.stringify(resultsBody(practice.payload.plan_id, items), null, 1)], "pacewright-results.json", { type: "application/json" });
  const save = () => { const link = el("a", { href: URL.createObjectURL(file()), download: "pacewright-results.json" }); link.click(); };
  const copy = async () => { await navigator.clipboard.writeText(await resultsCode(practice.payload.plan_id, items)); practice.tell(practice.say("copied")); };
  practice.show("results", practice.head(practice.say("results")), el("p", {}, putts.length ? practice.figuresWords(putts.filter((putt) => putt.is_recorded)) : practice.say("no_results")), el("div", { id: "timing" }),
    el("div", { class: "list" }, button(practice.say("save_file"), save), button(practice.say("copy_code"), copy),
      navigator.canShare?.({ files: [file()] }) ? button(practice.say("share_file"), () => navigator.share({ files: [file()] })) : null), practice.syncLine(),
    el("ol", { class: "putts", reversed: true, start: putts.length }, ...putts.slice(-30).reverse().map((putt) => el("li", {}, `${practice.words.walked(putt.asked_m)}: ${practice.describe(putt)}`))));
  practice.showTiming("each");
  practice.showSync();
}

export function settingsScreen(practice, config) {
  const chosen = { look: practice.settings.look, language: practice.words.language, units: practice.words.units };
  const choice = (name, legend, options) => el("fieldset", {}, el("legend", {}, legend), ...options.map(([value, label]) => el("label", {}, el("input", { type: "radio", name, value, checked: chosen[name] === value, onchange: () => { practice.set(name, value); if (name !== "look") settingsScreen(practice, config); } }), el("span", {}, label))));
  const number = (name, label, low, high) => el("label", { class: "field-row" }, el("span", {}, label), el("input", { type: "number", min: low, max: high, value: practice.settings[name], onchange: (event) => { const value = Number(event.target.value); if (value >= low && value <= high) practice.set(name, value); } }));
  practice.show("settings", practice.head(practice.say("settings")), choice("look", practice.say("light"), [["auto", "Auto"], ["paper", practice.say("paper")], ["night", practice.say("night")], ["sun", practice.say("sun")]]),
    choice("language", practice.say("language"), [["en", "English"], ["de", "Deutsch"]]), choice("units", practice.say("units"), [["metric", practice.say("metric")], ["imperial", practice.say("imperial")]]),
    number("shoe_cm", practice.say("shoe_length"), 15, 45), number("putter_cm", practice.say("putter_length"), 50, 130),
    el("label", { class: "field-row" }, el("span", {}, practice.say("vibration")), el("input", { type: "checkbox", checked: practice.settings.vibration, onchange: (event) => practice.set("vibration", event.target.checked) })),
    config.strip_url ? el("p", {}, el("a", { href: config.strip_url }, practice.say("strip"))) : null);
}
