// Signatures drawn with a finger or a pen: sent as a picture when the form is, and named by it.

const part = (root, name) => root.querySelector(`[data-part="${name}"]`);

function wire(box) {
  const form = box.closest("form");
  const canvas = part(box, "ink");
  const pen = canvas.getContext("2d");
  const hash = box.querySelector("[data-hash]");
  const glass = box.querySelector("[data-glass]");
  const paper = box.querySelector("[data-paper]");
  let drawn = false;

  const state = (text) => { part(box, "ink-state").textContent = text; };
  const says = (text) => { part(box, "ink-says").textContent = text; };
  const unsent = () => { // what was sent before is not what stands there now
    hash.removeAttribute("name");
    glass?.removeAttribute("name");
  };
  const blank = () => {
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.lineWidth = 4 * canvas.width / 640;
    pen.lineCap = pen.lineJoin = "round";
    pen.strokeStyle = "#14171a";
    drawn = false;
    unsent();
    state("not signed yet");
  };
  const at = (e) => {
    const r = canvas.getBoundingClientRect();
    return [(e.clientX - r.left) * canvas.width / r.width, (e.clientY - r.top) * canvas.height / r.height];
  };
  let down = false;
  canvas.addEventListener("pointerdown", (e) => {
    down = true;
    canvas.setPointerCapture(e.pointerId);
    pen.beginPath();
    pen.moveTo(...at(e));
    e.preventDefault();
  });
  canvas.addEventListener("pointermove", (e) => {
    if (!down) return;
    pen.lineTo(...at(e));
    pen.stroke();
    drawn = true;
    unsent();
    if (paper) paper.checked = false; // the last way chosen is the one that counts
    state("signed");
    says("");
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => { down = false; });
  part(box, "wipe").addEventListener("click", blank);
  paper?.addEventListener("change", () => {
    if (paper.checked) unsent();
    state(paper.checked ? "signed on paper" : drawn ? "signed" : "not signed yet");
    says("");
  });
  blank();
  if (paper?.checked) state("signed on paper"); // a page come back to keeps its ticks

  async function sendDrawn(button) {
    state("sending the signature…");
    const picture = await new Promise((done) => canvas.toBlob(done, "image/png"));
    let answer, said;
    try {
      answer = await fetch("/photos", { method: "POST", body: picture, headers: { "Content-Type": "image/png", Accept: "application/json" }, signal: AbortSignal.timeout(60000) });
      said = await answer.json();
    } catch { answer = null; }
    if (!answer?.ok) {
      state("signed, not sent");
      says(answer && said?.title ? [said.title, said.remedy].filter(Boolean).join(" ")
        : "No answer came: nothing was recorded, and the signature stays on this page. Press the button once more.");
      return;
    }
    hash.name = "photos.0";
    hash.value = said.hash;
    if (glass) glass.name = glass.dataset.glass;
    state("signed");
    form.requestSubmit(button);
  }

  form.addEventListener("submit", (e) => {
    const onPaper = paper?.checked;
    if (onPaper || hash.name) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    if (drawn) {
      sendDrawn(e.submitter);
      return;
    }
    says(box.dataset.ink);
    part(box, "ink-says").scrollIntoView({ block: "center" });
  }, true);
}

document.querySelectorAll("[data-ink]").forEach(wire);
