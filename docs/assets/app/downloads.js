// Files that Python makes when asked: full-size drawings, pages to print, outlines to cut.
//
// A button in a result: <button data-action="download" data-make="svg" data-filename="…">.
// The worker makes the file; nothing leaves the device.

export async function download(engine, calculator, button) {
  const say = (sentence) => {
    if (calculator.status) calculator.status.textContent = sentence;
  };
  const { make, filename } = button.dataset;
  button.disabled = true;
  say(`Making ${filename}…`);
  try {
    const reply = await engine.ask({
      type: "download",
      slug: calculator.slug,
      name: make, // two different files asked for at once do not push each other out
      make,
      inputs: calculator.inputs(),
    });
    if (reply.type === "dropped") return;
    const { errors, mime, text, base64, filename: named } = reply.result;
    const wrong = Object.values(errors ?? {})[0];
    if (wrong) {
      say(wrong);
      return;
    }
    const content = text ?? Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([content], { type: mime }));
    link.download = named;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    say(`${named} is ready.`);
  } catch (error) {
    say(error.message);
  } finally {
    button.disabled = false;
  }
}
