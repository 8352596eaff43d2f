// "Listen": the pitch of a tapped strip from this device's microphone, beside the frequency field.
//
// A second or two of sound goes to the worker, where Python finds the tone; it is then forgotten.
// Nothing is stored or sent.

const WAIT = 8; // seconds for a tap to come
const RING = 1.5; // seconds heard after it
const BEFORE = 0.2; // seconds kept from before the tap, to know the quiet
const FIELDS = /^tone_(along|across)$/;
const REASONS = {
  NotAllowedError: "The microphone was refused. Type the frequency instead.",
  SecurityError: "The microphone was refused. Type the frequency instead.",
  NotFoundError: "This device has no microphone. Type the frequency instead.",
  NotReadableError: "Another program is using the microphone. Close it and try again.",
};

const possible = () =>
  Boolean(navigator.mediaDevices?.getUserMedia && (globalThis.AudioContext ?? globalThis.webkitAudioContext));

// Samples from the microphone: from shortly before the first tap to RING seconds after it.
async function listen(hear) {
  const stream = await navigator.mediaDevices.getUserMedia({
    // What makes speech pleasant spoils a tone.
    audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false },
  });
  const context = new (globalThis.AudioContext ?? globalThis.webkitAudioContext)();
  try {
    await context.resume();
    const rate = context.sampleRate;
    const source = context.createMediaStreamSource(stream);
    const node = context.createScriptProcessor(2048, 1, 1);
    const blocks = [];
    let quiet = Infinity;
    let tapped = -1;
    hear("Tap the strip now…");
    await new Promise((resolve) => {
      // Also ends when the device delivers no sound at all.
      const end = setTimeout(resolve, (WAIT + RING) * 1000);
      node.onaudioprocess = ({ inputBuffer }) => {
        const block = inputBuffer.getChannelData(0).slice();
        blocks.push(block);
        const peak = block.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
        const seconds = (blocks.length * block.length) / rate;
        if (tapped < 0 && seconds > 0.3 && peak > Math.max(6 * quiet, 0.01)) {
          tapped = blocks.length;
          hear("Heard it, listening to the tone…");
        }
        if (tapped < 0) quiet = Math.min(quiet, Math.max(peak, 1e-4));
        const since = tapped < 0 ? 0 : ((blocks.length - tapped) * block.length) / rate;
        if (since >= RING || (tapped < 0 && seconds >= WAIT)) {
          clearTimeout(end);
          resolve();
        }
      };
      source.connect(node);
      node.connect(context.destination); // some browsers run the node only then; it plays silence
    });
    node.onaudioprocess = null;
    source.disconnect();
    node.disconnect();
    if (tapped < 0) return { rate, samples: [] };
    const first = Math.max(0, tapped - 1 - Math.ceil((BEFORE * rate) / 2048));
    const kept = blocks.slice(first).flatMap((block) => [...block]);
    return { rate, samples: kept.map((value) => Math.round(32767 * value)) };
  } finally {
    for (const track of stream.getTracks()) track.stop();
    context.close().catch(() => {});
  }
}

function wire(engine, field) {
  const name = field.dataset.name;
  const box = field.querySelector("input");
  // Inside the field's own help, where the form's grid has room for it.
  const help = field.querySelector(".fs-help") ?? field;
  const said = document.createElement("span");
  said.setAttribute("role", "status");
  if (!possible()) {
    said.className = "fs-listen";
    said.textContent = "This browser does not let a page listen here; a tuner shows the tone too.";
    help.append(" ", said);
    return;
  }
  const button = document.createElement("button");
  button.type = "button";
  button.className = "fs-button fs-listen";
  button.textContent = "Listen";
  button.setAttribute("aria-label", "Listen for the tone with the microphone");
  help.append(document.createElement("br"), button, " ", said);
  said.textContent = "Nothing is recorded or sent.";
  button.addEventListener("click", async () => {
    button.disabled = true;
    const hear = (sentence) => {
      said.textContent = sentence;
    };
    hear("Allow the microphone…");
    try {
      const { samples, rate } = await listen(hear);
      if (!samples.length) {
        hear("No tap was heard. Tap closer to the microphone.");
        return;
      }
      hear("Finding the tone…");
      const support = field.closest("form").elements[name.replace("tone", "support")]?.value;
      const reply = await engine.ask({
        type: "tone",
        slug: "sheet-test",
        name,
        samples,
        rate,
        support,
      });
      if (reply.type === "dropped") return;
      const { error, frequency, text, note } = reply.result;
      if (error) {
        hear(`${error[0].toUpperCase()}${error.slice(1)}.`);
        return;
      }
      box.value = String(Number(frequency.toPrecision(4)));
      box.dispatchEvent(new Event("input", { bubbles: true }));
      hear(`Heard ${text}. ${note}`.trim());
    } catch (problem) {
      hear(REASONS[problem.name] ?? `It did not work: ${problem.message}`);
    } finally {
      button.disabled = false;
    }
  });
}

export const tone = {
  place(engine) {
    for (const field of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".fs-field[data-name]"))) {
      if (!FIELDS.test(field.dataset.name) || field.querySelector(".fs-listen")) continue;
      wire(engine, field);
    }
  },
};
