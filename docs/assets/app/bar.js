// The bar that says whose rocket is in hand: the handbook's example, one's own, or one that a link
// brought. Its words and buttons are set here; its picture and verdict come from Python.

import { rockets } from "./rockets.js";

const ROOT = new URL("../../", import.meta.url);
const WHOLE = new URL("rocket/whole/", ROOT).href;
const SHELF = new URL("rocket/", ROOT).href;
const SEEN = "finstock:glance"; // of this tab: the last pictures and verdicts
const MOST_SEEN = 12;
const EXAMPLE = "The handbook’s example";
const QUIET = 1200; // ms without a change before the whole rocket is judged

/** @typedef {{picture: string, problem: string, state?: string, mark?: string, word?: string,
 *             margin?: string}} Glance */

/** @returns {[string, Glance][]} */
function seen() {
  try {
    const found = JSON.parse(sessionStorage.getItem(SEEN) ?? "[]");
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}

/** @param {string} key @param {Glance} glance */
function remember(key, glance) {
  try {
    const others = seen().filter(([each]) => each !== key);
    sessionStorage.setItem(SEEN, JSON.stringify([...others, [key, glance]].slice(-MOST_SEEN)));
  } catch {
    // Then it is asked again.
  }
}

/** @param {string} tag @param {string} name @param {string} [text] */
export function element(tag, name, text) {
  const made = document.createElement(tag);
  if (name) made.className = name;
  if (text !== undefined) made.textContent = text;
  return made;
}

/** @param {string} label @param {() => void} act @param {string} [more] said to screen readers */
export function button(label, act, more) {
  const made = /** @type {HTMLButtonElement} */ (element("button", "fs-button", label));
  made.type = "button";
  if (more) made.setAttribute("aria-label", more);
  made.addEventListener("click", act);
  return made;
}

/** What Python says of a rocket at a glance, from this tab's memory where it was asked before. */
/** @param {any} engine @param {Record<string, string>} inputs @returns {Promise<Glance | null>} */
export async function glance(engine, inputs) {
  const key = JSON.stringify(Object.entries(inputs).sort());
  const known = seen().find(([each]) => each === key);
  if (known) return known[1];
  const reply = await engine.ask({ type: "portrait", slug: "rocket", name: key, inputs });
  if (reply.type === "dropped") return null;
  remember(key, reply.result);
  return reply.result;
}

/** @param {Record<string, string>} inputs @returns {Glance | undefined} */
const known = (inputs) => {
  const key = JSON.stringify(Object.entries(inputs).sort());
  return seen().find(([each]) => each === key)?.[1];
};

/** @param {Glance} glance */
export function verdict(glance) {
  const chip = element("span", `fs-chip fs-state-${glance.state ?? "unknown"}`);
  const mark = element("span", "fs-mark", glance.mark ?? "?");
  mark.setAttribute("aria-hidden", "true");
  chip.append(mark, glance.word ? `${glance.word} ${glance.margin}`.trim() : "Cannot be judged");
  if (glance.problem) chip.title = glance.problem;
  return chip;
}

// A page that asks about a changed rocket gives its own verdict; the bar's is of the one before.
const BEFORE = [
  ["repair", "Undamaged"],
  ["substitute", "As planned"],
];
const before = () => BEFORE.find(([slug]) => document.querySelector(`.fs-calc[data-slug="${slug}"]`))?.[1];

// A link that gives a single value shows the example with one change, nobody's rocket.
/** @param {import("./rockets.js").Hand} hand */
const oneChange = (hand) =>
  hand.kind === "visit" && !hand.variant && !hand.name &&
  Object.keys(hand.inputs).filter((name) => name !== "units").length === 1;

/** @param {import("./rockets.js").Hand} hand */
export const title = (hand) =>
  hand.name || (oneChange(hand) ? EXAMPLE : { example: EXAMPLE, mine: "My rocket", visit: "A linked rocket" }[hand.kind]);

let engine = null;
let timer = 0;
let said = "";

/** @param {Element} place */
function draw(place) {
  const hand = rockets.hand();
  const own = rockets.own();
  place.setAttribute("data-hand", hand.kind);
  const found = known(rockets.texts());
  const picture = element("span", "fs-rocket-picture");
  picture.innerHTML = found?.picture ?? ""; // drawn by Python
  const words = element("p", "fs-rocket-words");
  const name = element("b", "", title(hand));
  const note = oneChange(hand) ? "with one change from a link, not kept" : {
    example: rockets.all().length ? "Yours are on the shelf." : "What you change becomes your rocket.",
    mine: `yours, ${hand.given} value${hand.given === 1 ? "" : "s"} given; the rest is the example’s`,
    visit: hand.variant ? `a variant${own ? ` of ${own.name}` : ""}, not kept` : "not yours, not kept",
  }[hand.kind];
  // The example's note is a sentence of its own.
  words.append(name, hand.kind === "example" && !oneChange(hand) ? ". " : " ", element("span", "fs-rocket-note", note));
  const line = element("span", "fs-rocket-said", said || rockets.trouble);
  line.setAttribute("role", "status");
  words.append(line);
  const actions = element("span", "fs-rocket-actions");
  const link = /** @type {HTMLAnchorElement} */ (element("a", "fs-rocket-verdict"));
  link.href = WHOLE;
  if (found) {
    const when = before();
    if (when) link.append(element("span", "fs-rocket-note", `${when}:\u00a0`));
    link.append(verdict(found), element("span", "fs-sr", ": the whole rocket"));
  } else link.append("The whole rocket");
  if (hand.kind !== "example" || found) actions.append(link);
  if (hand.kind === "visit") {
    if (own) {
      actions.append(
        button("Take as mine", () => rockets.takeVisitor(), `Take as mine: put its values into ${own.name}`),
        button("Keep as another", () => rockets.keepVisitor()),
        button("Back to mine", () => rockets.leave()),
      );
    } else {
      actions.append(
        button("Keep it", () => rockets.keepVisitor()),
        button("Back to the example", () => rockets.example()),
      );
    }
  }
  if (rockets.undoes) {
    actions.append(button("Undo", () => speak("Undone", rockets.undo()), `Undo ${rockets.undoes}`));
  }
  if (rockets.redoes) {
    actions.append(button("Redo", () => speak("Done again", rockets.redo()), `Redo ${rockets.redoes}`));
  }
  const shelf = /** @type {HTMLAnchorElement} */ (element("a", "", "Shelf"));
  shelf.href = SHELF;
  actions.append(shelf);
  // A button that is drawn anew keeps the keyboard's place.
  const focused = place.contains(document.activeElement) ? document.activeElement?.textContent : null;
  place.replaceChildren(picture, words, actions);
  if (focused) {
    const again = [...place.querySelectorAll("button, a")].find((each) => each.textContent === focused);
    /** @type {HTMLElement | undefined} */ (again)?.focus();
  }
}

/** @param {string} word @param {string} what */
function speak(word, what) {
  said = what ? `${word}: ${what}.` : "";
  refresh();
  setTimeout(() => {
    said = "";
    refresh();
  }, 6000);
}

// On pages without the bar the header names the rocket in hand, where there is one.
function tag() {
  const header = document.querySelector(".md-header__inner");
  let link = /** @type {HTMLAnchorElement | null} */ (document.querySelector(".fs-rocket-tag"));
  const hand = rockets.hand();
  if (!header || hand.kind === "example" || document.querySelector(".fs-rocket")) {
    link?.remove();
    return;
  }
  if (!link) {
    link = /** @type {HTMLAnchorElement} */ (element("a", "fs-rocket-tag"));
    header.querySelector(".md-header__title")?.after(link);
  }
  link.href = WHOLE;
  const name = title(hand);
  const found = known(rockets.texts());
  const mark = element("span", `fs-mark fs-state-${found?.state ?? "unknown"}`, found?.mark ?? "");
  mark.setAttribute("aria-hidden", "true");
  link.setAttribute("aria-label", `${name}${found?.word ? `, ${found.word}` : ""}: the rocket you are working on`);
  link.replaceChildren(...(found?.mark ? [mark] : []), element("span", "", name));
}

function refresh() {
  document.querySelectorAll(".fs-rocket").forEach(draw);
  tag();
}

// The whole rocket is judged when nobody waits for anything else.
function judge() {
  clearTimeout(timer);
  timer = setTimeout(async () => {
    if (!document.querySelector(".fs-rocket") || engine?.state.state !== "live") return;
    if (document.querySelector(".fs-calc [aria-busy]")) return judge();
    const inputs = rockets.texts();
    if (known(inputs)) return;
    try {
      if (await glance(engine, inputs)) refresh();
    } catch {
      // The page's own calculator says what is wrong.
    }
  }, QUIET);
}

export const bar = {
  /** @param {any} running the page's engine */
  place(running) {
    if (!engine) {
      engine = running;
      rockets.listen(() => {
        said = "";
        refresh();
        judge();
      });
      engine.listen(({ state }) => state === "live" && judge());
    }
    refresh();
    judge();
  },
};
