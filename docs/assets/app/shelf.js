// The shelf: all rockets kept on this device, in and out as a file, and those that are compared.
//
// Fills <div class="fs-shelf"></div> and <div class="fs-picker"></div>.

import { button, element, glance, verdict } from "./bar.js";
import { rockets } from "./rockets.js";

const ROOT = new URL("../../", import.meta.url);
const SHEETS = "finstock:sheets";
const MOST_COMPARED = 4;
const MANY = 6; // rockets from which on a search helps

let engine = null;
let sought = "";
let said = "";
/** @type {Set<string>} */
const chosen = new Set();

/** @returns {Record<string, Record<string, string>>} */
function sheets() {
  try {
    const found = JSON.parse(localStorage.getItem(SHEETS) ?? "{}");
    return found && typeof found === "object" && !Array.isArray(found) ? found : {};
  } catch {
    return {};
  }
}

/** @param {string} make @param {object | string} content @returns {Promise<any>} */
async function ask(make, content) {
  const text = typeof content === "string" ? content : JSON.stringify(content);
  const reply = await engine.ask({ type: "rockets", slug: "rocket", name: `${make} ${text}`, make, text });
  return reply.result ?? {};
}

/** @param {string} text @param {string} name */
function save(text, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

/** @param {string} sentence */
function say(sentence) {
  said = sentence;
  refresh();
}

/** Do something that may fail, and say why. @param {string} doing @param {() => Promise<void>} act */
async function attempt(doing, act) {
  say(`${doing}…`);
  try {
    await act();
  } catch (error) {
    say(error instanceof Error ? error.message : String(error));
  }
}

/** @param {ReturnType<typeof rockets.all>} list */
const toFile = (list) =>
  attempt("Making the file", async () => {
    const { text } = await ask("write", { rockets: list, sheets: sheets(), prices: rockets.bench() });
    const name = list.length === 1 ? list[0].name : "rockets";
    save(text, `${name.replace(/[^\p{L}\p{N}]+/gu, "-").toLowerCase() || "rocket"}.json`);
    say(`The file holds ${list.length === 1 ? list[0].name : `${list.length} rockets`}. It stays with you.`);
  });

/** @param {File} file */
const fromFile = (file) =>
  attempt("Reading the file", async () => {
    const found = await ask("read", await file.text());
    if (found.error) return say(found.error);
    rockets.bring(found.rockets, found.prices);
    const kept = { ...found.sheets, ...sheets() };
    try {
      if (Object.keys(found.sheets).length) localStorage.setItem(SHEETS, JSON.stringify(kept));
    } catch {
      return say("The rockets are here, but there was no room for the file’s sheets.");
    }
    const count = found.rockets.length;
    say(`${count} rocket${count === 1 ? "" : "s"} came from the file. Nothing of yours was overwritten.`);
  });

/** @param {ReturnType<typeof rockets.all>[number]} rocket */
const copyLink = (rocket) =>
  attempt("Making the link", async () => {
    const { query } = await ask("link", { rockets: [rocket] });
    const link = new URL("rocket/whole/", ROOT);
    link.search = query;
    try {
      await navigator.clipboard.writeText(link.href);
      say(`The link to ${rocket.name} is copied. It holds the whole rocket.`);
    } catch {
      say(`Copy this address: ${link.href}`);
    }
  });

/** @param {ReturnType<typeof rockets.all>[number]} rocket @param {number} place @param {number} count */
function row(rocket, place, count) {
  const item = element("li", "fs-shelf-row");
  item.dataset.id = rocket.id;
  if (rocket.inHand) item.classList.add("fs-in-hand");
  const picture = element("span", "fs-rocket-picture");
  const name = /** @type {HTMLInputElement} */ (element("input", "fs-shelf-name"));
  Object.assign(name, { type: "text", value: rocket.name, maxLength: 60, autocomplete: "off" });
  name.setAttribute("aria-label", `Name of ${rocket.name}`);
  name.addEventListener("change", () => rockets.rename(rocket.id, name.value));
  const facts = element("span", "fs-shelf-facts");
  const { root, span, material, thickness, motor } = rocket.inputs;
  const given = [root && span ? `${root} × ${span}` : root, material, thickness, motor && `${motor} motor`];
  facts.append(given.filter(Boolean).join(", ") || `${Object.keys(rocket.inputs).length} values given`);
  const judged = element("span", "fs-shelf-verdict");
  const pick = /** @type {HTMLInputElement} */ (element("input", ""));
  Object.assign(pick, { type: "checkbox", checked: chosen.has(rocket.id) });
  pick.addEventListener("change", () => {
    if (pick.checked) chosen.add(rocket.id);
    else chosen.delete(rocket.id);
    refresh();
  });
  const label = element("label", "fs-shelf-pick");
  label.append(pick, element("span", "fs-sr", `Choose ${rocket.name}`));
  const of = (/** @type {string} */ doing) => `${doing} ${rocket.name}`;
  const actions = element("span", "fs-rocket-actions");
  if (rocket.inHand) actions.append(element("b", "fs-shelf-hand", "working on this"));
  else actions.append(button("Take", () => rockets.choose(rocket.id), of("Take")));
  actions.append(
    button("Copy link", () => copyLink(rocket), of("Copy link to")),
    button("Duplicate", () => rockets.duplicate(rocket.id), of("Duplicate")),
    button("Delete", () => remove(rocket), of("Delete")),
  );
  if (place > 0) actions.append(button("↑", () => rockets.move(rocket.id, -1), of("Move up")));
  if (place < count - 1) actions.append(button("↓", () => rockets.move(rocket.id, 1), of("Move down")));
  item.append(label, picture, name, facts, judged, actions);
  return item;
}

/** @param {ReturnType<typeof rockets.all>[number]} rocket */
function remove(rocket) {
  chosen.delete(rocket.id);
  rockets.remove(rocket.id);
  say(`${rocket.name} was deleted. “Undo” above brings it back.`);
}

/** @param {Element} place */
function draw(place) {
  const all = rockets.all();
  const wanted = sought.trim().toLowerCase();
  const shown = all.filter(({ name, inputs }) =>
    `${name} ${Object.values(inputs).join(" ")}`.toLowerCase().includes(wanted),
  );
  for (const id of chosen) if (!all.some((each) => each.id === id)) chosen.delete(id);
  const status = element("p", "fs-help", said || rockets.trouble);
  status.setAttribute("role", "status");
  const list = element("ul", "fs-shelf-list");
  list.append(...shown.map((rocket) => row(rocket, all.indexOf(rocket), all.length)));
  const buttons = element("p", "fs-buttons");
  const some = all.filter(({ id }) => chosen.has(id));
  const out = some.length ? some : all;
  const file = /** @type {HTMLInputElement} */ (element("input", ""));
  Object.assign(file, { type: "file", accept: ".json,application/json", hidden: true });
  file.setAttribute("aria-label", "File of rockets");
  file.addEventListener("change", () => file.files?.[0] && fromFile(file.files[0]));
  if (all.length) buttons.append(button(some.length ? "Save the chosen to a file" : "Save all to a file", () => toFile(out)));
  buttons.append(button("Open a file", () => file.click()), file);
  if (some.length > 1 && some.length <= MOST_COMPARED) {
    buttons.append(button(`Compare these ${some.length}`, () => compare(some)));
  }
  const empty = element("p", "", "No rocket is kept on this device yet. Change a number in any calculator, and it begins one.");
  /** @type {Node[]} */
  const parts = [];
  if (all.length > MANY) parts.push(search());
  parts.push(all.length ? list : empty, buttons, status);
  const focused = /** @type {HTMLElement | null} */ (place.contains(document.activeElement) ? document.activeElement : null);
  const again = focused?.getAttribute("aria-label");
  const caret = focused instanceof HTMLInputElement && focused.type === "search" ? focused.selectionEnd : null;
  place.replaceChildren(...parts);
  if (again) {
    const box = /** @type {HTMLInputElement | null} */ (place.querySelector(`[aria-label="${CSS.escape(again)}"]`));
    box?.focus();
    if (caret !== null) box?.setSelectionRange(caret, caret);
  }
  look(place, shown);
}

function search() {
  const box = /** @type {HTMLInputElement} */ (element("input", "fs-shelf-search"));
  Object.assign(box, { type: "search", value: sought, placeholder: "Search the shelf" });
  box.setAttribute("aria-label", "Search the shelf");
  box.addEventListener("input", () => {
    sought = box.value;
    refresh();
  });
  return box;
}

let round = 0;

// Pictures and verdicts, one after the other, as Python gets to them.
/** @param {Element} place @param {ReturnType<typeof rockets.all>} shown */
async function look(place, shown) {
  round += 1;
  const mine = round;
  for (const rocket of shown) {
    const texts = { ...rockets.bench(), ...rocket.inputs, name: rocket.name };
    const found = await glance(engine, texts).catch(() => null);
    if (mine !== round) return;
    const item = place.querySelector(`[data-id="${rocket.id}"]`);
    const picture = item?.querySelector(".fs-rocket-picture");
    if (!found || !item || !picture) continue;
    picture.innerHTML = found.picture; // drawn by Python
    item.querySelector(".fs-shelf-verdict")?.replaceChildren(verdict(found));
  }
}

/** @param {ReturnType<typeof rockets.all>} some */
const compare = (some) =>
  attempt("Opening the comparison", async () => {
    const address = new URL("rocket/compare/", ROOT);
    for (const [nth, rocket] of some.entries()) {
      const { query } = await ask("link", { rockets: [rocket] });
      address.searchParams.set("abcd"[nth], query);
    }
    location.href = address.href;
  });

// Above a comparison: which rockets of the shelf stand in it.
/** @param {Element} place */
function pick(place) {
  const form = document.querySelector('.fs-calc[data-slug="compare"] form');
  const all = rockets.all();
  if (!form || !all.length) return place.replaceChildren();
  const choices = ["a", "b", "c", "d"].map((letter) => {
    const box = /** @type {HTMLInputElement} */ (form.querySelector(`[name="${letter}"]`));
    const label = element("label", "fs-picker-one", `${letter.toUpperCase()} `);
    const select = /** @type {HTMLSelectElement} */ (element("select", ""));
    select.append(new Option(box.value ? "as linked" : letter === "a" ? "the example" : "nobody", "", true));
    for (const { id, name } of all) select.append(new Option(name, id));
    select.addEventListener("change", () =>
      attempt("Taking it into the comparison", async () => {
        const rocket = rockets.all().find(({ id }) => id === select.value);
        box.value = rocket ? (await ask("link", { rockets: [rocket] })).query : "";
        box.dispatchEvent(new Event("input", { bubbles: true }));
      }),
    );
    label.append(select);
    return label;
  });
  place.replaceChildren(...choices);
}

function refresh() {
  document.querySelectorAll(".fs-shelf").forEach(draw);
}

let listening = false;

export const shelf = {
  /** @param {any} running the page's engine */
  place(running) {
    engine = running;
    if (!listening) rockets.listen(refresh);
    listening = true;
    refresh();
    document.querySelectorAll(".fs-picker").forEach(pick);
  },
};
