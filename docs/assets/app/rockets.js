// The reader's rockets, kept on this device, and the one in hand: what is given once on any page is
// there on every page.
//
// In hand is one of three: the handbook's example, as long as nothing was given; a rocket of one's
// own; or a visitor, a rocket that a link brought, which never changes one's own unless asked.
// What a rocket's names mean is settled in Python (calc/rocket.py); here they are only names.

/**
 * @typedef {{name: string, inputs: Record<string, string>, [other: string]: any}} Rocket
 * @typedef {{key: string, text: string | null, bench?: boolean}} Change
 * @typedef {{kind: "example" | "mine" | "visit", id: string | null, name: string, variant: boolean,
 *            inputs: Record<string, string>, given: number}} Hand
 */

const SHELF = "finstock:shelf"; // the order of the rockets, and which one is in hand
const ONE = "finstock:rocket-";
const BENCH = "finstock:bench"; // own prices and the like, for all rockets
const BIN = "finstock:bin"; // rockets deleted last
const VISIT = "finstock:visit"; // of this tab only, like those below
const STEPS = "finstock:steps";
const OURS = "finstock:ours"; // addresses that this tab wrote itself
const LEADS = "finstock:leads"; // where a link in an answer leads
const NAME = "name";
const USUAL = "My rocket";
const LONGEST = 60; // characters of a name
const MOST_STEPS = 60;
const MOST_OURS = 200;
const MOST_DELETED = 20;
const ONE_STEP = 2500; // ms in which typing in one field is one step
const OF_THIS_TAB = new Set([VISIT, STEPS, OURS, LEADS]);

// What a full storage could not take: good until the page is left.
/** @type {Map<string, string | null>} */
const unkept = new Map();
let trouble = "";

const area = (/** @type {string} */ key) => (OF_THIS_TAB.has(key) ? sessionStorage : localStorage);

/** @param {string} key @returns {string | null} */
function get(key) {
  if (unkept.has(key)) return unkept.get(key) ?? null;
  try {
    return area(key).getItem(key);
  } catch {
    return null;
  }
}

/** @param {string} key @param {string | null} text */
function set(key, text) {
  const write = () => (text === null ? area(key).removeItem(key) : area(key).setItem(key, text));
  const makeRoom = [() => {}, () => area(STEPS).removeItem(STEPS), () => area(BIN).removeItem(BIN)];
  for (const make of makeRoom) {
    try {
      make();
      write();
      unkept.delete(key);
      if (!unkept.size) trouble = "";
      return;
    } catch {
      // Full, or refused: see below.
    }
  }
  unkept.set(key, text);
  trouble =
    "This browser has no room left: what you change now is lost when you close the page. Save your " +
    "rockets to a file on the shelf.";
}

const STRING = String.raw`"(?:[^"\\]|\\.)*"`;

// Whatever pairs of texts can still be read in a text that was cut off or overwritten in part.
/** @param {string} text @returns {Rocket} */
function salvaged(text) {
  /** @type {Rocket} */
  const rocket = { name: "", inputs: {} };
  for (const [, key, value] of text.matchAll(new RegExp(`(${STRING})\\s*:\\s*(${STRING})`, "g"))) {
    try {
      const name = JSON.parse(key);
      if (name === NAME) rocket.name = JSON.parse(value);
      else rocket.inputs[name] = JSON.parse(value);
    } catch {
      // This one is lost.
    }
  }
  return rocket;
}

const isObject = (/** @type {any} */ value) =>
  Boolean(value) && typeof value === "object" && !Array.isArray(value);

/** @param {any} found @returns {Record<string, string>} */
const texts = (found) =>
  Object.fromEntries(
    Object.entries(isObject(found) ? found : {}).filter(([, text]) => typeof text === "string"),
  );

/** @param {string | null} text @returns {Rocket | null} */
function parsed(text) {
  if (text === null) return null;
  try {
    const found = JSON.parse(text);
    if (!isObject(found)) return { name: "", inputs: {} };
    const name = typeof found.name === "string" ? found.name : "";
    return { ...found, name, inputs: texts(found.inputs) };
  } catch {
    return salvaged(text);
  }
}

/** @param {string | null} text @returns {any} */
function json(text) {
  try {
    return JSON.parse(text ?? "null");
  } catch {
    return null;
  }
}

function ids() {
  const found = new Set();
  const note = (/** @type {string} */ key) => key.startsWith(ONE) && found.add(key.slice(ONE.length));
  try {
    Object.keys(localStorage).forEach(note);
  } catch {
    // Then there are only those of this page.
  }
  for (const [key, text] of unkept) {
    if (text === null) found.delete(key.slice(ONE.length));
    else note(key);
  }
  return [...found].sort();
}

// The order may be lost or out of date; the rockets themselves say which there are.
function shelf() {
  const found = json(get(SHELF));
  const there = ids();
  const kept = Array.isArray(found?.order) ? found.order.filter((/** @type {any} */ id) => there.includes(id)) : [];
  const order = [...new Set([...kept, ...there])];
  return { order, current: order.includes(found?.current) ? found.current : null };
}

/** @param {{order: string[], current: string | null}} next */
const keepShelf = (next) => set(SHELF, JSON.stringify(next));

// Letters only, so that a key looks like every other.
const fresh = () =>
  [...crypto.getRandomValues(new Uint8Array(10))].map((n) => String.fromCharCode(97 + (n % 26))).join("");

/** @param {string} wanted @returns {string} */
function free(wanted) {
  const base = (wanted.toWellFormed?.() ?? wanted).trim().slice(0, LONGEST) || USUAL;
  const taken = new Set(ids().map((id) => parsed(get(ONE + id))?.name));
  let name = base;
  for (let n = 2; taken.has(name); n += 1) name = `${base.slice(0, LONGEST - 4)} ${n}`;
  return name;
}

// Steps: what each change was before and after, so that it can be taken back.

/** @typedef {{what: string, mark: string, when: number, changes: [string, string | null, string | null][]}} Step */

/** @returns {{done: Step[], undone: Step[]}} */
function steps() {
  const found = json(get(STEPS));
  return Array.isArray(found?.done) && Array.isArray(found?.undone) ? found : { done: [], undone: [] };
}

/** @type {Set<() => void>} */
const listeners = new Set();
const tell = () => listeners.forEach((listener) => listener());

/**
 * Make a change that can be undone.
 * @param {string} what said to the reader @param {() => void} change
 * @param {string} mark changes with the same mark, soon after each other, are one step
 */
function step(what, change, mark = "") {
  const keys = () => [SHELF, BENCH, VISIT, BIN, ...ids().map((id) => ONE + id)];
  /** @type {Map<string, string | null>} */
  const before = new Map(keys().map((key) => [key, get(key)]));
  change();
  for (const key of keys()) if (!before.has(key)) before.set(key, null);
  /** @type {Step["changes"]} */
  const changes = [];
  for (const [key, text] of before) if (get(key) !== text) changes.push([key, text, get(key)]);
  if (!changes.length) return;
  const { done } = steps();
  const last = done.at(-1);
  const now = Date.now();
  if (mark && last?.mark === mark && now - last.when < ONE_STEP) {
    const first = new Map(last.changes.map((each) => [each[0], each[1]]));
    const merged = new Map(last.changes.map((each) => [each[0], each]));
    for (const [key, was, is] of changes) merged.set(key, [key, first.has(key) ? first.get(key) ?? null : was, is]);
    last.changes = [...merged.values()];
    last.when = now;
  } else done.push({ what, mark, when: now, changes });
  set(STEPS, JSON.stringify({ done: done.slice(-MOST_STEPS), undone: [] }));
  tell();
}

// A rocket that changed since, perhaps in another tab: only what the step changed is taken back.
/** @param {string | null} now @param {string | null} from @param {string | null} to */
function turned(now, from, to) {
  const [here, was, then] = [parsed(now), parsed(from), parsed(to)];
  if (!here || !was || !then) return to;
  for (const key of new Set([...Object.keys(was.inputs), ...Object.keys(then.inputs)])) {
    if (was.inputs[key] === then.inputs[key]) continue;
    if (then.inputs[key] === undefined) delete here.inputs[key];
    else here.inputs[key] = then.inputs[key];
  }
  if (was.name !== then.name) here.name = then.name;
  return JSON.stringify(here);
}

/** @param {"done" | "undone"} from @param {"done" | "undone"} to */
function travel(from, to) {
  const all = steps();
  const last = all[from].pop();
  if (!last) return "";
  for (const [key, before, after] of last.changes) {
    const [here, there] = from === "done" ? [after, before] : [before, after];
    const now = get(key);
    set(key, now === here || key === SHELF || key === BIN ? there : turned(now, here, there));
  }
  last.mark = "";
  all[to].push(last);
  set(STEPS, JSON.stringify(all));
  tell();
  return last.what;
}

/** @param {Rocket} rocket @param {Change[]} changes */
function changed(rocket, changes) {
  const out = { ...rocket, inputs: { ...rocket.inputs } };
  for (const { key, text, bench } of changes) {
    if (bench) continue;
    if (key === NAME) out.name = (text ?? "").slice(0, LONGEST);
    else if (text === null) delete out.inputs[key];
    else out.inputs[key] = text;
  }
  return out;
}

/** A visitor as a rocket of one's own. @param {Rocket | null} visitor @returns {Rocket} */
function settled(visitor) {
  /** @type {Rocket} */
  const rocket = { name: "", inputs: {}, ...visitor };
  delete rocket.variant;
  return rocket;
}

/** @param {Rocket} rocket @param {boolean} [taken] whether it comes to hand */
function add(rocket, taken = true) {
  const id = fresh();
  const { order, current } = shelf();
  set(ONE + id, JSON.stringify({ ...rocket, name: free(rocket.name) }));
  keepShelf({ order: [...order, id], current: taken ? id : current });
  return id;
}

export const rockets = {
  /** @param {() => void} listener */
  listen(listener) {
    listeners.add(listener);
    return () => listeners.delete(listener);
  },

  get trouble() {
    if (/** @type {any} */ (globalThis).finstockForgets) {
      return "This window keeps nothing: what you change is lost when you close the page.";
    }
    return trouble;
  },

  /** @returns {Hand} */
  hand() {
    const visitor = parsed(get(VISIT));
    const { current } = shelf();
    const own = current ? parsed(get(ONE + current)) : null;
    const rocket = visitor ?? own ?? { name: "", inputs: {} };
    return {
      kind: visitor ? "visit" : own ? "mine" : "example",
      id: current,
      name: rocket.name,
      variant: Boolean(visitor?.variant),
      inputs: rocket.inputs,
      given: Object.keys(rocket.inputs).length,
    };
  },

  /** One's own rocket, also while a visitor is in hand. @returns {Rocket | null} */
  own() {
    const { current } = shelf();
    return current ? parsed(get(ONE + current)) : null;
  },

  bench: () => texts(parsed(get(BENCH))?.inputs),

  /** All that is in hand, by name: inputs, prices and the rocket's own name. */
  texts() {
    const { name, inputs } = this.hand();
    return { ...this.bench(), ...inputs, ...(name ? { [NAME]: name } : {}) };
  },

  /**
   * Give values to the rocket in hand; without one, they begin one.
   * @param {Change[]} changes @param {string} what said to the reader
   */
  give(changes, what) {
    if (!changes.length) return;
    const mark = changes.map(({ key }) => key).join(" ");
    step(
      what,
      () => {
        const dear = changes.filter(({ bench }) => bench);
        if (dear.length) {
          const kept = { name: "", inputs: this.bench() };
          const next = changed(kept, dear.map((each) => ({ ...each, bench: false })));
          set(BENCH, JSON.stringify({ inputs: next.inputs }));
        }
        if (dear.length === changes.length) return;
        const { current } = shelf();
        const visitor = parsed(get(VISIT));
        const own = current ? parsed(get(ONE + current)) : null;
        if (visitor && own) set(VISIT, JSON.stringify(changed(visitor, changes)));
        else if (own) set(ONE + current, JSON.stringify(changed(own, changes)));
        else {
          add(changed(settled(visitor), changes));
          set(VISIT, null);
        }
      },
      mark,
    );
  },

  /** Put the example in hand; one's own rocket stays on the shelf. */
  example() {
    step("back to the example", () => {
      set(VISIT, null);
      keepShelf({ ...shelf(), current: null });
    });
  },

  // Visitors

  /** @param {Rocket} rocket @param {boolean} variant whether it began as the rocket in hand */
  visit(rocket, variant) {
    set(VISIT, JSON.stringify({ ...rocket, variant }));
    tell();
  },
  leave() {
    step("back to your rocket", () => set(VISIT, null));
  },
  /** Keep the visitor as a rocket of one's own, beside those there are. */
  keepVisitor() {
    step("keeping the linked rocket", () => {
      add(settled(parsed(get(VISIT))));
      set(VISIT, null);
    });
  },
  /** Put what the visitor gives into one's own rocket. */
  takeVisitor() {
    step("taking the link's values", () => {
      const { current } = shelf();
      const own = parsed(current && get(ONE + current));
      const visitor = parsed(get(VISIT));
      if (!own || !visitor) return;
      set(ONE + current, JSON.stringify({ ...own, inputs: { ...own.inputs, ...visitor.inputs } }));
      set(VISIT, null);
    });
  },

  // Addresses that this tab wrote are its own, whatever the rocket has become since.

  /** @param {string} address */
  wrote(address) {
    const known = json(get(OURS));
    const list = (Array.isArray(known) ? known : []).filter((each) => each !== address);
    set(OURS, JSON.stringify([...list, address].slice(-MOST_OURS)));
  },
  /** @param {string} address */
  isOurs(address) {
    const known = json(get(OURS));
    return Array.isArray(known) && known.includes(address);
  },

  /** A link in an answer was followed. @param {string} address */
  leads: (address) => set(LEADS, address),
  /** @param {string} address */
  isVariant: (address) => get(LEADS) === address,

  // The shelf

  /** @returns {(Rocket & {id: string, inHand: boolean})[]} */
  all() {
    const { order, current } = shelf();
    return order.map((id) => ({
      ...(parsed(get(ONE + id)) ?? { name: "", inputs: {} }),
      id,
      inHand: id === current,
    }));
  },
  /** @param {string} id */
  choose(id) {
    step("taking another rocket", () => {
      set(VISIT, null);
      keepShelf({ ...shelf(), current: id });
    });
  },
  /** @param {string} id @param {string} name */
  rename(id, name) {
    step("the name", () => {
      const rocket = parsed(get(ONE + id));
      if (rocket && rocket.name !== name) set(ONE + id, JSON.stringify({ ...rocket, name: free(name) }));
    });
  },
  /** @param {string} id */
  duplicate(id) {
    step("the copy", () => {
      const rocket = parsed(get(ONE + id));
      if (rocket) add(rocket, false);
    });
  },
  /** @param {string} id */
  remove(id) {
    step("the deletion", () => {
      const { order, current } = shelf();
      const found = json(get(BIN));
      const rocket = parsed(get(ONE + id));
      set(BIN, JSON.stringify([...(Array.isArray(found) ? found : []), rocket].slice(-MOST_DELETED)));
      set(ONE + id, null);
      keepShelf({
        order: order.filter((each) => each !== id),
        current: current === id ? null : current,
      });
    });
  },
  /** @param {string} id @param {number} by places */
  move(id, by) {
    step("the order", () => {
      const { order, current } = shelf();
      const to = Math.max(0, Math.min(order.length - 1, order.indexOf(id) + by));
      const others = order.filter((each) => each !== id);
      keepShelf({ order: [...others.slice(0, to), id, ...others.slice(to)], current });
    });
  },
  /** Put rockets of a file on the shelf. @param {Rocket[]} found @param {Record<string, string>} prices */
  bring(found, prices = {}) {
    step("what the file brought", () => {
      for (const rocket of found) add(rocket, false);
      if (Object.keys(prices).length) {
        set(BENCH, JSON.stringify({ inputs: { ...prices, ...this.bench() } }));
      }
    });
  },

  // Undo

  get undoes() {
    return steps().done.at(-1)?.what ?? "";
  },
  get redoes() {
    return steps().undone.at(-1)?.what ?? "";
  },
  undo: () => travel("done", "undone"),
  redo: () => travel("undone", "done"),

  /** What a form was left with before there were rockets; taken out for good. @param {string} slug */
  former(slug) {
    const key = `finstock:${slug}`;
    const found = texts(json(get(key)));
    if (get(key) !== null) set(key, null);
    return found;
  },
};

addEventListener("storage", ({ key }) => {
  if (key === null || key.startsWith("finstock:")) tell();
});
// A page that comes back as it was left may be out of date.
addEventListener("pageshow", ({ persisted }) => persisted && tell());
