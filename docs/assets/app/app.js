// Runs the calculators of a page: reads the form, asks the worker, shows the answer.
//
// The page is complete without this script. Everything drawn or worded comes from Python; this
// file carries texts to and fro.

import { bar, title } from "./bar.js";
import { Engine } from "./engine.js";
import { offline } from "./keep.js";
import { download } from "./downloads.js";
import { Handles } from "./handles.js";
import { outline } from "./outline.js";
import { rockets } from "./rockets.js";
import { sheets } from "./sheets.js";
import { shelf } from "./shelf.js";
import { Swing } from "./swing.js";
import { tone } from "./tone.js";

const PAUSE = 300; // ms without a key before an answer is asked for
// Names in an address that belong to the site's search.
const FOREIGN = new Set(["h", "q"]);
const engine = new Engine();
const calculators = new Set();

const REST = 1500; // ms after a page has come before Python starts by itself

// Without halves of characters, as a broken paste leaves them: no address can hold those.
const clean = (text) => text.toWellFormed?.() ?? text.replace(/\p{Surrogate}/gu, "\ufffd");

// As Calculator.query writes an address: readable, so slashes, dots, commas and colons stay.
const quoted = (text) =>
  encodeURIComponent(text.trim().replace(/\s+/g, " "))
    .replace(/[!'()*]/g, (sign) => `%${sign.charCodeAt(0).toString(16).toUpperCase()}`)
    .replace(/%(2F|2C|3A)/g, decodeURIComponent)
    .replace(/%20/g, "+");

// A text and the unit beside it, as one text: "3" and "in" make "3in", "3 cm" stays.
const joined = (text, unit) => (unit && /[\d.]$/.test(text) ? `${text}${unit}` : text);

// Texts are alike whatever their spaces.
const squeezed = (text) => text.replace(/\s+/g, "");

// Answers of this tab, by question: a page that is opened again shows its own at once, while the
// live one is on its way.
const ANSWERS = "finstock:answers";
const MOST_ANSWERS = 10;
const answers = {
  all() {
    try {
      const found = JSON.parse(sessionStorage.getItem(ANSWERS) ?? "[]");
      return Array.isArray(found) ? found : [];
    } catch {
      return [];
    }
  },
  get: (question) => answers.all().find(([each]) => each === question)?.[1],
  set(question, { fragments, summary }) {
    const list = [...answers.all().filter(([each]) => each !== question), [question, { fragments, summary }]];
    for (let most = MOST_ANSWERS; most > 0; most = most >> 1) {
      try {
        sessionStorage.setItem(ANSWERS, JSON.stringify(list.slice(-most)));
        return;
      } catch {
        // Fewer, then.
      }
    }
  },
};

// The address whose inputs became a visitor last; a page's calculators share one.
let arrived = "";

class Calculator {
  constructor(element, first) {
    this.element = element;
    // A page that plays with one knob starts where its text starts, and keeps nothing.
    this.plays = element.closest(".fs-play") !== null;
    this.filled = new Map(); // texts as the form was filled, by input
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
    this.handles = new Handles(this);
    this.swing = new Swing(element);
    this.past = []; // texts of all fields after each change, the last one today's
    this.future = []; // what undo took back
    this.#wire();
    this.room = new ResizeObserver(() => this.#makeRoom());
    this.room.observe(element);
    // First as the page came, so that what was typed meanwhile changes the rocket and can be undone.
    const typed = this.#typed();
    for (const { part } of typed) part.value = part.dataset.default ?? "";
    const filled = this.#restore();
    this.past.push(this.#texts());
    for (const { part, text } of typed) part.value = text;
    this.#applicable();
    this.search = location.search; // as this form last saw the address
    this.#steps();
    this.handles.place();
    this.swing.place();
    this.unlisten = engine.listen((state) => this.#show(state));
    this.forget = rockets.listen(() => this.#follow());
    if (typed.length) this.later();
    else if (filled) {
      this.#stale(true);
      this.#recall();
      this.ask();
    }
  }

  // What was typed a moment ago stays the rocket's when the page goes.
  leave() {
    this.#give();
  }

  close() {
    this.leave();
    clearTimeout(this.timer);
    this.unlisten();
    this.forget();
    this.swing.close();
    this.room.disconnect();
  }

  // The standing verdict covers part of the screen: what the Tab key reaches stops short of it. A
  // verdict that would cover too much, as in very large type, does not stand.
  #makeRoom() {
    const height = this.element.querySelector(".fs-verdict")?.offsetHeight ?? 0;
    this.element.style.setProperty("--fs-room", `${height + 16}px`);
    this.element.classList.toggle("fs-tall", height > 0.4 * innerHeight);
    this.#uncover();
  }

  // On a phone the verdict stands at the foot of the screen; it must not cover what is being typed.
  #uncover() {
    const box = document.activeElement;
    const verdict = this.element.querySelector(".fs-verdict");
    if (!verdict || !box || !this.form?.contains(box)) return;
    if (getComputedStyle(verdict).position !== "sticky") return;
    const typed = (box.closest(".fs-field") ?? box).getBoundingClientRect();
    const standing = verdict.getBoundingClientRect();
    const over = typed.bottom > standing.top && typed.top < standing.bottom;
    const beside = typed.right < standing.left || typed.left > standing.right;
    if (over && !beside) scrollBy({ top: typed.bottom - standing.top + 8, behavior: "instant" });
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
    return joined(clean(box.value).trim(), this.#unit(field, unit));
  }

  #default(field) {
    const { box, unit } = this.#parts(field);
    return joined(box.dataset.default ?? "", unit?.dataset.default ?? "");
  }

  // As html.split_unit does, by which the build fills the form.
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
    if (box.tagName === "SELECT" && !this.#offers(box, text)) return;
    box.value = text;
  }

  #offers(box, text) {
    return [...box.options].some((option) => option.value === text);
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
      for (const [name, values] of Object.entries(JSON.parse(field.dataset.when ?? "{}"))) {
        const other = this.field(name);
        if (other) applies &&= !other.hidden && values.includes(this.read(other));
      }
      field.hidden = !applies;
    }
    for (const group of this.form.querySelectorAll(".fs-group")) {
      group.hidden = ![...group.querySelectorAll(".fs-field")].some((field) => !field.hidden);
    }
  }

  // where inputs are kept: the address first, else this device

  // What the reader typed before this script was there (see theme.js), each with its unit as it was
  // seen, comes before both.
  #typed() {
    const early = globalThis.finstockTyped ?? new WeakSet();
    return this.fields
      .map((field) => Object.values(this.#parts(field)).filter(Boolean))
      .filter((parts) => parts.some((part) => early.has(part)))
      .flat()
      .map((part) => ({ part, text: part.value }));
  }

  #restore() {
    const address = new URLSearchParams(location.search);
    const given = {};
    this.extra = {};
    for (const [key, value] of address) {
      if (!key.startsWith(this.prefix)) continue;
      const name = key.slice(this.prefix.length);
      if (this.field(name)) given[name] = value;
      // Perhaps an input's former name, in an older link: Python knows.
      else if (!name.includes(".") && !FOREIGN.has(name)) this.extra[name] = value;
    }
    const isKept = (name) => this.#key(this.field(name)) !== "";
    const linked = Object.keys(given).some(isKept) || Object.keys(this.extra).length > 0;
    let shown = given;
    if (!this.plays) {
      this.#adoptFormer();
      shown = this.#handed();
      const here = location.pathname + location.search;
      if (linked && !rockets.isOurs(here) && !this.#alike(given, shown)) {
        shown = this.#receiveVisitor(given, shown, here);
      } else if (!linked) shown = { ...shown, ...given };
    }
    for (const [name, text] of Object.entries(shown)) {
      const field = this.field(name);
      if (field && typeof text === "string") this.write(field, text);
    }
    for (const field of this.fields) this.filled.set(field.dataset.name, this.read(field));
    // One's own address may be older than the rocket.
    if (!this.plays && linked && rockets.isOurs(location.pathname + location.search)) {
      this.#writeAddress();
    }
    return this.#changed().length > 0 || Object.keys(this.extra).length > 0;
  }

  // one's rocket: what is given here is there on every page (see rockets.js)

  // A field's name in a rocket; "" is never kept.
  #key(field) {
    return field.dataset.key ?? field.dataset.name;
  }

  // What giving a field says besides, by name in a rocket. Null is what the form shows there, as
  // `shown` tells it, unless the rocket means that anyway.
  #implied(field, shown) {
    return Object.entries(JSON.parse(field.dataset.implies ?? "{}"))
      .map(([other, said]) => [other, said ?? shown(this.field(other))])
      .filter(([other, said]) => said !== this.field(other)?.dataset.unsaid);
  }

  // What the rocket in hand says to this form, by input.
  #handed() {
    const hand = rockets.texts();
    const any = Object.keys(rockets.hand().inputs).length > 0;
    const pairs = this.fields.map((field) => {
      const text = hand[this.#key(field)] ?? hand[field.dataset.else ?? ""];
      // Left open elsewhere, it is here as it usually is.
      const open = text !== undefined && !text.trim() && !field.querySelector(".fs-optional");
      const { box } = this.#parts(field);
      const here =
        text === undefined || box.tagName !== "SELECT" || this.#offers(box, text.trim());
      const unsaid = any ? field.dataset.unsaid : undefined;
      return [field.dataset.name, open ? undefined : here ? (text ?? unsaid) : unsaid];
    });
    return Object.fromEntries(pairs.filter(([, text]) => text !== undefined));
  }

  #alike(given, shown) {
    if (Object.keys(this.extra).length) return false;
    return this.fields.every((field) => {
      const { name } = field.dataset;
      const usual = this.#default(field);
      return squeezed(given[name] ?? usual) === squeezed(shown[name] ?? usual);
    });
  }

  // A link's inputs come to hand without touching one's own rocket. A link in one of our answers is
  // a variant of the rocket in hand; any other shows the example where it says nothing.
  #receiveVisitor(given, shown, here) {
    const before = rockets.hand();
    const variant = rockets.isVariant(here);
    const again = arrived === here && before.kind === "visit";
    arrived = here;
    const inputs = variant || again ? { ...before.inputs } : {};
    let name = again ? before.name : "";
    for (const field of this.fields) {
      const text = given[field.dataset.name];
      const key = this.#key(field);
      if (text === undefined || !key || field.dataset.bench !== undefined) continue;
      if (key === "name") name = text;
      else inputs[key] = text;
    }
    // What the link means without saying it, as this page shows it.
    const all = variant ? { ...shown, ...given } : given;
    const read = (other) => all[other.dataset.name] ?? this.#default(other);
    for (const [name, text] of Object.entries(given)) {
      const field = this.field(name);
      if (text === undefined || !this.#key(field)) continue;
      for (const [other, said] of this.#implied(field, read)) inputs[other] ??= said;
    }
    rockets.visit({ name, inputs }, variant);
    return all;
  }

  // What this page's form was left with before there were rockets.
  #adoptFormer() {
    const former = rockets.former(this.slug);
    const hand = rockets.texts();
    const changes = Object.entries(former)
      .map(([name, text]) => [this.field(name), text])
      .filter(([field]) => field && this.#key(field) && hand[this.#key(field)] === undefined)
      .map(([field, text]) => ({ key: this.#key(field), text }));
    rockets.give(changes, "what this page kept");
  }

  // Give the rocket what the reader changed since the form was filled, and only that: a field that
  // cannot show what the rocket says must not overwrite it.
  #give() {
    if (this.plays) return;
    const changes = [];
    let what = "";
    for (const field of this.fields) {
      const { name, bench } = field.dataset;
      const text = this.read(field);
      if (text === this.filled.get(name)) continue;
      this.filled.set(name, text);
      const key = this.#key(field);
      if (!key) continue;
      what ||= field.querySelector("label")?.firstChild?.textContent ?? name;
      changes.push({ key, text: text.replace(/\s+/g, " "), bench: bench !== undefined });
      const known = rockets.texts();
      for (const [other, said] of this.#implied(field, (there) => this.read(there))) {
        if (known[other] !== undefined || changes.some((change) => change.key === other)) continue;
        changes.push({ key: other, text: said });
      }
    }
    this.#quietly(() => rockets.give(changes, what));
  }

  // Without following one's own change.
  #quietly(change) {
    this.giving = true;
    try {
      change();
    } finally {
      this.giving = false;
    }
  }

  // The rocket changed elsewhere: by undo, in another tab, or another one is in hand.
  #follow() {
    if (this.plays || this.giving || !this.element.isConnected) return;
    const hand = this.#handed();
    let moved = false;
    for (const field of this.fields) {
      const { name } = field.dataset;
      const before = this.read(field);
      // What the reader is typing at this moment stays.
      if (before !== this.filled.get(name)) continue;
      const text = hand[name] ?? this.#default(field);
      if (squeezed(text) === squeezed(before)) continue;
      this.write(field, text);
      this.filled.set(name, this.read(field));
      moved ||= this.read(field) !== before;
    }
    if (!moved) return;
    this.extra = {};
    this.#applicable();
    this.#writeAddress();
    this.ask();
  }

  #changed() {
    return this.fields
      .map((field) => [field.dataset.name, this.read(field), this.#default(field)])
      .filter(([, text, usual]) => text !== usual)
      .map(([name, text]) => [name, text]);
  }

  #texts() {
    return JSON.stringify(this.inputs());
  }

  #remember(step = true) {
    if (step && this.past.at(-1) !== this.#texts()) {
      this.past.push(this.#texts());
      this.future = [];
    }
    this.#steps();
    this.#give();
    this.#writeAddress();
  }

  #writeAddress() {
    const changed = this.#changed();
    const address = new URL(location.href);
    const names = new Set(this.fields.map((field) => this.prefix + field.dataset.name));
    const kept = [...address.searchParams].filter(([key]) => !names.has(key));
    const pairs = [...kept, ...changed.map(([name, text]) => [this.prefix + name, text])];
    address.search = pairs.map(([key, text]) => `${quoted(key)}=${quoted(text)}`).join("&");
    if (address.href !== location.href) history.replaceState(history.state, "", address.href);
    if (!this.plays) rockets.wrote(address.pathname + address.search);
    this.search = location.search;
  }

  // Undo and redo: over everything typed, dragged or clicked.

  #steps() {
    for (const [action, there] of [["undo", this.past.length > 1], ["redo", this.future.length > 0]]) {
      const button = this.form?.querySelector(`[data-action="${action}"]`);
      if (!button) continue;
      button.hidden = false;
      button.disabled = !there;
    }
  }

  #step(from, to) {
    if (this.past.at(-1) !== this.#texts()) this.#remember(); // typed a moment ago
    if (from === this.past ? from.length < 2 : !from.length) return;
    to.push(from.pop());
    const texts = this.past.at(-1);
    for (const [name, text] of Object.entries(JSON.parse(texts))) {
      const field = this.field(name);
      if (field) this.write(field, text);
    }
    this.#applicable();
    this.#remember(false);
    this.ask();
  }

  // The browser's Back and Forward: the inputs that the address has now.
  travel() {
    if (location.search === this.search) return; // a jump within the page
    const address = new URLSearchParams(location.search);
    for (const field of this.fields) {
      const text = address.get(this.prefix + field.dataset.name);
      this.write(field, text ?? this.#default(field));
    }
    if (this.past.at(-1) === this.#texts()) return;
    this.#applicable();
    this.#remember();
    this.ask();
  }

  // what the handles of the drawing need

  unit(field) {
    return this.#unit(field, this.#parts(field).unit);
  }

  grasp() {
    clearTimeout(this.timer);
    this.asked += 1; // an answer on its way belongs to the fin before
    this.wanted = false;
    this.#stale(true);
  }

  release() {
    this.#applicable();
    this.#remember();
    this.ask();
  }

  nudge() {
    this.later();
  }

  // The verdict alone, as often as it can be had while a hand moves the fin: the next question waits
  // in the worker while the last one is answered, and a newer one takes its place.
  async glance() {
    if (engine.state.state !== "live" || this.element.hasAttribute("data-slow")) return;
    const mine = this.asked;
    try {
      const reply = await engine.ask({ type: "glance", slug: this.slug, inputs: this.inputs() });
      if (reply.type === "dropped" || mine !== this.asked) return;
      this.#errors(reply.result.errors);
      if (reply.result.first) this.#verdict(reply.result);
      else if (reply.result.summary) this.#say(reply.result.summary);
      this.element.dispatchEvent(new CustomEvent("finstock:glance", { detail: reply.result }));
    } catch (error) {
      this.#say(error.message);
    }
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

  // Show the answer that this tab had to the very same question.
  #recall() {
    const question = JSON.stringify([this.slug, this.inputs(), this.extra]);
    const known = answers.get(question);
    if (!known) return;
    for (const [name, html] of Object.entries(known.fragments)) this.#swap(name, html);
    this.#say(known.summary);
    this.standing = question; // what the answer on the page is to
  }

  async ask() {
    clearTimeout(this.timer);
    this.#give(); // what was typed just now, if the question comes from elsewhere
    this.wanted = true;
    this.last = null;
    this.asked += 1;
    const mine = this.asked;
    const question = JSON.stringify([this.slug, this.inputs(), this.extra]);
    this.#stale(this.standing !== question);
    this.#tools(engine.state);
    try {
      const inputs = { ...this.inputs(), ...this.extra, ...this.#address() };
      const reply = await engine.ask({ type: "answer", slug: this.slug, inputs }, (result) => {
        if (mine === this.asked && result.slug === this.slug) this.#verdict(result);
      });
      if (mine !== this.asked || reply.type === "dropped") return;
      if (reply.result?.slug !== this.slug) throw new Error("Another question's answer came.");
      this.wanted = false;
      this.standing = "";
      this.#receive(reply.result);
      if (this.last) {
        this.standing = question;
        if (!this.plays) answers.set(question, reply.result);
      }
    } catch (error) {
      if (mine !== this.asked) return;
      this.wanted = false;
      this.#stale(true);
      this.#putAside();
      this.#say(this.#failure(error.message));
    }
    // A long answer left its progress behind.
    this.#show(engine.state);
  }

  // No answer to these inputs: the one before is folded away, so that nobody takes it for theirs.
  #putAside() {
    this.standing = "";
    const place = this.element.querySelector('[data-fragment="result"]');
    if (!place || place.querySelector(":scope > .fs-aside")) return;
    const aside = document.createElement("details");
    aside.className = "fs-aside";
    const title = document.createElement("summary");
    title.textContent = "The earlier answer, for the earlier inputs";
    aside.append(title, ...place.childNodes);
    const note = document.createElement("p");
    note.className = "fs-aside-note";
    note.textContent = "There is no answer for these inputs.";
    place.append(note, aside);
  }

  #failure(message) {
    const aside = this.element.querySelector('[data-fragment="result"] > .fs-aside');
    return aside ? `${message} The earlier answer is folded away.` : message;
  }

  // The verdict and its numbers, while the rest is still on its way: in the place of the old ones.
  #verdict({ first, summary }) {
    this.standing = "";
    const place = this.element.querySelector('[data-fragment="result"]');
    place?.querySelector(":scope > .fs-aside-note")?.remove();
    const arriving = document.createElement("template");
    arriving.innerHTML = first;
    for (const part of [...arriving.content.children]) {
      const old = place?.querySelector(`:scope > .${part.classList[0]}`);
      part.classList.add("fs-fresh");
      if (old) old.replaceWith(part);
      else place?.querySelector(":scope > .fs-aside")?.before(part);
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
    // A picture under the finger stays; letting go brings the next one.
    if (!place || (name === "drawing" && this.handles.dragging)) return;
    const title = (details) => details.querySelector("summary")?.textContent;
    const open = new Set([...place.querySelectorAll("details[open]")].map(title));
    place.innerHTML = html;
    for (const details of place.querySelectorAll("details")) {
      if (open.has(title(details))) details.open = true;
    }
    if (name === "drawing") this.handles.place();
    if (name === "result") this.swing.place();
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
      const wait = { start: "Loading", download: "Loading", python: "Starting", calc: "Starting" };
      if (this.wanted) this.#say(`${wait[stage] ?? "Loading"} the calculator…`);
      if (stage === "download" && total) {
        // nobody has asked yet: the count says itself what it counts
        const word = this.status?.textContent ? "" : "Loading ";
        this.bytes.textContent = `${word}${megabytes(loaded)} of ${megabytes(total)} MB`;
      }
      if (this.bar) {
        if (stage === "download" && total) this.bar.value = (100 * loaded) / total;
        else this.bar.removeAttribute("value");
      }
    } else if (state.state === "busy") {
      if (this.wanted) {
        if (this.bar && state.total) this.bar.value = (100 * state.done) / state.total;
        this.bytes.textContent = state.note || `${state.done} of ${state.total}`;
      }
    } else if (state.state === "failed") {
      this.#say(this.#failure(state.message));
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

  // buttons and fields

  #wire() {
    const { form, element } = this;
    form?.addEventListener("submit", (event) => {
      event.preventDefault();
      this.#remember();
      this.ask();
    });
    element.addEventListener("focusin", () => {
      engine.start();
      requestAnimationFrame(() => this.#uncover());
    });
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
    element.addEventListener("keydown", (event) => {
      const key = event.key.toLowerCase();
      if (!(event.ctrlKey || event.metaKey) || event.altKey || !"yz".includes(key)) return;
      // In a box that is being typed in, the browser's own undo goes first.
      const typing = event.target.closest?.("input[type=text]");
      if (typing && this.past.at(-1) !== this.#texts()) return;
      event.preventDefault();
      this.act(key === "y" || event.shiftKey ? "redo" : "undo", null);
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
      undo: () => this.#step(this.past, this.future),
      redo: () => this.#step(this.future, this.past),
      set: () => {
        for (const { name, value } of button.attributes) {
          const field = name.startsWith("data-set-") && this.field(name.slice(9));
          if (field) this.write(field, value);
        }
        this.#applicable();
        history.pushState(history.state, "", location.href); // Back undoes it
        this.#remember();
        this.ask();
      },
      sort: () => sortTable(button),
      print: () => handout(this.element),
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
    if (!this.plays) this.#quietly(() => rockets.example());
    for (const field of this.fields) this.filled.set(field.dataset.name, this.read(field));
    this.#writeAddress();
    this.#errors({});
    for (const [name, html] of this.built) this.#swap(name, html);
    this.standing = "";
    this.last = null;
    this.#stale(false);
    this.#say("Back to the example.");
    this.#tools(engine.state);
    // One's own prices are no part of the example.
    this.#follow();
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
    if (!this.last) {
      if (!this.wanted && this.form.querySelector("[aria-invalid]")) {
        this.#say("Correct the marked inputs first, then download.");
      }
      return;
    }
    const { json, csv } = this.last;
    const content = kind === "csv" ? csv : `${JSON.stringify(json, null, 1)}\n`;
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
  bar.place(engine);
  shelf.place(engine);
  tone.place(engine);
  outline.place(engine);
  const idle = globalThis.requestIdleCallback ?? ((run) => setTimeout(run, 1500));
  // Readers who save data start Python themselves, by touching a calculator.
  if (elements.length && !(/** @type {any} */ (navigator).connection?.saveData)) {
    // Starting keeps all of a small machine busy: first the page is to be at rest.
    const begin = () => setTimeout(() => idle(() => engine.start(), { timeout: 3000 }), REST);
    if (document.readyState === "complete") begin();
    else addEventListener("load", begin, { once: true });
  }
}

// A calculator's own button prints it alone; the browser's prints its chapter too.
function handout(element) {
  const root = document.documentElement;
  root.dataset.print = "handout";
  element.dataset.handout = "";
  const over = () => {
    delete root.dataset.print;
    delete element.dataset.handout;
  };
  addEventListener("afterprint", over, { once: true });
  window.print();
}

addEventListener("pagehide", () => {
  for (const calculator of calculators) calculator.leave();
});

// A print says what it is of, and when it was made: a club files it.
addEventListener("beforeprint", () => {
  for (const { element } of calculators) {
    const caption = element.querySelector(":scope > .fs-caption") ?? document.createElement("p");
    caption.className = "fs-caption";
    caption.textContent = [title(rockets.hand()), new Date().toISOString().slice(0, 10), document.title, location.href].join(" · ");
    element.prepend(caption);
  }
});

// A link in an answer leads to a variant of the rocket in hand.
function follows({ target }) {
  const link = target.closest?.(".fs-calc:not([data-slug=compare]) a[href]");
  if (link?.search && link.host === location.host) rockets.leads(link.pathname + link.search);
}
addEventListener("click", follows, { capture: true });

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
  for (const calculator of calculators) calculator.travel();
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
