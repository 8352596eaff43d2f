// "From a drawing": a fin's outline from an SVG or DXF file on this device, beside the outline field.
//
// The file goes to the worker, where Python reads it and draws what is to be confirmed: scale, root
// and front. It is then forgotten; what is taken stands in the form. Nothing is sent.

import { button, element } from "./bar.js";

// Far more than Python reads, so that it can say that a file is too large.
const MOST = 4_000_000;
const INPUTS = ["outline", "points", "radius"];

/** @param {Blob} file @returns {Promise<string>} */
const base64 = (file) =>
  new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(String(reader.result).replace(/^[^,]*,?/, ""));
    reader.onerror = () => reject(new Error("The file could not be read."));
    reader.readAsDataURL(file.slice(0, MOST));
  });

/** The fields of an element by name. @param {Element} place @returns {Map<string, any>} */
const boxes = (place) =>
  new Map(
    [...place.querySelectorAll(".fs-field[data-name]")].map((field) => {
      const name = /** @type {HTMLElement} */ (field).dataset.name ?? "";
      return [name, field.querySelector(`[name="${name}"]`)];
    }),
  );

class Confirm {
  /** @param {any} engine @param {Element} calculator @param {File} file @param {(said: string) => void} say */
  constructor(engine, calculator, file, say) {
    this.engine = engine;
    this.calculator = calculator;
    this.file = file;
    this.say = say;
    this.inputs = {};
    this.round = 0;
    this.timer = 0;
  }

  async begin() {
    this.content = await base64(this.file);
    const result = await this.read();
    if (!result) return;
    if (!result.panel) {
      this.say(result.error);
      return;
    }
    this.open();
    this.show(result);
  }

  // What Python makes of the file under the choices made; null where a newer question went out.
  async read() {
    this.round += 1;
    const mine = this.round;
    const units = boxes(this.calculator).get("units")?.value ?? "inch";
    const reply = await this.engine.ask({
      type: "outline",
      slug: "outline",
      name: "",
      make: this.file.name,
      text: this.content,
      unit: units,
      inputs: this.choices(),
    });
    return reply.type === "dropped" || mine !== this.round ? null : reply.result;
  }

  choices() {
    if (!this.panel) return {};
    const texts = [...boxes(this.panel)].map(([name, box]) => {
      const unit = box.parentElement.querySelector(".fs-unit")?.value ?? "";
      return [name, /[\d.]$/.test(box.value.trim()) && unit ? `${box.value.trim()} ${unit}` : box.value];
    });
    return Object.fromEntries(texts);
  }

  open() {
    const dialog = /** @type {HTMLDialogElement} */ (element("dialog", "fs-file md-typeset"));
    const title = element("h2", "", `The outline in ${this.file.name}`);
    title.id = "fs-file-title";
    dialog.setAttribute("aria-labelledby", title.id);
    const form = element("form", "fs-file-form");
    form.setAttribute("novalidate", "");
    this.panel = element("div", "fs-file-panel");
    this.take = button("Use this outline", () => this.done());
    this.take.classList.add("fs-primary");
    const buttons = element("p", "fs-buttons");
    buttons.append(this.take, " ", button("Leave the fin as it is", () => dialog.close()));
    form.append(title, this.panel, buttons);
    dialog.append(form);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (!this.take.disabled) this.done();
    });
    form.addEventListener("input", () => {
      this.take.disabled = true;
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.again(), 300);
    });
    dialog.addEventListener("close", () => {
      clearTimeout(this.timer);
      this.round += 1;
      dialog.remove();
      /** @type {HTMLElement | null} */ (this.calculator.querySelector(".fs-from-file"))?.focus();
    });
    document.body.append(dialog);
    dialog.showModal();
    this.dialog = dialog;
  }

  async again() {
    try {
      const result = await this.read();
      if (result) this.show(result);
    } catch (error) {
      this.say(error.message);
      this.dialog.close();
    }
  }

  // The panel as Python draws it; the cursor stays where it is.
  show({ panel, inputs }) {
    const active = /** @type {any} */ (document.activeElement);
    const name = this.panel.contains(active) ? active.name : null;
    const caret = active?.tagName === "INPUT" ? active.selectionEnd : null;
    this.panel.innerHTML = panel;
    const box = /** @type {any} */ (this.panel.querySelector(`[name="${name ?? "unit"}"]`));
    box?.focus();
    if (box && name && caret !== null) box.setSelectionRange(caret, caret);
    this.inputs = inputs;
    this.take.disabled = !inputs.points;
  }

  done() {
    const form = boxes(this.calculator);
    for (const name of INPUTS) {
      const box = form.get(name);
      if (box && this.inputs[name] !== undefined) box.value = this.inputs[name];
    }
    // One change for all three: undo takes it back in one step.
    form.get("points").dispatchEvent(new Event("input", { bubbles: true }));
    this.say(`The outline of ${this.file.name} is now in the form.`);
    this.dialog.close();
  }
}

/** @param {any} engine @param {HTMLElement} field */
function wire(engine, field) {
  const calculator = field.closest(".fs-calc");
  if (!calculator || !boxes(calculator).has("points")) return;
  const file = /** @type {HTMLInputElement} */ (element("input", ""));
  // The button opens it: the browser's own box is not shown.
  Object.assign(file, { type: "file", accept: ".svg,.dxf,image/svg+xml,image/vnd.dxf", hidden: true });
  file.setAttribute("aria-label", "Drawing of a fin");
  const said = element("span", "fs-file-said");
  said.setAttribute("role", "status");
  const open = button("From a drawing", () => file.click(), "Take the outline from a drawing, an SVG or DXF file");
  open.classList.add("fs-from-file");
  const line = element("p", "fs-help fs-file-line");
  line.append(open, file, " ", said);
  said.textContent = "SVG or DXF, to scale. It stays on this device.";
  field.append(line);
  // Choosing a file changes nothing yet.
  for (const kind of ["input", "change"]) line.addEventListener(kind, (event) => event.stopPropagation());
  file.addEventListener("change", async () => {
    const chosen = file.files?.[0];
    file.value = ""; // the same file again is a change again
    if (!chosen) return;
    const say = (/** @type {string} */ sentence) => {
      said.textContent = sentence;
      said.classList.toggle("fs-error", sentence.startsWith("Error"));
    };
    open.disabled = true;
    say(`Reading ${chosen.name}…`);
    try {
      await new Confirm(engine, calculator, chosen, say).begin();
      if (said.textContent === `Reading ${chosen.name}…`) say("Confirm what was found.");
    } catch (error) {
      say(`Error: ${error.message}`);
    } finally {
      open.disabled = false;
    }
  });
}

export const outline = {
  /** @param {any} engine the page's engine */
  place(engine) {
    // Under instant navigation a dialog would outlive its page.
    for (const dialog of document.querySelectorAll("dialog.fs-file")) dialog.remove();
    for (const field of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll('.fs-calc .fs-field[data-name="outline"]'))) {
      if (!field.querySelector(".fs-from-file")) wire(engine, field);
    }
  },
};
