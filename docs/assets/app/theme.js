// Starts the calculators' script and the theme's (search, navigation, switch for dark) once the page
// has been painted: the words and the built answer need neither.

const { script, app } = document.currentScript.dataset;
const address = new URL(app, document.baseURI).href;
let answering = null;
let begun = false;

// What is typed meanwhile is for that script to find.
globalThis.finstockTyped ??= new WeakSet();
addEventListener("input", ({ target }) => globalThis.finstockTyped.add(target), { capture: true });

function say(sentence) {
  for (const status of document.querySelectorAll(".fs-calc .fs-status")) {
    status.textContent = sentence;
  }
}

function load() {
  if (location.protocol === "file:") {
    say("Calculators need a web server: run ./scripts/serve, or open the handbook at its address.");
    return Promise.resolve();
  }
  return import(address).catch((error) => {
    console.error(error);
    say(
      "The calculator could not be loaded. Connect to the network and reload the page; if that " +
        "does not help, close all pages of the handbook and open it once more.",
    );
  });
}

function answer() {
  answering ??= load();
  return answering;
}

function begin() {
  if (begun) return;
  begun = true;
  // Afterwards, because the calculators' script keeps some of the reader's moves from the theme.
  answer().then(() => {
    // They have done their work; the theme makes every address absolute, which would fetch them anew.
    for (const link of document.querySelectorAll("link[rel=preload]")) link.remove();
    const theme = document.createElement("script");
    theme.src = script;
    theme.addEventListener("load", () => dispatchEvent(new Event("finstock:theme")));
    document.head.append(theme);
  });
}

// Once something stands on the screen, the theme when there is nothing else to do; or at the reader's
// first move. A page in the background paints nothing, hence the clock. Where an answer is on its way already, it
// comes first: the theme reads its search index, which would keep a small machine's second core busy.
const idle = globalThis.requestIdleCallback ?? setTimeout;
if (globalThis.finstockEarly) {
  answer();
  addEventListener("finstock:answer", () => idle(begin), { once: true });
  setTimeout(begin, 5000);
} else {
  new PerformanceObserver(() => {
    answer();
    idle(begin);
  }).observe({ type: "paint", buffered: true });
  setTimeout(begin, 2000);
}
for (const kind of ["pointerdown", "keydown", "input"]) {
  addEventListener(kind, begin, { once: true, capture: true, passive: true });
}
