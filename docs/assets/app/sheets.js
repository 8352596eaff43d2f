// Tested sheets kept on this device under a name, to be picked as a material everywhere.
//
// What is kept are the texts that fill "your own values"; they stay in this browser's storage.

import { rockets } from "./rockets.js";

const KEY = "finstock:sheets";
const LONGEST = 40;
const PICK = "kept:";

// Sheets by name with their texts, and nothing else.
function valid(found) {
  if (!found || typeof found !== "object" || Array.isArray(found)) return {};
  const sheets = {};
  for (const [name, texts] of Object.entries(found)) {
    if (!texts || typeof texts !== "object" || Array.isArray(texts)) continue;
    const kept = Object.entries(texts).filter(([, text]) => typeof text === "string");
    if (kept.length) sheets[name] = Object.fromEntries(kept);
  }
  return sheets;
}

// The whole sheets of a text that was cut off or overwritten in part.
function salvaged(text) {
  const string = String.raw`"(?:[^"\\]|\\.)*"`;
  const sheet = new RegExp(`(${string})\\s*:\\s*(\\{(?:[^{}"]|${string})*\\})`, "g");
  const sheets = {};
  for (const [, name, texts] of text.matchAll(sheet)) {
    try {
      sheets[JSON.parse(name)] = JSON.parse(texts);
    } catch {
      // This one is lost.
    }
  }
  return sheets;
}

const shelf = {
  read() {
    let text = null;
    try {
      text = localStorage.getItem(KEY);
      return valid(JSON.parse(text));
    } catch {
      return valid(salvaged(text ?? ""));
    }
  },
  write(sheets) {
    if (globalThis.finstockForgets) return false;
    try {
      localStorage.setItem(KEY, JSON.stringify(sheets));
      return true;
    } catch {
      return false;
    }
  },
};

// What the answer offers to other calculators, while it fits the inputs: texts by input name.
function tested(calculator) {
  const result = calculator.querySelector('[data-fragment="result"]');
  if (!result || result.classList.contains("fs-stale")) return null;
  return JSON.parse(result.querySelector("[data-carry]")?.dataset.carry ?? "null");
}

function fill(form, texts) {
  for (const [name, text] of Object.entries(texts)) {
    const box = form.elements[name];
    if (!box || typeof text !== "string") continue;
    const unit = form.elements[`${name}:unit`];
    const space = text.lastIndexOf(" ");
    // A text field without a unit chooser, such as readings at several points, is the reader's.
    if (name === "thickness" && !unit) continue;
    if (unit && space > 0) {
      const known = [...unit.options].some((option) => option.value === text.slice(space + 1));
      box.value = known ? text.slice(0, space) : text;
      if (known) unit.value = text.slice(space + 1);
    } else box.value = text;
    const field = box.closest(".fs-field");
    if (field) delete field.dataset.unit;
  }
}

function picked(event) {
  const select = event.target;
  if (select.name !== "material" || !select.value?.startsWith(PICK)) return;
  const name = select.value.slice(PICK.length);
  const texts = shelf.read()[name];
  select.value = "own";
  if (!texts) return;
  // Sheets kept before spreads were: not those of the sheet picked last.
  fill(select.form, { spread: "", ...texts, material: "own" });
  const place = select.closest(".fs-field");
  let note = place.querySelector(".fs-kept-used");
  if (!note) {
    const help = place.querySelector(".fs-help");
    note = document.createElement(help ? "span" : "p");
    note.className = help ? "fs-kept-used" : "fs-help fs-kept-used";
    note.setAttribute("role", "status");
    if (help) help.append(" ", note);
    else place.append(note);
  }
  note.textContent = `Filled with your sheet “${name}”.`;
}

function offer() {
  const sheets = Object.keys(shelf.read());
  /** @type {NodeListOf<HTMLSelectElement>} */
  const selects = document.querySelectorAll('form.fs-form select[name="material"]');
  for (const select of selects) {
    if (![...select.options].some((option) => option.value === "own")) continue;
    select.querySelector("optgroup.fs-kept-sheets")?.remove();
    if (!sheets.length) continue;
    const group = document.createElement("optgroup");
    group.className = "fs-kept-sheets";
    group.label = "Sheets kept on this device";
    for (const name of sheets) group.append(new Option(name, PICK + name));
    select.append(group);
  }
}

function control(calculator) {
  if (calculator.querySelector(".fs-keep-sheet")) return;
  const box = document.createElement("form");
  box.className = "fs-keep-sheet fs-group";
  box.setAttribute("aria-label", "Sheets kept on this device");
  const key = `keep-${calculator.dataset.slug}`;
  const label = document.createElement("label");
  label.htmlFor = key;
  label.textContent = "Name of this sheet";
  const name = document.createElement("input");
  Object.assign(name, { type: "text", id: key, maxLength: LONGEST, autocomplete: "off" });
  const button = document.createElement("button");
  button.className = "fs-button";
  button.textContent = "Keep this sheet on this device";
  const row = document.createElement("div");
  row.className = "fs-row";
  row.append(name);
  const field = document.createElement("div");
  field.className = "fs-field";
  const said = document.createElement("p");
  said.className = "fs-help";
  said.setAttribute("role", "status");
  said.textContent = "You can then choose it wherever a material of your own can be chosen. It stays on this device.";
  field.append(label, row, said);
  const list = document.createElement("ul");
  list.className = "fs-kept-list";
  const use = document.createElement("button");
  use.type = "button";
  use.className = "fs-button";
  use.textContent = "Cut my rocket's fins from it";
  use.addEventListener("click", () => {
    const texts = tested(calculator);
    if (!texts) {
      said.textContent = "Wait for the answer first.";
      return;
    }
    const changes = Object.entries({ spread: "", ...texts, material: "own" });
    rockets.give(changes.map(([key, text]) => ({ key, text })), "the tested sheet");
    said.textContent = "Every calculator now takes this sheet for your fins. “Undo” above takes it back.";
  });
  const line = document.createElement("p");
  line.className = "fs-buttons";
  line.append(button, use);
  box.append(field, line, list);

  const draw = () => {
    const rows = Object.entries(shelf.read()).map(([kept, texts]) => {
      const item = document.createElement("li");
      const remove = document.createElement("button");
      remove.type = "button";
      remove.className = "fs-button";
      remove.textContent = "Remove";
      remove.setAttribute("aria-label", `Remove ${kept}`);
      remove.addEventListener("click", () => {
        const sheets = shelf.read();
        delete sheets[kept];
        said.textContent = shelf.write(sheets)
          ? `“${kept}” was removed.`
          : "This browser does not let a page keep anything.";
        draw();
        offer();
      });
      const { modulus_along: along = "?", own_density: density = "?" } = texts;
      item.append(`${kept}: ${along} along, ${density} `, remove);
      return item;
    });
    list.replaceChildren(...rows);
  };
  box.addEventListener("submit", (event) => {
    event.preventDefault();
    const wanted = name.value.trim().slice(0, LONGEST);
    const texts = tested(calculator);
    if (!wanted) {
      said.textContent = "Give the sheet a name first.";
      name.focus();
      return;
    }
    if (!texts) {
      said.textContent = "Wait for the answer, then keep the sheet.";
      return;
    }
    const kept = shelf.write({ ...shelf.read(), [wanted]: texts });
    said.textContent = kept
      ? `“${wanted}” is kept on this device. Pick it under Material in any calculator.`
      : "This browser does not let a page keep anything in this window.";
    draw();
    offer();
  });
  calculator.querySelector(".fs-result").after(box);
  draw();
}

let listening = false;

export const sheets = {
  place() {
    for (const calculator of document.querySelectorAll('.fs-calc[data-slug="sheet-test"]')) {
      control(calculator);
    }
    offer();
    if (listening) return;
    listening = true;
    // Ahead of the form's own listener, so that it reads the filled fields.
    for (const kind of ["input", "change"]) document.addEventListener(kind, picked, true);
    addEventListener("storage", ({ key }) => key === KEY && offer());
  },
};
