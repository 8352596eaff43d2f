// Wakes the calculators of a page: reads the form, asks the worker, puts the answer in its place.
//
// The page is complete without this script. Everything drawn or worded comes from Python; this
// file carries texts to and fro.

import { Engine } from "./engine.js";
import { offline } from "./keep.js";
import { download } from "./downloads.js";
import { sheets } from "./sheets.js";
import { tone } from "./tone.js";

const PAUSE = 300; // ms without a key before an answer is asked for
// Names in an address that belong to the site's search.
const FOREIGN = new Set(["h", "q"]);
const engine = new Engine();
const calculators = new Set();

const store = {
  get(key) {
    try {
      return localStorage.getItem(key);
    } catch {
      return null;
    }
  },
  set(key, value) {
    try {
      if (value === null) localStorage.removeItem(key);
      else localStorage.setItem(key, value);
    } catch {
      // Private windows refuse; the page works without.
    }
  },
};

const REST = 1500; // ms after a page has come before Python starts by itself

// A text and the unit beside it, as one text: "3" and "in" make "3in", "3 cm" stays.
const joined = (text, unit) => (unit && /[\d.]$/.test(text) ? `${text}${unit}` : text);

class Calculator {
  constructor(element, first) {
    this.element = element;
    this.slug = element.dataset.slug;
    // A page's first calculator has the plain names in the address, others "slug.name".
    this.prefix = first ? "" : `${this.slug}.`;
    this.form = element.querySelector("form.fs-form");
    this.status = element.querySelector(".fs-status");
    this.bar = element.querySelector("progress.fs-progress");
    this.live = element.querySelector(".fs-live");
    this.built = new Map(
      [...element.querySelectorAll("[data-fragment]")].map((part) => [
        part.dataset.fragment,
        part.innerHTML,
      ]),
    );
    this.bytes = document.createElement("span");
    this.bytes.className = "fs-bytes";
    this.bytes.setAttribute("aria-hidden", "true");
    this.status?.after(this.bytes);
    this.timer = 0;
    this.asked = 0;
    this.wanted = false;
    this.last = null;
    this.extra = {};
    this.#wire();
    this.room = new ResizeObserver(() => this.#makeRoom());
    this.room.observe(element);
    const typed = this.#typed();
    const filled = this.#restore();
    for (const [field, text] of typed) this.write(field, text);
    this.#applicable();
    this.unlisten = engine.listen((state) => this.#show(state));
    if (typed.length) this.later();
    else if (filled) {
      this.#stale(true);
      this.ask();
    }
  }

  close() {
    clearTimeout(this.timer);
    this.unlisten();
    this.room.disconnect();
  }

  // The standing verdict covers part of the screen: what the Tab key reaches stops short of it. A
  // verdict that would cover too much, as in very large type, does not stand.
  #makeRoom() {
    const height = this.element.querySelector(".fs-verdict")?.offsetHeight ?? 0;
    this.element.style.setProperty("--fs-room", `${height + 16}px`);
    this.element.classList.toggle("fs-tall", height > 0.4 * innerHeight);
  }

  // the form

  get fields() {
    return [...this.element.querySelectorAll(".fs-field[data-name]")];
  }

  field(name) {
    return this.fields.find((field) => field.dataset.name === name);
  }

  #parts(field) {
    const name = field.dataset.name;
    const [box, unit] = ["", ":unit"].map((end) =>
      [...field.querySelectorAll("input, select, textarea")].find((e) => e.name === name + end),
    );
    return { box, unit };
  }

  // The unit a bare number is in: the one shown, except while a conversion is on its way.
  #unit(field, unit) {
    return unit ? (field.dataset.unit ?? unit.value) : "";
  }

  read(field) {
    const { box, unit } = this.#parts(field);
    return joined(box.value.trim(), this.#unit(field, unit));
  }

  #default(field) {
    const { box, unit } = this.#parts(field);
    return joined(box.dataset.default ?? "", unit?.dataset.default ?? "");
  }

  write(field, text) {
    const { box, unit } = this.#parts(field);
    delete field.dataset.unit;
    if (unit) {
      const known = [...unit.options].map((o) => o.value).sort((a, b) => b.length - a.length);
      const end = known.find(
        (u) => text.endsWith(u) && /[\d.]$/.test(text.slice(0, -u.length).trimEnd()),
      );
      if (end) {
        box.value = text.slice(0, -end.length).trimEnd();
        unit.value = end;
        return;
      }
    }
    if (box.tagName === "SELECT" && ![...box.options].some((o) => o.value === text)) return;
    box.value = text;
  }

  // Only the page knows where it stands; a code printed on a card leads back to it.
  #address() {
    const field = this.field("address");
    return field && !this.read(field) ? { address: location.origin + location.pathname } : {};
  }

  inputs() {
    return Object.fromEntries(this.fields.map((field) => [field.dataset.name, this.read(field)]));
  }

  // Fields that do not apply under the current choices are hidden; Python does not read them.
  #applicable() {
    for (const field of this.fields) {
      let applies = true;
      for (const { name, value } of field.attributes) {
        if (!name.startsWith("data-when-")) continue;
        const other = this.field(name.slice("data-when-".length));
        if (other) applies &&= !other.hidden && value.split(" ").includes(this.read(other));
      }
      field.hidden = !applies;
    }
    for (const group of this.form.querySelectorAll(".fs-group")) {
      group.hidden = ![...group.querySelectorAll(".fs-field")].some((field) => !field.hidden);
    }
  }

  // where inputs are kept: the address first, else this device

  // What the reader typed before this script was there (see theme.js) comes before both.
  #typed() {
    const early = globalThis.finstockTyped ?? new WeakSet();
    return this.fields
      .filter((field) => Object.values(this.#parts(field)).some((part) => part && early.has(part)))
      .map((field) => [field, this.read(field)]);
  }

  #restore() {
    const address = new URLSearchParams(location.search);
    let texts = {};
    this.extra = {};
    for (const [key, value] of address) {
      if (!key.startsWith(this.prefix)) continue;
      const name = key.slice(this.prefix.length);
      if (this.field(name)) texts[name] = value;
      // Perhaps an input's former name, in an older link: Python knows.
      else if (!name.includes(".") && !FOREIGN.has(name)) this.extra[name] = value;
    }
    // A page that plays with one knob starts where its text starts.
    const plays = this.element.closest(".fs-play") !== null;
    if (!plays && !Object.keys(texts).length && !Object.keys(this.extra).length) {
      try {
        texts = JSON.parse(store.get(`finstock:${this.slug}`)) ?? {};
      } catch {
        texts = {};
      }
    }
    for (const [name, text] of Object.entries(texts)) {
      const field = this.field(name);
      if (field && typeof text === "string") this.write(field, text);
    }
    return this.#changed().length > 0 || Object.keys(this.extra).length > 0;
  }

  #changed() {
    return this.fields
      .map((field) => [field.dataset.name, this.read(field), this.#default(field)])
      .filter(([, text, usual]) => text !== usual)
      .map(([name, text]) => [name, text]);
  }

  #remember() {
    const changed = this.#changed();
    const address = new URL(location.href);
    const names = new Set(this.fields.map((field) => this.prefix + field.dataset.name));
    const kept = [...address.searchParams].filter(([key]) => !names.has(key));
    const pairs = [...kept, ...changed.map(([name, text]) => [this.prefix + name, text])];
    // Readable: slashes, commas and colons stay as they are.
    const plain = (text) =>
      encodeURIComponent(text).replace(/%(2F|2C|3A|40)/g, decodeURIComponent).replace(/%20/g, "+");
    address.search = pairs.map(([key, text]) => `${plain(key)}=${plain(text)}`).join("&");
    if (address.href !== location.href) history.replaceState(history.state, "", address.href);
    store.set(
      `finstock:${this.slug}`,
      changed.length ? JSON.stringify(Object.fromEntries(changed)) : null,
    );
  }

  // question and answer

  later() {
    clearTimeout(this.timer);
    this.#stale(true);
    this.timer = setTimeout(() => {
      this.#remember();
      this.ask();
    }, PAUSE);
  }

  async ask() {
    clearTimeout(this.timer);
    this.wanted = true;
    this.asked += 1;
    const mine = this.asked;
    this.#stale(true);
    this.#tools(engine.state);
    try {
      const inputs = { ...this.inputs(), ...this.extra, ...this.#address() };
      const reply = await engine.ask({ type: "answer", slug: this.slug, inputs }, (result) => {
        if (mine === this.asked) this.#verdict(result);
      });
      if (mine !== this.asked || reply.type === "dropped") return;
      this.wanted = false;
      this.#receive(reply.result);
    } catch (error) {
      if (mine !== this.asked) return;
      this.wanted = false;
      this.#say(error.message);
    }
    // A long answer left its progress behind.
    this.#show(engine.state);
  }

  // The verdict and its numbers, while the rest is still on its way: in the place of the old ones.
  #verdict({ first, summary }) {
    const place = this.element.querySelector('[data-fragment="result"]');
    const arriving = document.createElement("template");
    arriving.innerHTML = first;
    for (const part of [...arriving.content.children]) {
      const old = place?.querySelector(`:scope > .${part.classList[0]}`);
      part.classList.add("fs-fresh");
      old?.replaceWith(part);
    }
    this.#say(summary);
  }

  #receive(result) {
    if (Object.keys(this.extra).length) this.#adopt(result.query);
    this.#errors(result.errors);
    const bad = Object.keys(result.errors).length > 0;
    for (const [name, html] of Object.entries(result.fragments)) this.#swap(name, html);
    if (!bad) this.last = result;
    this.#stale(bad);
    this.#say(result.errors[""] ?? result.summary);
    this.element.dispatchEvent(new CustomEvent("finstock:answer", { bubbles: true, detail: result }));
  }

  // An older link's inputs under their names of today.
  #adopt(query) {
    const former = Object.keys(this.extra).map((name) => this.prefix + name);
    this.extra = {};
    for (const [name, text] of new URLSearchParams(query)) {
      const field = this.field(name);
      if (field) this.write(field, text);
    }
    const address = new URL(location.href);
    for (const key of former) address.searchParams.delete(key);
    history.replaceState(history.state, "", address.href);
    this.#applicable();
    this.#remember();
  }

  #errors(errors) {
    for (const field of this.fields) {
      const { box } = this.#parts(field);
      const place = field.querySelector(".fs-error");
      const message = errors[field.dataset.name];
      field.classList.toggle("fs-invalid", Boolean(message));
      if (message) box.setAttribute("aria-invalid", "true");
      else box.removeAttribute("aria-invalid");
      if (!place) continue;
      const text = message && !message.startsWith("Error:") ? `Error: ${message}` : message;
      if (place.textContent !== (text ?? "")) place.textContent = text ?? "";
      place.hidden = !message;
      if (message) field.closest("details")?.setAttribute("open", "");
    }
  }

  #swap(name, html) {
    const place = this.element.querySelector(`[data-fragment="${name}"]`);
    if (!place) return;
    const title = (details) => details.querySelector("summary")?.textContent;
    const open = new Set([...place.querySelectorAll("details[open]")].map(title));
    place.innerHTML = html;
    for (const details of place.querySelectorAll("details")) {
      if (open.has(title(details))) details.open = true;
    }
  }

  #stale(stale) {
    for (const place of this.element.querySelectorAll("[data-fragment]")) {
      place.classList.toggle("fs-stale", stale);
      for (const part of place.querySelectorAll(".fs-fresh")) part.classList.remove("fs-fresh");
      if (stale && this.wanted) place.setAttribute("aria-busy", "true");
      else place.removeAttribute("aria-busy");
    }
  }

  // what the reader is told

  #say(sentence) {
    if (this.status && this.status.textContent !== sentence) this.status.textContent = sentence;
  }

  #show(state) {
    const megabytes = (count) => (count / 1e6).toFixed(1);
    this.element.dataset.state = state.state;
    this.bytes.textContent = "";
    if (state.state === "loading") {
      const { loaded, total, stage } = state;
      if (stage === "download" && total) {
        this.bytes.textContent = `${megabytes(loaded)} of ${megabytes(total)} MB`;
      }
      if (this.bar) {
        if (stage === "download" && total) this.bar.value = (100 * loaded) / total;
        else this.bar.removeAttribute("value");
      }
      const wait = { start: "Loading", download: "Loading", python: "Starting", calc: "Starting" };
      if (this.wanted) this.#say(`${wait[stage] ?? "Loading"} the calculator…`);
    } else if (state.state === "busy") {
      if (this.wanted) {
        if (this.bar && state.total) this.bar.value = (100 * state.done) / state.total;
        this.bytes.textContent = state.note || `${state.done} of ${state.total}`;
      }
    } else if (state.state === "failed") {
      this.#say(state.message);
    } else if (state.state === "live" && !this.wanted && this.failed) {
      this.#say("The calculator is ready.");
    }
    this.failed = state.state === "failed";
    this.#tools(state);
  }

  #tools(state) {
    const show = (selector, shown) => {
      for (const part of this.element.querySelectorAll(selector)) part.hidden = !shown;
    };
    const working = this.wanted && (state.state === "live" || state.state === "busy");
    show(".fs-live", state.state === "live" && !this.wanted);
    show(".fs-progress", state.state === "loading" || working);
    show('[data-action="retry"]', state.state === "failed" && state.stage !== "missing");
    show('[data-action="stop"]', working);
    if (working && this.bar && state.state === "live") this.bar.removeAttribute("value");
  }

  // hands

  #wire() {
    const { form, element } = this;
    form?.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#remember();
      this.ask();
    });
    element.addEventListener("focusin", () => engine.start());
    element.addEventListener("pointerdown", () => engine.start(), { passive: true });
    form?.addEventListener("input", (event) => {
      if (event.target.name?.endsWith(":unit")) return;
      this.#applicable();
      this.later();
    });
    form?.addEventListener("focusin", ({ target }) => {
      if (target.name?.endsWith(":unit")) target.dataset.before ??= target.value;
    });
    form?.addEventListener("change", (event) => {
      if (event.target.name?.endsWith(":unit")) this.#convert(event.target);
    });
    element.addEventListener("click", (event) => {
      const button = event.target.closest("[data-action]");
      if (button && element.contains(button)) this.act(button.dataset.action, button);
    });
  }

  // Another unit for the same length: the number in the box follows.
  async #convert(select) {
    const field = select.closest(".fs-field");
    const { box } = this.#parts(field);
    const before = field.dataset.unit ?? select.dataset.before ?? select.dataset.default;
    const target = select.value;
    const text = box.value.trim();
    select.dataset.before = target;
    if (!/[\d.]$/.test(text)) return this.later();
    field.dataset.unit = before;
    try {
      const reply = await engine.ask({
        type: "convert",
        slug: this.slug,
        name: field.dataset.name,
        text: joined(text, before),
        unit: target,
      });
      if (reply.type === "dropped" || box.value.trim() !== text) return;
      delete field.dataset.unit;
      this.write(field, reply.result);
      select.dataset.before = select.value;
    } catch (error) {
      delete field.dataset.unit;
      select.value = select.dataset.before = before;
      this.#say(error.message);
    }
    this.later();
  }

  act(action, button) {
    const actions = {
      retry: () => {
        engine.restart();
        this.ask();
      },
      stop: () => {
        this.asked += 1;
        this.wanted = false;
        engine.stop();
        this.#stale(true);
        this.#say("Stopped. The last answer is still shown.");
        this.#tools(engine.state);
      },
      reset: () => this.#reset(),
      set: () => {
        for (const { name, value } of button.attributes) {
          const field = name.startsWith("data-set-") && this.field(name.slice(9));
          if (field) this.write(field, value);
        }
        this.#applicable();
        this.#remember();
        this.ask();
      },
      sort: () => sortTable(button),
      print: () => window.print(),
      download: () => download(engine, this, button),
      "copy-link": () => this.#copy(),
      "download-json": () => this.#download("json"),
      "download-csv": () => this.#download("csv"),
      "download-svg": () => this.#picture(),
    };
    if (action !== "answer") actions[action]?.();
  }

  #reset() {
    clearTimeout(this.timer);
    this.asked += 1;
    this.wanted = false;
    this.extra = {};
    for (const field of this.fields) {
      const { box, unit } = this.#parts(field);
      delete field.dataset.unit;
      box.value = box.dataset.default ?? "";
      if (unit) unit.value = unit.dataset.before = unit.dataset.default;
    }
    this.#applicable();
    this.#remember();
    this.#errors({});
    for (const [name, html] of this.built) this.#swap(name, html);
    this.last = null;
    this.#stale(false);
    this.#say("Back to the example.");
    this.#tools(engine.state);
  }

  async #copy() {
    this.#remember();
    try {
      await navigator.clipboard.writeText(location.href);
      this.#say("Link copied: it opens this page with these inputs.");
    } catch {
      this.#say(`Copy this address: ${location.href}`);
    }
  }

  async #download(kind) {
    if (!this.last) await this.ask();
    if (!this.last) return;
    const { json } = this.last;
    let content = `${JSON.stringify(json, null, 1)}\n`;
    if (kind === "csv") {
      const cell = (value) =>
        /[",\n]/.test(String(value ?? "")) ? `"${String(value).replaceAll('"', '""')}"` : (value ?? "");
      const lines = [["kind", "name", "value", "unit", "low", "high", "limit"]];
      lines.push(["edition", json.calculator, json.version]);
      for (const [name, value] of Object.entries(json.inputs ?? {})) {
        lines.push(["input", name, typeof value === "object" ? JSON.stringify(value) : value]);
      }
      for (const [name, a] of Object.entries(json.answers ?? {})) {
        lines.push(["answer", name, a.value, a.unit, a.low, a.high, a.bound]);
      }
      for (const m of json.modes ?? []) {
        lines.push(["margin", m.name, m.margin, "", m.low, m.high, m.bound]);
      }
      const { verdict: v } = json;
      if (v) lines.push(["verdict", v.state, v.margin, "", v.low, v.high, v.bound]);
      for (const caution of json.cautions ?? []) lines.push(["caution", "", caution]);
      content = lines.map((line) => `${line.map(cell).join(",")}\r\n`).join("");
    }
    save(content, kind === "csv" ? "text/csv" : "application/json", `${this.slug}.${kind}`);
  }

  // The drawing with its colours written into it, so that it looks the same outside the page.
  #picture() {
    const drawn = this.element.querySelector('[data-fragment="drawing"] svg');
    if (!drawn) return;
    const copy = drawn.cloneNode(true);
    const styles = ["fill", "stroke", "stroke-width", "stroke-dasharray", "opacity", "font-family",
      "font-size", "font-weight", "text-anchor"];
    const copies = [copy, ...copy.querySelectorAll("*")];
    [drawn, ...drawn.querySelectorAll("*")].forEach((original, index) => {
      const style = getComputedStyle(original);
      for (const name of styles) copies[index].setAttribute(name, style.getPropertyValue(name));
    });
    copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
    save(new XMLSerializer().serializeToString(copy), "image/svg+xml", `${this.slug}.svg`);
  }
}

function save(content, type, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([content], { type }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

function sortTable(button) {
  const head = button.closest("th");
  const table = button.closest("table");
  const column = [...head.parentElement.children].indexOf(head);
  const down = head.getAttribute("aria-sort") === "ascending";
  for (const other of head.parentElement.children) other.removeAttribute("aria-sort");
  head.setAttribute("aria-sort", down ? "descending" : "ascending");
  const key = (row) => {
    const cell = row.children[column];
    return cell.dataset.sort === undefined ? cell.textContent : Number(cell.dataset.sort);
  };
  const compare = (a, b) =>
    typeof a === "number" && typeof b === "number" ? a - b : String(a).localeCompare(String(b));
  const body = table.tBodies[0];
  const rows = [...body.rows].sort((a, b) => compare(key(a), key(b)) * (down ? -1 : 1));
  body.append(...rows);
}

// Runs at load and again after each change of page under instant navigation, where the document
// and so the worker stay alive.
function wake() {
  for (const calculator of calculators) {
    if (!calculator.element.isConnected) {
      calculator.close();
      calculators.delete(calculator);
    }
  }
  const known = new Set([...calculators].map((calculator) => calculator.element));
  const elements = [...document.querySelectorAll(".fs-calc[data-slug]")];
  elements.forEach((element, index) => {
    if (!known.has(element)) calculators.add(new Calculator(element, index === 0));
  });
  offline.place();
  sheets.place();
  tone.place(engine);
  const idle = globalThis.requestIdleCallback ?? ((run) => setTimeout(run, 1500));
  // Readers who save data start Python themselves, by touching a calculator.
  if (elements.length && !navigator.connection?.saveData) {
    // Starting keeps all of a small machine busy: first the page is to be at rest.
    const begin = () => setTimeout(() => idle(() => engine.start(), { timeout: 3000 }), REST);
    if (document.readyState === "complete") begin();
    else addEventListener("load", begin, { once: true });
  }
}

// Jumps within a page are the browser's. The theme would fetch the page anew for the first of them
// and so put away what is unfolded and computed.
let path = location.pathname; // of the page that the theme shows or is about to
function jump({ target }) {
  const link = target.closest?.("a[href]");
  if (!link?.hash || link.host !== location.host || link.pathname !== path) return;
  link.search = location.search; // the inputs stay in the address
  link.target = "_self"; // the theme leaves links with a target alone
}
function jumped(event) {
  if (location.pathname !== path) return;
  event.stopImmediatePropagation();
  // Once the theme has changed pages, the browser leaves it to scripts to scroll back.
  const place = history.state;
  if (history.scrollRestoration === "manual" && (place || !location.hash)) {
    scrollTo(place?.x ?? 0, place?.y ?? 0);
  }
}
addEventListener("click", jump, { capture: true });
addEventListener("popstate", jumped, { capture: true });

// The calculators do not wait for the theme, which starts after the first paint.
wake();
function follow() {
  globalThis.document$?.subscribe(wake);
  globalThis.location$?.subscribe(({ pathname }) => {
    path = pathname;
  });
}
if (globalThis.document$?.subscribe) follow();
else addEventListener("finstock:theme", follow, { once: true });
